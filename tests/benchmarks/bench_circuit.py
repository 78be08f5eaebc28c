"""Speed of the sums: `python tests/benchmarks/bench_circuit.py` prints ratios measured in one run.

The yardstick is a dense LU of a 1000 x 1000 matrix by NumPy on the same machine.
"""

import shutil
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from runpy import run_path

import numpy as np
from rich.console import Console
from rich.table import Table

from circuit.board import Board, Placing, lay_out, own_placing, swapped, turned
from circuit.inspection import inspect
from circuit.outcome import operate, operate_many
from circuit.sheet import reduce_lump

DRAW = run_path(str(Path(__file__).parents[1] / "circuit" / "conftest.py"))["from_text"]
DOUGH = "\n".join(["a" * 36] * 8 + ["#" * 36] * 2 + ["b" * 36] * 8)
LEGS = {2: "123456", 15: "qwerty"}


def entries() -> str:
    rows = [["."] * 36 for _ in range(18)]
    rows[1][1], rows[16][1] = "P", "M"
    for r, signs in LEGS.items():
        for k, sign in enumerate(signs):
            rows[r][5 + 5 * k] = sign
    return "\n".join("".join(row) for row in rows)


def seconds(work: Callable[[], object], times: int = 5) -> float:
    """The shortest of a few runs."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)


def pick(board: Board, placing: Placing) -> list[Placing]:
    """2,000 what-ifs at random: LEDs turned, pulled out, leads swapped."""
    rng = np.random.default_rng(1)
    found = []
    for _ in range(2000):
        trial = placing
        for led in board.sculpture.leds:
            chance = rng.random()
            if chance < 0.3:
                trial = turned(trial, led.id)
            elif chance < 0.4:
                trial = {**trial, f"{led.id}.long": None}
        found.append(swapped(trial) if rng.random() < 0.1 else trial)
    return found


def owl_shape(side: int) -> np.ndarray:
    """A crooked lump of about side x side cells, with two bays."""
    y, x = (np.indices((side, side)) + 0.5) / side - 0.5
    mask = np.hypot(x, y) < 0.5
    mask &= ~((abs(x) < 0.05) & (y < 0)) & ~((abs(y) < 0.03) & (x > 0.1))
    return mask


def ngspice_grid(nodes: int) -> float | None:
    """Seconds of ngspice for a square grid of 1-ohm resistors; None without ngspice."""
    ngspice = shutil.which("ngspice")
    if ngspice is None:
        return None
    side = round(nodes**0.5)
    lines = ["* grid"]
    for r in range(side):
        for c in range(side):
            if c + 1 < side:
                lines.append(f"rx{r}_{c} n{r}_{c} n{r}_{c + 1} 1")
            if r + 1 < side:
                lines.append(f"ry{r}_{c} n{r}_{c} n{r + 1}_{c} 1")
    far = side - 2
    lines += ["i1 0 n1_1 1", f"rg n{far}_{far} 0 1m", ".control", "op", "print v(n1_1)", ".endc", ".end"]
    deck = "\n".join(lines)
    return seconds(
        lambda: subprocess.run([ngspice, "-b", "/dev/stdin"], input=deck, capture_output=True, text=True), 2
    )


def main() -> None:
    dense = np.random.default_rng(1).normal(size=(1000, 1000))
    yard = seconds(lambda: np.linalg.solve(dense, dense[:, :1]))
    table = Table("what", "seconds", "yardsticks")

    def row(name: str, spent: float) -> None:
        table.add_row(name, f"{spent:.5f}", f"{spent / yard:.3f}")

    row("yardstick: dense LU, 1000 x 1000", yard)
    sculpture = DRAW(DOUGH, entries(), "red white blue green")
    row("reduce a six-LED sculpture, 72 x 36 mm", seconds(lambda: lay_out(sculpture)))
    board, placing = lay_out(sculpture), own_placing(sculpture)
    what_ifs = pick(board, placing)
    spent = seconds(lambda: operate_many(board, what_ifs), 3) / len(what_ifs)
    row("one what-if of 2,000 together", spent)
    row("one what-if alone", seconds(lambda: operate(board, placing)))
    row("inspect it", seconds(lambda: inspect(sculpture)))
    mask = owl_shape(round((20_000 / owl_shape(200).mean()) ** 0.5))
    places = np.argwhere(mask)[np.linspace(400, mask.sum() - 400, 12).astype(int)]
    spots = [((float(x) + 0.5, float(y) + 0.5), 0.3) for y, x in places]
    ordinary = seconds(lambda: reduce_lump(mask, np.ones(mask.shape), 1.0, spots, side_mm=1.0))
    row(f"reduce {mask.sum()} blocks, 12 entries", ordinary)
    sizes, times = [], []
    for cells in (10_000, 40_000, 160_000, 300_000):
        side = round(cells**0.5)
        mask = np.ones((side, side), bool)
        spots = [((side * a, side * b), 0.3) for a, b in ((0.1, 0.1), (0.9, 0.1), (0.1, 0.9), (0.9, 0.9))]
        spent_here = seconds(lambda m=mask, s=spots: reduce_lump(m, np.ones(m.shape), 1.0, s, side_mm=1.0), 2)
        row(f"reduce a sheet of {cells} blocks", spent_here)
        sizes.append(cells)
        times.append(spent_here)
    power = np.polyfit(np.log(sizes), np.log(times), 1)[0]
    theirs = ngspice_grid(10_000)
    if theirs is not None:
        row("ngspice on the grid of 10,000 nodes", theirs)
    Console().print(table)
    print(f"what-ifs a second: {1 / spent:.0f}; sheet time grows as blocks to the power {power:.2f}")
    if theirs is not None:
        print(f"ngspice takes {theirs / times[0]:.1f} times as long for the grid of 10,000 nodes")


if __name__ == "__main__":
    main()
