"""A whole afternoon: `python tests/benchmarks/bench_afternoon.py [--minutes 10]`.

Benches and helpers, each a phone of its own, against a real server process with the real eyes over HTTP. The
phones share the machine with the server, so they are kept light; how much of it they took is told, too.
What each does, and at what pace, stands in `afternoon_bench.py` and `afternoon_helper.py`.
"""

import argparse
import asyncio
import itertools
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

from afternoon_bench import Bench, marks_of
from afternoon_helper import Helper
from afternoon_phones import Ledger, Log, Phone, shots
from bench_page import wait_for
from rich.console import Console
from rich.table import Table

TARGETS_MS = {"queue": 200, "inspection": 3000}
"""Wanted below, at the 95th of 100 requests."""
MOST_MB = 700
SAMPLE_S = 2.0
PAGE = os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 4096
TICKS = os.sysconf("SC_CLK_TCK") if hasattr(os, "sysconf") else 100


def main() -> None:
    """Let the afternoon pass, print what it was like; status 1 if a target was missed."""
    wish = argparse.ArgumentParser(description=__doc__)
    wish.add_argument("--minutes", type=float, default=10)
    wish.add_argument("--benches", type=int, default=30)
    wish.add_argument("--helpers", type=int, default=4)
    wish.add_argument("--slower", type=float, default=1, help="times that benches are slower")
    wish.add_argument("--seed", type=int, default=1)
    wish.add_argument("--server-log", type=Path, help="where the server's own words go")
    told = wish.parse_args()
    with serving(told.server_log) as server:
        log, memory, cpu = asyncio.run(afternoon(server, told))
    sys.exit(0 if show(log, memory, cpu, told.minutes) else 1)


@contextmanager
def serving(words: Path | None) -> Iterator[tuple[str, int]]:
    """The app as it is started by hand, over an empty folder: its address and process."""
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
    start = "import sys; from api.commands import main; sys.argv = ['doughsight', *sys.argv[1:]]; main()"
    with tempfile.TemporaryDirectory() as folder, (words or Path(os.devnull)).open("wb") as out:
        told = [sys.executable, "-c", start, "serve", "--port", str(port)]
        environment = {**os.environ, "DOUGHSIGHT_DATA_DIR": folder}
        server = subprocess.Popen(told, env=environment, stdout=subprocess.DEVNULL, stderr=out)
        try:
            wait_for(f"http://127.0.0.1:{port}")
            yield f"http://127.0.0.1:{port}", server.pid
        finally:
            server.terminate()
            server.wait(60)


async def afternoon(
    server: tuple[str, int], told: argparse.Namespace
) -> tuple[Log, list[tuple[float, float]], dict[str, float]]:
    """All phones at once."""
    address, pid = server
    log, pictures = Log(), shots()
    ledger, laptop = Ledger(log=log), Phone(address, log, laptop=True)
    workshop, links = await opened(laptop)
    chances = (Random(told.seed * 1000 + n) for n in itertools.count())
    benches = [
        Bench(Phone(address, log), log, next(chances), pictures, n, ledger, workshop, told.slower)
        for n in range(1, told.benches + 1)
    ]
    helpers = [Helper(Phone(address, log), log, next(chances), ledger, workshop) for _ in range(told.helpers)]
    for bench in benches:
        await bench.come(links["bench"])
    for helper in helpers:
        await helper.phone.join(links["helper"])
    until = asyncio.get_running_loop().time() + told.minutes * 60
    memory: list[tuple[float, float]] = []
    watch = asyncio.create_task(sample_memory(pid, memory))
    began, own, its = time.perf_counter(), time.process_time(), cpu_s(pid)
    await asyncio.gather(*(one.work(until) for one in (*benches, *helpers)))
    passed = time.perf_counter() - began
    cpu = {"phones": (time.process_time() - own) / passed, "server": (cpu_s(pid) - its) / passed}
    log.measuring = False
    for bench in benches:
        await read_back(bench, ledger)
    await read_back_calls(laptop, workshop, ledger)
    await read_back_titles(laptop, workshop, helpers)
    await asyncio.sleep(SAMPLE_S)
    watch.cancel()
    for phone in (laptop, *(one.phone for one in (*benches, *helpers))):
        await phone.close()
    return log, memory, cpu


async def opened(laptop: Phone) -> tuple[str, dict[str, str]]:
    """A workshop, and the links of its ways in."""
    told = {"name": "An afternoon", "day": "2026-05-09"}
    made = await laptop.ask("workshop", "POST", "/workshops", json=told)
    if made is None:
        raise SystemExit(str(laptop.log.errors))
    workshop, links = made.json()["id"], {}
    for role in ("bench", "helper"):
        way = await laptop.ask("way in", "POST", f"/workshops/{workshop}/joins", json={"role": role})
        if way is None:
            raise SystemExit(str(laptop.log.errors))
        links[role] = way.json()["link"]
    return workshop, links


