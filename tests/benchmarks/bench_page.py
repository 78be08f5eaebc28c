"""How long a helper waits: `python tests/benchmarks/bench_page.py [--photo PHOTO] [--no-browser]`.

A real server on this machine, asked by HTTP and by Chromium; medians in ms. `cold` is the first of its kind
after a start, `warm` a photo that the server has not seen yet; Chromium is warm. Compare only rows that were
measured while nothing else ran.
"""

import argparse
import base64
import json
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx2
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, Request, sync_playwright
from rich.console import Console
from rich.table import Table

import sample_images

Times = defaultdict[str, list[float]]

TARGETS = {
    "photo goes off to first sentence": "1500",
    "upload and inspect at once, warm": "1500",
    "answer to the tap arrived to outlines drawn": "150",
    "first load of the page (kB)": "150",
}
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
PATIENCE_MS = 60_000
WATCH = """
  const seen = window.seen = {};
  addEventListener("change", (event) => {
    if (event.target.type === "file") Object.assign(seen, { chosen: performance.now(), left: false });
  }, true);
  addEventListener("pointerup", () => (seen.tapped = performance.now()), true);
  const painted = () => { if (seen.left) seen.answered ??= performance.now(); };
  new MutationObserver((all) => {
    const told = /on-(answer|check)/.test(document.body?.className ?? "");
    if (seen.left === false && !told) seen.left = true;
    const stands = told && document.querySelector("#words h1");
    if (seen.left && stands) requestAnimationFrame(() => setTimeout(painted));
    const fresh = all.flatMap((one) => [...one.addedNodes]);
    const outlined = fresh.some((node) => node.matches?.('#picture .core[d*="L"]'));
    if (seen.tapped && outlined) seen.outlined = performance.now();
  }).observe(document, { childList: true, subtree: true, attributes: true, attributeFilter: ["class"] });
"""
"""Notes when a photo was chosen, when the answer to it stands, when dough was tapped and outlines changed."""
SEED = """async ([photo, told]) => {
  const { fromCase } = await import("/static/js/job.js");
  const { keep, keepPhoto } = await import("/static/js/keep.js");
  const { id, width: w, height: h } = photo;
  await keepPhoto({ id, token: id, url: null, w, h, natural: null, file: null, again: null });
  await keep({ job: fromCase(told), wanted: false, screen: "colours", draft: null });
}"""
UNSENT = """async ([base64, told, natural]) => {
  const { fromCase, scaled } = await import("/static/js/job.js");
  const { framed } = await import("/static/js/shrink.js");
  const { keep, keepPhoto } = await import("/static/js/keep.js");
  const bytes = Uint8Array.from(atob(base64), (one) => one.charCodeAt(0));
  const file = new Blob([bytes], { type: "image/jpeg" });
  const { w, h } = framed(natural);
  await keepPhoto({ id: null, token: crypto.randomUUID(), url: null, w, h, natural, file, again: null });
  await keep({ job: scaled(fromCase(told), w / natural.w), wanted: false, screen: "entries", draft: null });
}"""
ENTRY = """(name) => performance.getEntriesByType("resource").filter((one) => new RegExp(name).test(one.name))
  .map((one) => [one.startTime, one.responseEnd]).at(-1)"""


def main() -> None:
    """Measure and print."""
    wish = argparse.ArgumentParser(description=__doc__)
    wish.add_argument("--photo", type=Path, default=sample_images.sample_path("owl.jpg"))
    wish.add_argument("--case", type=Path, help="by default NAME.case.json beside the photo")
    wish.add_argument("--runs", type=int, default=5)
    wish.add_argument("--no-browser", action="store_true")
    told = wish.parse_args()
    case = json.loads((told.case or told.photo.with_suffix(".case.json")).read_text("utf-8"))
    times: Times = defaultdict(list)
    for _ in range(told.runs):
        with serving() as address:
            once(address, told.photo, case, times, "cold")
    with serving() as address:
        once(address, told.photo, case, defaultdict(list), "warm")
        for _ in range(told.runs):
            once(address, told.photo, case, times, "warm")
            unprepared(address, told.photo, case, times)
        if not told.no_browser:
            with chromium() as browser:
                first_load(browser, address, times)
                on_the_page(browser, address, told.photo, case, told.runs, times)
                for _ in range(told.runs):
                    photo_with_all_told(browser, address, told.photo, case, times)
    show(times)


