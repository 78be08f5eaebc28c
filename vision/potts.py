"""Labels of least energy on a 4-neighbour grid.

Min-sum belief propagation swept along rows and columns (Tappen and Freeman 2003, 'BP-M' in
Szeliski et al., IEEE Trans. Pattern Anal. Mach. Intell. 30 (2008) 1068) with the linear-time Potts
message (Felzenszwalb and Huttenlocher, Int. J. Comput. Vis. 70 (2006) 41). It stands in for a graph
cut: libraries for that are under licences that would bind this project. No least energy is promised.

Notation: h, w cells, C classes.
"""

import numpy as np
from numpy.typing import NDArray

from vision.raster import Floats


def least_energy(energy: Floats, right: Floats, down: Floats, rounds: int = 3) -> NDArray[np.uint8]:
    """Labels (h, w) that nearly minimise the sum of energies and of weights between unlike neighbours.

    energy (C, h, w); right (h, w-1) and down (h-1, w) the weights between neighbours.
    """
    h, w = energy.shape[1:]
    if h < 2 or w < 2:
        return np.asarray(energy.argmin(axis=0), np.uint8)
    rows = np.ascontiguousarray(energy.transpose(1, 0, 2))  # (h, C, w): row after row
    cols = np.ascontiguousarray(energy.transpose(2, 0, 1))  # (w, C, h): column after column
    from_top, from_bottom = np.zeros_like(rows), np.zeros_like(rows)
    from_left, from_right = np.zeros_like(cols), np.zeros_like(cols)
    across, along = np.ascontiguousarray(right.T), down
    for _ in range(rounds):
        known = cols + (from_top + from_bottom).transpose(2, 1, 0)
        _sweep(known, across, from_left)
        _sweep(known[::-1], across[::-1], from_right[::-1])
        known = rows + (from_left + from_right).transpose(2, 1, 0)
        _sweep(known, along, from_top)
        _sweep(known[::-1], along[::-1], from_bottom[::-1])
    belief = rows + (from_left + from_right).transpose(2, 1, 0) + from_top + from_bottom
    return np.asarray(belief.argmin(axis=1), np.uint8)


def _sweep(known: Floats, weight: Floats, message: Floats) -> None:
    """Pass messages from each line to the next; `message` (lines, C, n) is written in place."""
    message[0] = 0
    for i in range(len(known) - 1):
        out = known[i] + message[i]
        out -= out.min(axis=0)
        np.minimum(out, weight[i], out=message[i + 1])


def contrast_weights(features: Floats, units: NDArray[np.float64], strength: float) -> tuple[Floats, Floats]:
    """Weights to the right (h, w-1) and downwards (h-1, w): low where the photo has an edge."""
    f = features / units.astype(np.float32)
    right = ((f[:, 1:] - f[:, :-1]) ** 2).sum(axis=2)
    down = ((f[1:] - f[:-1]) ** 2).sum(axis=2)
    mean = float(np.minimum(np.concatenate([right.ravel(), down.ravel()]), 9).mean())
    b = 1 / (2 * max(mean, 1e-6))
    least, rest = np.float32(0.1 * strength), np.float32(0.9 * strength)
    return least + rest * np.exp(-b * right), least + rest * np.exp(-b * down)