async def read_back_calls(laptop: Phone, workshop: str, ledger: Ledger) -> None:
    """The calls that are open are those that nobody was told have ended, each as it was last told."""
    queue = await laptop.ask("", "GET", f"/workshops/{workshop}/queue")
    kept = {} if queue is None else {one["id"]: one["state"] for one in queue.json()["calls"]}
    if kept != ledger.open_calls():
        laptop.log.wrong("call: what is kept is not what was acknowledged")
    laptop.log.done["calls read back"] = len(ledger.calls)


async def read_back_titles(laptop: Phone, workshop: str, helpers: list[Helper]) -> None:
    """Each sculpture has the title that was acknowledged with its highest revision."""
    last: dict[str, tuple[int, str]] = {}
    for name, title in (item for helper in helpers for item in helper.titles.items()):
        sculpture, revision = name.split()
        last[sculpture] = max(last.get(sculpture, (0, "")), (int(revision), title))
    listed = await laptop.ask("", "GET", f"/workshops/{workshop}/sculptures")
    kept = {} if listed is None else {one["id"]: one["title"] for one in listed.json()}
    if any(kept.get(sculpture) != title for sculpture, (_, title) in last.items()):
        laptop.log.wrong("sculpture: an acknowledged title is lost")
    laptop.log.done["sculptures with a title read back"] = len(last)


async def read_back(bench: Bench, ledger: Ledger) -> None:
    """Every draft and photo that was acknowledged is there, with every mark."""
    for draft in bench.drafts:
        kept = await bench.phone.ask("", "GET", f"/drafts/{draft.id}")
        if kept is None:
            continue
        told = kept.json()
        if told["revision"] < draft.revision or not ledger.marks[draft.id] <= marks_of(told["job"]):
            bench.log.wrong("draft: an acknowledged change is lost")
        bench.log.done["drafts read back"] += 1
    for photo in bench.photos:
        if await bench.phone.ask("", "GET", f"/photos/{photo}") is not None:
            bench.log.done["photos read back"] += 1


async def sample_memory(pid: int, memory: list[tuple[float, float]]) -> None:
    """Seconds and MB that lie in memory, every two seconds."""
    began = time.perf_counter()
    while True:
        pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
        memory.append((time.perf_counter() - began, pages * PAGE / 1e6))
        await asyncio.sleep(SAMPLE_S)


def cpu_s(pid: int) -> float:
    """Processor seconds that a process has taken."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS


def show(log: Log, memory: list[tuple[float, float]], cpu: dict[str, float], minutes: float) -> bool:
    """Print all figures; whether every target was met."""
    console = Console(width=110)
    table = Table("ms", "n", "p50", "p95", "p99", "max", "p95 wanted below", box=None)
    well = not log.errors
    all_of_queue = [one for kind, times in log.times_ms.items() if kind.startswith("queue:") for one in times]
    for kind, times in sorted({**log.times_ms, "queue": all_of_queue or [0.0]}.items()):
        ranked = sorted(times)
        most = TARGETS_MS.get(kind)
        p50, p95, p99 = (ranked[min(len(ranked) - 1, int(part * len(ranked)))] for part in (0.5, 0.95, 0.99))
        well &= most is None or p95 < most
        figures = (f"{value:.0f}" for value in (p50, p95, p99, ranked[-1]))
        table.add_row(kind, str(len(ranked)), *figures, "" if most is None else str(most))
    console.print(table)
    count = sum(map(len, log.times_ms.values()))
    console.print(f"{count} requests, {count / minutes / 60:.1f} a second.")
    for name, share in cpu.items():
        console.print(f"Processor, {name}: {share:.2f} cores")
    level, slope = level_of(memory)
    at = [memory[min(len(memory) - 1, int(part * len(memory)))][1] for part in (0, 0.25, 0.5, 0.75, 1)]
    peak = max(mb for _, mb in memory)
    console.print("Memory of the server [MB]: " + ", ".join(f"{mb:.0f}" for mb in at) + f"; peak {peak:.0f}")
    console.print(f"Slope of its second half: {slope:+.1f} MB a minute ({'level' if level else 'not level'})")
    for what, n in sorted(log.done.items()):
        console.print(f"{what}: {n}")
    for what, n in log.errors.most_common():
        console.print(f"ERROR {n} x {what}", style="red", markup=False)
    console.print("No error, no lost update." if not log.errors else f"{log.errors.total()} errors.")
    return well and level and peak < MOST_MB


LEVEL_MB_A_MINUTE = 5.0
"""Growth that would still fit an afternoon of three hours under twice the limit (estimated)."""


def level_of(memory: list[tuple[float, float]]) -> tuple[bool, float]:
    """Whether the memory has stopped growing, and MB a minute over the second half of the time."""
    half = memory[len(memory) // 2 :]
    slope = statistics.linear_regression([s / 60 for s, _ in half], [mb for _, mb in half]).slope
    return slope < LEVEL_MB_A_MINUTE, slope


if __name__ == "__main__":
    main()
