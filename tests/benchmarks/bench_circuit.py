"""Speed of the sums: `python tests/benchmarks/bench_circuit.py` prints ratios measured in one run.

The yardstick is a dense LU of a 1000 x 1000 matrix by NumPy on the same machine.
"""

import time
from collections.abc import Callable
from pathlib import Path
from runpy import run_path

import numpy as np
from rich.console import Console
from rich.table import Table

from circuit.board import lay_out, own_placing, turned
from circuit.inspection import inspect
from circuit.outcome import operate
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


def main() -> None:
    dense = np.random.default_rng(1).normal(size=(1000, 1000))
    yard = seconds(lambda: np.linalg.solve(dense, dense[:, :1]))
    table = Table("what", "seconds", "yardsticks")

    def row(name: str, spent: float) -> None:
        table.add_row(name, f"{spent:.4f}", f"{spent / yard:.2f}")

    row("yardstick: dense LU, 1000 x 1000", yard)
    sculpture = DRAW(DOUGH, entries())
    row("reduce a six-LED sculpture, 72 x 36 mm", seconds(lambda: lay_out(sculpture)))
    board, placing = lay_out(sculpture), own_placing(sculpture)
    what_ifs = [turned(placing, f"L{k}") for k in range(1, 7)]
    spent = seconds(lambda: [operate(board, p) for p in what_ifs]) / len(what_ifs)
    row("one what-if", spent)
    row("inspect it", seconds(lambda: inspect(sculpture)))
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
    Console().print(table)
    print(f"what-ifs a second: {1 / spent:.0f}; sheet time grows as blocks to the power {power:.2f}")


if __name__ == "__main__":
    main()
