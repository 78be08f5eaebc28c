"""A lump cut into square blocks, on which both the sheet and the necks are computed.

Cells of one block that are not joined inside it become nodes of their own, so that a hairline
gap stays a gap and a thin neck stays thin. What two nodes share is measured on the fine cells.
"""

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components


@dataclass(frozen=True)
class Blocks:
    """The nodes of a lump.

    node    (R, C) int32: node of each cell, -1 outside the lump
    at      (N, 2) float: middle of each node [mm]
    across  (N, N) sparse, symmetric: shared border with the node to the left or right [mm]
    down    (N, N) sparse, symmetric: shared border with the node above or below [mm]
    side_mm side of a block
    """

    node: NDArray[np.int32]
    at: NDArray[np.float64]
    across: csr_array
    down: csr_array
    cell_mm: float
    side_mm: float


def cut_into_blocks(mask: NDArray[np.bool_], cell_mm: float, side_mm: float) -> Blocks:
    """Cut a lump (R, C) into blocks of about `side_mm`, a whole number of cells."""
    step = max(1, round(side_mm / cell_mm))
    indices = np.indices(mask.shape, dtype=np.intp)
    rows, cols = indices[0], indices[1]
    block = (rows // step) * (mask.shape[1] // step + 1) + cols // step
    cell = np.full(mask.shape, -1, np.intp)
    count = int(mask.sum())
    cell[mask] = np.arange(count)
    pairs = [_neighbours(cell, axis) for axis in (0, 1)]
    flat = block[mask]
    inside = np.concatenate([p[:, flat[p[0]] == flat[p[1]]] for p in pairs], axis=1)
    graph = coo_array((np.ones(inside.shape[1]), (inside[0], inside[1])), shape=(count, count))
    n, member = bodies(graph)
    node = np.full(mask.shape, -1, np.int32)
    node[mask] = member
    weight = np.bincount(member, minlength=n)
    at = [np.bincount(member, (x[mask] + 0.5) * cell_mm, n) / weight for x in (cols, rows)]
    down, across = (_borders(member[p], n) * cell_mm for p in pairs)
    return Blocks(node, np.stack(at, axis=1), across, down, cell_mm, step * cell_mm)


def bodies(graph: Any) -> tuple[int, NDArray[np.intp]]:
    """How many connected bodies a sparse graph (N, N) has, and the number of the body of each node (N,)."""
    n, labels = cast(tuple[int, NDArray[np.int32]], connected_components(graph, directed=False))
    return n, labels.astype(np.intp)


def _neighbours(cell: NDArray[np.intp], axis: int) -> NDArray[np.intp]:
    """(2, E) numbers of the cells that are neighbours along this axis."""
    a, b = (cell[:-1], cell[1:]) if axis == 0 else (cell[:, :-1], cell[:, 1:])
    both = (a >= 0) & (b >= 0)
    return np.stack([a[both], b[both]])


def _borders(ends: NDArray[np.intp], n: int) -> csr_array:
    """(n, n) symmetric: how many cell sides two nodes share."""
    ends = ends[:, ends[0] != ends[1]]
    r, c = np.concatenate([ends, ends[::-1]], axis=1)
    return csr_array(coo_array((np.ones(len(r)), (r, c)), shape=(n, n)))
