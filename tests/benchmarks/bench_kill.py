"""Kills the server at random moments while it writes: `bench_kill.py [KILLS]`.

After each kill the server is started again over the same folder. Then everything that was acknowledged must
be there as it was last told, whatever was deleted must be gone, and the folder must hold together: no picture
without a row, no row without its picture, no half file, each picture what its name says. Every tenth time the
server is killed while it is starting.
"""

import hashlib
import http.client
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from statistics import median

sys.path.insert(0, str(Path(__file__).parent))

from kill_writers import Writer

WRITERS = 6
LONGEST_S = 1.0
"""The kill comes within so much time after the server has begun to answer."""
START_S = 30


@dataclass
class Outcome:
    """What came of it."""

    kills: int = 0
    written: Counter[str] = field(default_factory=Counter)
    lost: list[str] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    start_s: list[float] = field(default_factory=list)


class Nursery:
    """Starts servers over one folder, one after the other."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        script = str(Path(__file__).with_name("kill_nursery.py"))
        env = {**os.environ, "OMP_NUM_THREADS": "1"}
        root = Path(__file__).parents[2]
        self._process = subprocess.Popen(
            [sys.executable, script],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=root,
            env={**env, "PYTHONPATH": str(root)},
        )
        self.port = 0
        self.child = 0

    def begin(self) -> None:
        """Start a server; it does not answer yet."""
        with closing(socket.create_server(("127.0.0.1", 0))) as door:
            self.port = int(door.getsockname()[1])
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(f"{self.port} {self._folder}\n")
        self._process.stdin.flush()
        self.child = int(self._process.stdout.readline())

    def wait(self) -> float:
        """Seconds until it answers."""
        begun = time.monotonic()
        while time.monotonic() < begun + START_S:
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
            try:
                line.request("GET", "/workshops")
                if line.getresponse().status == 200:
                    return time.monotonic() - begun
            except OSError:
                time.sleep(0.01)
            finally:
                line.close()
        raise AssertionError("the server does not start by itself")

    def kill(self) -> None:
        """As when the plug is pulled, but that the disk goes on."""
        if self.child:
            os.kill(self.child, signal.SIGKILL)
            while _lives(self.child):
                time.sleep(0.005)
            self.child = 0

    def close(self) -> None:
        """End the last one too."""
        self.kill()
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait(10)
        self._process.stdout.close()


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def loose_ends(folder: Path, known: set[str]) -> list[str]:
    """What does not hold together in a data folder; pictures in `known` are not read again."""
    found = [f"half file {file.name}" for file in folder.rglob("*.half")]
    with closing(sqlite3.connect(folder / "doughsight.db")) as data:
        rows = {row[0] for row in data.execute("SELECT sha256 FROM photos")}
        found += [f"foreign key {row}" for row in data.execute("PRAGMA foreign_key_check")]
        found += [row[0] for row in data.execute("PRAGMA quick_check") if row[0] != "ok"]
    files = {file.stem: file for file in folder.glob("photos/*/*.jpg")}
    found += [f"no row for {name}" for name in files.keys() - rows]
    found += [f"no file for {name}" for name in rows - files.keys()]
    for name in files.keys() & rows - known:
        if hashlib.sha256(files[name].read_bytes()).hexdigest() != name:
            found.append(f"half content in {name}")
    known |= files.keys()
    return found


def run(kills: int, folder: Path, seed: int = 1) -> Outcome:
    """Kill the server so often over this folder."""
    chance, out, known = Random(seed), Outcome(), set[str]()
    writers = [Writer(n, Random(chance.random())) for n in range(WRITERS)]
    nursery = Nursery(folder)
    try:
        nursery.begin()
        out.start_s.append(nursery.wait())
        for _ in range(kills):
            _one_kill(nursery, writers, chance)
            out.kills += 1
            nursery.begin()
            out.start_s.append(nursery.wait())
            out.lost += [one for writer in writers for one in writer.lost(nursery.port)]
            out.loose += loose_ends(folder, known)
        out.lost += [one for writer in writers for one in writer.lost(nursery.port, everything=True)]
        out.loose += loose_ends(folder, set())
    finally:
        nursery.close()
    for writer in writers:
        out.written += writer.written
        out.wrong += writer.wrong
    return out


def _one_kill(nursery: Nursery, writers: list[Writer], chance: Random) -> None:
    threads = [threading.Thread(target=writer.work, args=(nursery.port,)) for writer in writers]
    for thread in threads:
        thread.start()
    time.sleep(chance.uniform(0.02, LONGEST_S))
    nursery.kill()
    for thread in threads:
        thread.join()
    if chance.random() < 0.1:
        nursery.begin()
        time.sleep(chance.uniform(0, 0.3))
        nursery.kill()


def main() -> None:
    """Print a table."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as folder:
        out = run(kills, Path(folder))
    print(f"| {kills} kills | |\n|---|---|")
    for kind, count in sorted(out.written.items()):
        print(f"| {kind} | {count} |")
    print(f"| acknowledged in all | {out.written.total()} |")
    print(f"| start, median and longest | {median(out.start_s):.2f} s, {max(out.start_s):.2f} s |")
    for name in ("lost", "loose", "wrong"):
        found = getattr(out, name)
        print(f"| {name} | {len(found)} |", *found[:10], sep="\n  ")
    sys.exit(bool(out.lost or out.loose or out.wrong))


if __name__ == "__main__":
    main()
