"""Dough cut into square blocks, on which both the sheet and the necks are computed.

Cells of one block that are not joined inside it, or belong to different bodies, become nodes of their
own, so that a hairline gap stays a gap, and a thin neck or wall stays thin. What two nodes share is
measured on the fine cells.

Notation: R, C cells (rows, columns); N nodes; E faces.
"""

from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

WALL = -1
"""The body of all insulating dough."""


@dataclass(frozen=True)
class Blocks:
    """The nodes of what was cut.

    node    (R, C) int32: node of each cell, -1 without dough
    at      (N, 2) float: middle of each node [mm]
    body    (N,) int32: which body a node belongs to
    across  (N, N) sparse, symmetric: border shared with a node of the same body to the left or right [mm]
    down    (N, N) sparse, symmetric: the same with a node above or below [mm]
    side_mm side of a block of a lump
    """

    node: NDArray[np.int32]
    at: NDArray[np.float64]
    body: NDArray[np.int32]
    across: csr_array
    down: csr_array
    cell_mm: float
    side_mm: float


@dataclass(frozen=True)
class Faces:
    """Where nodes meet, as E plane faces: pair (E, 2), area vector from the first to the second (E, 2) [mm],
    middle (E, 2) [mm]. The area vector of a staircase is that of the straight line from end to end."""

    pair: NDArray[np.intp]
    area: NDArray[np.float64]
    at: NDArray[np.float64]


def cut_into_blocks(body: NDArray[np.bool_] | NDArray[np.int32], cell_mm: float, side_mm: float) -> Blocks:
    """Cut bodies (R, C), 0 where nothing is, into blocks of about `side_mm` (half of it in WALL)."""
    step = max(1, round(side_mm / cell_mm))
    mask = body != 0
    rows, cols = np.nonzero(mask)
    own = np.asarray(body, np.int32)[mask]
    # Walls are thin: half the side there.
    steps = np.where(own == WALL, max(1, round(side_mm / 2 / cell_mm)), step)
    block = (rows // steps) * body.shape[1] + cols // steps
    cell = np.full(body.shape, -1, np.intp)
    cell[mask] = np.arange(len(rows))
    lengths = _face_lengths(np.asarray(body, np.int32))
    pairs, faces = [], []
    for axis in (0, 1):
        p, length = _neighbours(cell, axis, lengths[axis])
        alike = own[p[0]] == own[p[1]]
        pairs.append(p[:, alike])
        faces.append(length[alike])
    inside = np.concatenate([p[:, block[p[0]] == block[p[1]]] for p in pairs], axis=1)
    graph = coo_array((np.ones(inside.shape[1]), (inside[0], inside[1])), shape=(len(rows), len(rows)))
    n, member = bodies(graph)
    node = np.full(body.shape, -1, np.int32)
    node[mask] = member
    weight = np.bincount(member, minlength=n)
    at = [np.bincount(member, (x + 0.5) * cell_mm, n) / weight for x in (cols, rows)]
    of = np.zeros(n, np.int32)
    of[member] = own
    down, across = (_borders(member[p], w, n) * cell_mm for p, w in zip(pairs, faces, strict=True))
    return Blocks(node, np.stack(at, axis=1), of, across, down, cell_mm, step * cell_mm)


def faces_of(blocks: Blocks, body: int) -> Faces:
    """The faces of all nodes of this body, towards each other and towards nodes of other bodies."""
    own, h = blocks.body == body, blocks.cell_mm
    n = len(own)
    found = []
    for axis, way in ((0, (0.0, 1.0)), (1, (1.0, 0.0))):
        a, b = (blocks.node[:-1], blocks.node[1:]) if axis == 0 else (blocks.node[:, :-1], blocks.node[:, 1:])
        r, c = np.nonzero((a != b) & (a >= 0) & (b >= 0) & (own[a] | own[b]))
        i, j = a[r, c].astype(np.intp), b[r, c].astype(np.intp)
        sign = np.where(i < j, h, -h)
        x = (c + (0.5 if axis == 0 else 1.0)) * h
        y = (r + (1.0 if axis == 0 else 0.5)) * h
        found.append((np.minimum(i, j) * n + np.maximum(i, j), sign * way[0], sign * way[1], x, y))
    key, ax, ay, x, y = (np.concatenate(column) for column in zip(*found, strict=True))
    keys, which, count = np.unique(key, return_inverse=True, return_counts=True)
    sums = [np.bincount(which, values, len(keys)) for values in (ax, ay, x, y)]
    at = np.stack(sums[2:], axis=1) / count[:, None]
    return Faces(np.stack([keys // n, keys % n], axis=1), np.stack(sums[:2], axis=1), at)


def bodies(graph: Any) -> tuple[int, NDArray[np.intp]]:
    """How many connected bodies a sparse graph (N, N) has, and the number of the body of each node (N,)."""
    n, labels = cast(tuple[int, NDArray[np.int32]], connected_components(graph, directed=False))
    return n, labels.astype(np.intp)


def _face_lengths(body: NDArray[np.int32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lengths of the faces between neighbours down (R - 1, C) and across (R, C - 1), in cells.

    The outline of a slanting edge runs straight over its staircase: where three cells of four are of one
    body, the corner of the fourth is dough as well, and the faces beside it are half a cell longer.
    """
    down, across = np.ones((body.shape[0] - 1, body.shape[1])), np.ones((body.shape[0], body.shape[1] - 1))
    mixed = (body[:-1] != body[1:])[:, :-1] | (body[:, :-1] != body[:, 1:])[:-1]
    mixed |= (body[:, :-1] != body[:, 1:])[1:]
    r, c = np.nonzero(mixed)
    quad = np.stack([body[r, c], body[r, c + 1], body[r + 1, c], body[r + 1, c + 1]])
    for empty in range(4):
        one, other, third = (quad[k] for k in range(4) if k != empty)
        longer = (one != 0) & (one == other) & (other == third)
        row, col = divmod(empty, 2)
        np.add.at(across, (r[longer] + 1 - row, c[longer]), 0.5)
        np.add.at(down, (r[longer], c[longer] + 1 - col), 0.5)
    return down, across


def _neighbours(
    cell: NDArray[np.intp], axis: int, length: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """(2, E) numbers of the cells that are neighbours along this axis, and lengths of their faces (E,)."""
    a, b = (cell[:-1], cell[1:]) if axis == 0 else (cell[:, :-1], cell[:, 1:])
    both = (a >= 0) & (b >= 0)
    return np.stack([a[both], b[both]]), length[both]


def _borders(ends: NDArray[np.intp], length: NDArray[np.float64], n: int) -> csr_array:
    """(n, n) symmetric: length of the border that two nodes share, in cells."""
    apart = ends[0] != ends[1]
    r, c = np.concatenate([ends[:, apart], ends[::-1, apart]], axis=1)
    return csr_array(coo_array((np.tile(length[apart], 2), (r, c)), shape=(n, n)))