@contextmanager
def serving() -> Iterator[str]:
    """The app as it is started by hand, on a free port, with nothing kept."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
    start = "import sys; from api.commands import main; sys.argv = ['doughsight', *sys.argv[1:]]; main()"
    with tempfile.TemporaryDirectory() as folder:
        told = [sys.executable, "-c", start, "serve", "--port", str(port)]
        environment = {**os.environ, "DOUGHSIGHT_DATA_DIR": folder}
        server = subprocess.Popen(told, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        address = f"http://127.0.0.1:{port}"
        try:
            wait_for(address)
            yield address
        finally:
            server.terminate()
            server.wait(20)


def wait_for(address: str) -> None:
    """Until the server answers, half a minute at most."""
    until = time.monotonic() + 30
    while time.monotonic() < until:
        try:
            httpx2.get(f"{address}/health")
        except httpx2.TransportError:
            time.sleep(0.1)
        else:
            return
    raise TimeoutError("The server did not start within 30 s.")


def timed(times: Times, name: str, ask: Callable[[], httpx2.Response]) -> Any:
    """The JSON that a request answers; its time in ms is noted."""
    began = time.perf_counter()
    answer = ask()
    times[name].append((time.perf_counter() - began) * 1000)
    answer.raise_for_status()
    times[f"{name} (kB)"].append(answer.num_bytes_downloaded / 1000)
    return answer.json()


def uploaded(client: httpx2.Client, photo: Path, times: Times, name: str) -> Any:
    """The kept photo."""
    form = {"photo": photo.read_bytes()}
    return timed(times, name, lambda: client.post("/photos", files=form))


def case_of(kept: Any, photo: Path, case: Any) -> Any:
    """The case in the pixels of the kept photo."""
    with Image.open(photo) as image:
        scale = kept["width"] / image.width
    return {**scaled(case, scale), "photo": kept["id"]}


def scaled(told: Any, by: float) -> Any:
    """Every point [x, y] of a case times a factor."""
    if isinstance(told, dict):
        return {name: scaled(value, by) for name, value in told.items()}
    if not isinstance(told, list):
        return told
    if len(told) == 2 and all(isinstance(value, (int, float)) for value in told):
        return [value * by for value in told]
    return [scaled(value, by) for value in told]


def once(address: str, photo: Path, case: Any, times: Times, kind: str) -> None:
    """The whole job by HTTP: photo, outlines at the last tap but one and at the last, answer."""
    with httpx2.Client(base_url=address, timeout=60) as client:
        kept = uploaded(client, photo, times, f"upload, {kind}")
        told = case_of(kept, photo, case)
        wish = {"photo": kept["id"], "palette": told["palette"], "scale": told["scale"]}
        less = [{**one, "taps": one["taps"][:-1] or one["taps"]} for one in told["palette"]]
        timed(times, f"preview, {kind}", lambda: client.post("/preview", json={**wish, "palette": less}))
        timed(times, f"preview after one more tap, {kind}", lambda: client.post("/preview", json=wish))
        timed(times, f"inspect, {kind}", lambda: client.post("/inspections", json=told))


def unprepared(address: str, photo: Path, case: Any, times: Times) -> None:
    """As when a sculpture is looked at again: the photo, and the answer at once."""
    with httpx2.Client(base_url=address, timeout=60) as client:
        began = time.perf_counter()
        told = case_of(uploaded(client, photo, defaultdict(list), ""), photo, case)
        kept = timed(defaultdict(list), "", lambda: client.post("/inspections", json=told))
        times["upload and inspect at once, warm"].append((time.perf_counter() - began) * 1000)
        again = {"photo": uploaded(client, photo, defaultdict(list), "")["id"]}
        timed(times, "again, warm", lambda: client.post(f"/inspections/{kept['id']}/again", json=again))


@contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's Chromium without a window."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        raise SystemExit("There is no chromium on the path: install it, or ask with --no-browser.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()


def first_load(browser: Browser, address: str, times: Times) -> None:
    """What goes over the air when the page is opened for the first time, and how long that takes."""
    context = browser.new_context(**PHONE)
    page = context.new_page()
    asked: list[Request] = []
    page.on("request", lambda request: asked.append(request))
    began = time.perf_counter()
    page.goto(address, wait_until="load")
    page.wait_for_selector("html[data-ready]")
    times["first load of the page"].append((time.perf_counter() - began) * 1000)
    page.wait_for_load_state("networkidle")
    needed = {
        request.url: request.sizes() for request in reversed(asked)
    }  # once; what is shelved comes again
    bytes_sent = sum(size["responseBodySize"] + size["responseHeadersSize"] for size in needed.values())
    times["first load of the page (kB)"].append(bytes_sent / 1000)
    context.close()


def on_the_page(browser: Browser, address: str, photo: Path, case: Any, runs: int, times: Times) -> None:
    """A tap on the screen of colours, then 'look again' with the same photo, some times each."""
    with httpx2.Client(base_url=address, timeout=60) as client:
        kept = uploaded(client, photo, defaultdict(list), "")
    told = case_of(kept, photo, case)
    context: BrowserContext = browser.new_context(**PHONE)
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    page.evaluate(SEED, [kept, told])
    page.add_init_script(WATCH)
    page.reload()
    page.get_by_role("button", name="Go on").click()
    page.wait_for_selector("body.on-colours")
    for n in range(runs):
        one_tap(page, told["palette"][0]["taps"][0], n, times)
    page.get_by_role("button", name="Entries").click()
    page.locator("body.on-entries #foot .main").click()
    for _ in range(runs):
        look_again(page, photo, times)
    context.close()


def one_tap(page: Page, at: list[float], n: int, times: Times) -> None:
    """From a tap to the outlines that come of it."""
    page.evaluate("() => { seen.tapped = seen.outlined = null; performance.clearResourceTimings(); }")
    spot = page.evaluate(
        """([x, y]) => {
          const root = document.getElementById("picture");
          const p = new DOMPoint(x, y).matrixTransform(root.getScreenCTM());
          return [p.x, p.y];
        }""",
        [at[0] + 5 * n, at[1] + 5 * n],
    )
    page.touchscreen.tap(*spot)
    page.wait_for_function(
        f"() => ({ENTRY})('/preview')?.[1] && seen.outlined > ({ENTRY})('/preview')[1]", timeout=PATIENCE_MS
    )
    sent, arrived = page.evaluate(ENTRY, "/preview")
    tapped, outlined = page.evaluate("() => [seen.tapped, seen.outlined]")
    times["tap to preview asked for"].append(sent - tapped)
    times["tap to answer arrived"].append(arrived - tapped)
    times["answer to the tap arrived to outlines drawn"].append(outlined - arrived)


def photo_with_all_told(browser: Browser, address: str, photo: Path, case: Any, times: Times) -> None:
    """A new photo, palette and entries given: until it is kept, and from the plate to the sentence."""
    context = browser.new_context(**PHONE)
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    data = base64.b64encode(photo.read_bytes()).decode()
    with Image.open(photo) as opened:
        natural = {"w": opened.width, "h": opened.height}
    page.evaluate(UNSENT, [data, case, natural])
    page.add_init_script(WATCH)
    page.reload()
    page.get_by_role("button", name="Go on").click()
    page.wait_for_selector("body.on-entries")
    page.wait_for_function(f"() => ({ENTRY})('/photos([?]|$)')?.[1]", timeout=PATIENCE_MS)
    page.evaluate("() => (seen.left = false)")
    page.locator("#foot .main").tap()
    page.wait_for_function("() => seen.answered", timeout=PATIENCE_MS)
    sent, kept = page.evaluate(ENTRY, "/photos([?]|$)")
    pressed, answered = page.evaluate("() => [seen.tapped, seen.answered]")
    times["photo goes off to photo kept"].append(kept - sent)
    times["plate pressed to first sentence"].append(answered - pressed)
    times["photo goes off to first sentence"].append(kept - sent + answered - pressed)
    context.close()


def look_again(page: Page, photo: Path, times: Times) -> None:
    """From the photo chosen to the first sentence, with all that was told carried over to it."""
    page.wait_for_selector("body.on-answer, body.on-check", timeout=PATIENCE_MS)
    if page.locator("body.on-check").count():  # a check comes first; the answer lies behind it
        page.get_by_role("button", name="Back").click()
    page.evaluate("() => { for (const key in seen) delete seen[key]; performance.clearResourceTimings(); }")
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Done, look again").click()
    chooser.value.set_files(photo)
    page.wait_for_function("() => seen.answered", timeout=PATIENCE_MS)
    chosen, answered = page.evaluate("() => [seen.chosen, seen.answered]")
    times["photo of the same sculpture chosen to first sentence"].append(answered - chosen)
    for name, path in (("photo sent", "/photos([?]|$)"), ("case sent", "/again[?]")):
        sent, arrived = page.evaluate(ENTRY, path)
        times[f"photo chosen to {name}"].append(sent - chosen)
        times[f"photo chosen to {name} and answered"].append(arrived - chosen)


def show(times: Times) -> None:
    """Medians and ranges as a table."""
    table = Table("ms unless said otherwise", "median", "least", "most", "wanted below", box=None)
    for name, all_times in times.items():
        decimals = 1 if name.endswith("(kB)") else 0
        figures = (statistics.median(all_times), min(all_times), max(all_times))
        table.add_row(name, *(f"{value:.{decimals}f}" for value in figures), TARGETS.get(name, ""))
    Console().print(table)


if __name__ == "__main__":
    main()
