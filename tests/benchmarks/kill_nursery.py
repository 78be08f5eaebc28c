"""Starts the server often and quickly: all is imported once, and each server is a fork of this process.

Each line of the input is a port and a data folder; the answer is the process id. Everything is the real
thing but the engines behind it: what they find is made up, so that more is written in the same time.
"""

import os
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from api.app import create_app
from api.routes.parts import Tools
from api.schemas import Case, FindingOut, PhotoOut, Report
from api.settings import Settings


@dataclass(frozen=True)
class Found:
    """What an inspection hands back."""

    report: Report


def inspect(case: Case, photo: bytes, *, on_stage: Callable[[str], None], **_below: bytes) -> Found:
    """One thing to put right, wherever it is."""
    on_stage("sums")
    said = {"why": "A leg is out.", "ask": "Are all legs in?", "look": "Look at L1.", "do": "Press it in."}
    finding = FindingOut(
        code="leg-out", level="fix", parts=["L1"], at=(5, 5), path=[], cut=None, cut_mm=None, **said
    )
    about = PhotoOut(width=400, height=300, mm_per_px=1.0, true_scale=False, labels="l.png")
    return Found(Report(photo=about, pieces=[], contacts=[], leds=[], findings=[finding]))


def nothing(*_told: object, **_wishes: object) -> bytes:
    """No picture is asked for."""
    return b""


def serve(port: int, folder: Path) -> None:
    """Until somebody kills it."""
    tools = Tools(inspect, nothing, nothing, nothing, nothing, nothing)  # type: ignore[arg-type]
    app = create_app(Settings(data_dir=folder), tools)
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="error", ws="none", access_log=False)


def main() -> None:
    """Fork a server for each line."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # whoever was killed is not waited for
    for line in sys.stdin:
        port, folder = line.rstrip("\n").split(" ", 1)
        child = os.fork()
        if child == 0:
            os.close(0)
            try:
                serve(int(port), Path(folder))
            finally:
                os._exit(1)
        print(child, flush=True)


if __name__ == "__main__":
    main()
