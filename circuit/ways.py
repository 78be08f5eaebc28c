"""Ways through dough on a grid: whether places lie in it, and corners rounded off within it."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from circuit.model import Point

Places = NDArray[np.float64]


def in_dough(inside: NDArray[np.bool_], cell_mm: float, places: Places) -> NDArray[np.bool_]:
    """(n,) whether places (n, 2) [mm] lie in the dough (R, C)."""
    rows, cols = inside.shape
    r, c = (np.floor(places[:, axis] / cell_mm).astype(np.intp) for axis in (1, 0))
    on = (r >= 0) & (r < rows) & (c >= 0) & (c < cols)
    return np.asarray(on & inside[np.where(on, r, 0), np.where(on, c, 0)])


def rounded_off(
    inside: NDArray[np.bool_], cell_mm: float, way: Sequence[Sequence[float]], times: int
) -> tuple[Point, ...]:
    """The way with its corners rounded off as far as it stays in the dough; both ends stay."""
    at = np.asarray(way, np.float64)
    for _ in range(times):
        trial = at.copy()
        trial[1:-1] = (at[:-2] + 2 * at[1:-1] + at[2:]) / 4
        ok = in_dough(inside, cell_mm, trial)
        for beside in (np.roll(at, 1, axis=0), np.roll(at, -1, axis=0)):
            ok &= in_dough(inside, cell_mm, (trial + beside) / 2)
        ok[[0, -1]] = False
        at[ok] = trial[ok]
    return tuple((float(x), float(y)) for x, y in at)
