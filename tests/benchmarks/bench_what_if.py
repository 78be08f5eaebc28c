"""How fast what-ifs are: on the server by kind of change, and in Chromium from the answer to the lights.

    uv run python tests/benchmarks/bench_what_if.py [SAMPLE...] [--no-page]

The server is asked over its routes without a network, sculptures remembered; its times are of the processor,
so that whatever else the machine does matters less. `new board` is a cut or a move
never tried before, so that all dough is reduced anew; `known board` changes only what goes in. The page is a
phone of 360 x 740; times are from the answer's last byte to the frame in which the lights have changed.
"""

import argparse
import json
import shutil
import socket
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn
from fastapi.testclient import TestClient
from playwright.sync_api import sync_playwright

from api.app import create_app
from api.pipeline import read_sculpture
from api.schemas import Case
from api.settings import Settings
from circuit.what_if import PullOut, Trials, Turn
from sample_images import sample_path

SAMPLES = ("snail", "owl", "boat", "newt")
ROUNDS = 8
TAPS = 24
WATCH = """() => {
  window.seen = [];
  const real = window.fetch;
  window.fetch = async (...asked) => {
    const answer = await real(...asked);
    if (!String(asked[0]).includes("what-if")) return answer;
    const text = await answer.text();
    const began = performance.now();
    requestAnimationFrame(() => requestAnimationFrame(() => window.seen.push(performance.now() - began)));
    return new Response(text, { status: answer.status, headers: answer.headers });
  };
}"""


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("samples", nargs="*", default=SAMPLES)
    parser.add_argument("--no-page", action="store_true")
    wish = parser.parse_args()
    print(f"{'server, CPU ms (median, worst)':<30}" + "".join(f"{name:>18}" for name in wish.samples))
    columns = [server_ms(name) for name in wish.samples]
    for kind in columns[0]:
        cells = (f"{statistics.median(c[kind]):8.1f} {max(c[kind]):8.1f} " for c in columns)
        print(f"{kind:<30}" + "".join(cells))
    for name in wish.samples:
        print(f"{name}: {in_a_second(name):.0f} what-ifs a second on a known board, one core, sums alone")
    if not wish.no_page:
        seen = page_ms(wish.samples[0])
        print(
            f"page, answer to changed lights: median {statistics.median(seen):.0f} ms, "
            f"worst {max(seen):.0f} ms of {len(seen)}"
        )


def server_ms(name: str) -> dict[str, list[float]]:
    """Milliseconds of each kind of change, asked over the routes."""
    with (
        tempfile.TemporaryDirectory() as folder,
        TestClient(
            create_app(Settings(data_dir=Path(folder))), base_url="http://127.0.0.1", client=("127.0.0.1", 0)
        ) as app,
    ):
        told = app.post(f"/samples/{name}").json()["case"]
        where = f"/inspections/{app.post('/inspections', json=told).json()['id']}/what-if"
        led = told["leds"][0]["id"]
        x, y = told["pack"]["minus"]

        def ask(*changes: dict[str, Any]) -> float:
            began = time.process_time()
            answer = app.post(where, json={"changes": changes})
            assert answer.status_code == 200, answer.text
            return (time.process_time() - began) * 1e3

        found = {"first of a sculpture": [ask()]}
        kinds: dict[str, Callable[[int], dict[str, Any]]] = {
            "turn": lambda _: {"do": "turn", "part": led},
            "pull out": lambda _: {"do": "pull-out", "part": led},
            "cells": lambda n: {"do": "cells", "count": 1 + n % 6},
            "move, new board": lambda n: {"do": "move", "entry": "pack.minus", "to": [x + n, y]},
            "cut, new board": lambda n: {
                "do": "cut",
                "points": [[x - 60 + n, y - 60], [x - 30, y], [x, y - 60]],
            },
        }
        for kind, change in kinds.items():
            found[kind] = [ask(change(n)) for n in range(ROUNDS)]
        cut = kinds["cut, new board"](ROUNDS - 1)
        found["cut, then turn, known board"] = [ask(cut, kinds["turn"](n)) for n in range(ROUNDS)]
        return found


def in_a_second(name: str) -> float:
    """What-ifs on a known board in a second."""
    case = Case.model_validate(json.loads(sample_path(f"{name}.case.json").read_text("utf-8")))
    trials = Trials(read_sculpture(case, sample_path(f"{name}.jpg").read_bytes()))
    led = case.leds[0].id
    trials.what_if()
    began, count = time.process_time(), 0
    while time.process_time() - began < 1.0:
        trials.what_if([Turn(led)] if count % 2 else [PullOut(led)])
        count += 1
    return count / (time.process_time() - began)


@contextmanager
def served() -> Iterator[str]:
    """The address of an app over an empty folder."""
    with tempfile.TemporaryDirectory() as folder, socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        server = uvicorn.Server(
            uvicorn.Config(create_app(Settings(data_dir=Path(folder))), log_level="error", ws="none")
        )
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{door.getsockname()[1]}"
        server.should_exit = True
        thread.join(timeout=10)


def page_ms(name: str) -> list[float]:
    """From answer to changed lights, milliseconds, for LEDs turned on a phone again and again."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    assert chromium is not None, "there is no chromium on the path"
    with served() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])
        page = browser.new_page(viewport={"width": 360, "height": 740}, bypass_csp=True)
        page.set_default_timeout(120_000)
        page.goto(address)
        page.wait_for_selector("html[data-ready]")
        page.evaluate(WATCH)
        page.get_by_role("button", name="Try a sample", exact=True).click()
        page.get_by_role("button", name=name.capitalize()).click()
        page.wait_for_selector("body.on-colours")
        page.get_by_role("button", name="Entries", exact=True).click()
        page.get_by_role("button", name="Find the fault", exact=True).click()
        page.wait_for_selector("body.on-answer")
        page.get_by_role("button", name="What if", exact=True).click()
        page.wait_for_function("() => window.seen.length >= 1")
        for n in range(TAPS):
            page.locator("#words").get_by_role("button", name="Turn", exact=True).click()
            page.wait_for_function("(n) => window.seen.length >= n", arg=n + 2)
        seen: list[float] = page.evaluate("window.seen")
        browser.close()
        return seen[1:]


if __name__ == "__main__":
    main()
