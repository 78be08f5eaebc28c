"""Decks solved by ngspice, an independent simulator of circuits."""

import re
import shutil
import subprocess


def solved(deck: str) -> list[float]:
    """The printed currents [A]."""
    program = shutil.which("ngspice")
    if program is None:
        raise RuntimeError("ngspice is not installed; the judge needs it")
    done = subprocess.run(
        [program, "-b", "/dev/stdin"], input=deck, capture_output=True, text=True, timeout=60, check=False
    )
    found = re.findall(r"^i\(\S+\) = (\S+)\s*$", done.stdout, re.MULTILINE)
    if done.returncode or not found:
        raise RuntimeError(f"ngspice did not solve the deck: {done.stderr[-300:]}")
    return [float(value) for value in found]
