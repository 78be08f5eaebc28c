"""How thick insulating dough is where it keeps conductive dough apart.

The middle of a wall is where the nearest conductive cells lie on opposite sides: the integer medial
axis (Hesselink and Roerdink, IEEE Trans. Pattern Anal. Mach. Intell. 30 (2008) 2204). There the
thickness is the integral across of the chance that no conductive dough lies there.

Notation: R, C cells (rows, columns); n places on middles of walls, (x, y) in cells.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from vision.grid import Grid, agreeing, cropped
from vision.model import Piece, Wall
from vision.raster import Mask
from vision.slits import Doubles, Ints, sampled, territories, through

MOST_MM = 10.0
"""What is thicker keeps apart whatever lies beside it (estimated)."""
BESIDE_MM = 1.0
"""So much table may lie between a wall's middle and its dough (estimated)."""
OPPOSITE = 0.8
"""Distance of the two nearest conductive cells over what it is straight across: sine of half the angle."""
STEP_MM, ALONG_MM, LEAST_MM = 0.5, 1.0, 2.0
"""Spacing of the thicknesses told, along how much wall each is a mean, and the shortest wall told."""
JUMP_MM = 2.0
TIP, TIP_MM = 0.5, 1.4
"""Half the thickness grows by so much a mm into the end of a wall (0.7 into a right angle), as seen over so
many mm."""


@dataclass(frozen=True)
class _Middles:
    """Places on middles of walls.

    at (n, 2), across (n, 2) unit vector, apart (n,) [cells], group (n, 3) the wall and the two beside it
    """

    at: Doubles
    across: Doubles
    apart: Doubles
    group: Ints


def find_walls(grid: Grid, pieces: tuple[Piece, ...]) -> tuple[Wall, ...]:
    """The walls, ordered by their piece and the two conductive pieces beside them."""
    grid = cropped(grid, BESIDE_MM)
    conducts = np.zeros(max((piece.id for piece in pieces), default=0) + 1, bool)
    conducts[[piece.id for piece in pieces if piece.role == "conductive"]] = True
    conductive = conducts[grid.ids]
    insulating = (grid.ids > 0) & ~conductive
    if not insulating.any() or not conductive.any():
        return ()
    source, far = territories(conductive)
    found = _middles(grid, insulating, conductive, source, far)
    if not len(found.at):
        return ()
    kept = ~_tips(found, TIP_MM / grid.cell_mm)
    found = _Middles(found.at[kept], found.across[kept], found.apart[kept], found.group[kept])
    normal = _normals(found, ALONG_MM / grid.cell_mm)
    chance = agreeing(grid.ground, conductive)
    width, _, facing = through(found.at, normal, found.apart, chance, grid.cell_mm)
    keys, own = np.unique(found.group, axis=0, return_inverse=True)
    out = []
    for i, (piece, a, b) in enumerate(keys.tolist()):
        mine = (own.ravel() == i) & facing
        wall = _wall(grid, piece, (a, b), found.at[mine], width[mine]) if piece else None
        if wall is not None:
            out.append(wall)
    return tuple(out)


def _middles(
    grid: Grid, insulating: Mask, conductive: Mask, source: Ints, far: NDArray[np.float32]
) -> _Middles:
    """Sides of cells across which the nearest conductive cells are opposite each other."""
    rows, cols = insulating.shape
    reach = 2 * int(np.ceil(BESIDE_MM / grid.cell_mm)) + 1
    near = cv2.dilate(insulating.astype(np.uint8), np.ones((reach, reach), np.uint8)) > 0
    near &= ~conductive & (far * grid.cell_mm < MOST_MM / 2)
    places, vectors, ends = [], [], []
    for down, right in ((0, 1), (1, 0)):
        here = (slice(0, rows - down), slice(0, cols - right))
        there = (slice(down, None), slice(right, None))
        r, c = np.nonzero(near[here] & near[there] & (source[here] != source[there]))
        p, q = source[here][r, c], source[there][r, c]
        vector = np.stack([q % cols - p % cols, q // cols - p // cols], axis=1).astype(float)
        straight = far[here][r, c] + far[there][r, c] + 1
        kept = np.hypot(vector[:, 0], vector[:, 1]) > OPPOSITE * straight
        places.append(np.stack([c + right / 2, r + down / 2], axis=1)[kept])
        vectors.append(vector[kept])
        ends.append(np.stack([p, q], axis=1)[kept])
    at, vector, end = (np.concatenate(part) for part in (places, vectors, ends))
    apart = np.hypot(vector[:, 0], vector[:, 1])
    group = np.column_stack(
        [_wall_between(grid, insulating, at, vector), np.sort(grid.ids.ravel()[end], axis=1)]
    )
    return _Middles(at, vector / np.maximum(apart, 1e-9)[:, None], apart - 1, group.astype(np.int64))


def _wall_between(grid: Grid, insulating: Mask, at: Doubles, vector: Doubles) -> Ints:
    """The insulating piece that lies at the middle, or else farther out on the way across; 0 without any."""
    walls = np.where(insulating, grid.ids, 0).astype(np.float32)
    out = np.zeros(len(at), np.int64)
    for share in (0.0, 0.15, -0.15, 0.3, -0.3, 0.4, -0.4):
        place = np.rint(at + share * vector)  # a whole cell, so that ids do not mix
        here = sampled(walls, place[:, :1], place[:, 1:]).ravel().astype(np.int64)
        out = np.where(out == 0, here, out)
    return out


def _near(found: _Middles, reach: float) -> Ints:
    """Pairs (k, 2) of places of one group within `reach` cells, both ways and each with itself."""
    _, own = np.unique(found.group, axis=0, return_inverse=True)
    tree = cKDTree(np.column_stack([found.at, own.ravel() * (4 * reach + 4)]))
    near = np.asarray(tree.query_pairs(reach, output_type="ndarray"), np.int64).reshape(-1, 2)
    alone = np.repeat(np.arange(len(found.at))[:, None], 2, axis=1)
    return np.concatenate([near, near[:, ::-1], alone])


def _tips(found: _Middles, reach: float) -> Mask:
    """Places (n,) beside which the wall widens as fast as into a corner: its ends, not its thickness."""
    near = _near(found, reach)
    far = np.hypot(*(found.at[near[:, 0]] - found.at[near[:, 1]]).T)
    wider = (found.apart[near[:, 1]] - found.apart[near[:, 0]]) / 2 > TIP * far
    out = np.zeros(len(found.at), bool)
    out[near[wider & (far > reach / 2), 0]] = True
    return out


def _normals(found: _Middles, reach: float) -> Doubles:
    """Directions across (n, 2), from those round each place; angles doubled, as each may point either way."""
    near = _near(found, reach)
    twice = 2 * np.arctan2(found.across[:, 1], found.across[:, 0])
    total = [np.bincount(near[:, 0], f(twice)[near[:, 1]], len(found.at)) for f in (np.cos, np.sin)]
    angle = np.arctan2(total[1], total[0]) / 2
    return np.column_stack([np.cos(angle), np.sin(angle)])


def _wall(grid: Grid, piece: int, between: tuple[int, int], at: Doubles, width: Doubles) -> Wall | None:
    """One wall from its measured places; None when it is too short to tell."""
    if not len(at):
        return None
    step = STEP_MM / grid.cell_mm
    _, own, count = np.unique(np.floor(at / step), axis=0, return_inverse=True, return_counts=True)
    own = own.ravel()
    x, y, thick = (np.bincount(own, v) / count for v in (at[:, 0], at[:, 1], width))
    if len(x) * STEP_MM < LEAST_MM:
        return None
    order = np.array(list(_chain(np.column_stack([x, y]), JUMP_MM / grid.cell_mm)))
    place = np.column_stack([x, y])[order]
    apart = np.hypot(place[:, None, 0] - place[None, :, 0], place[:, None, 1] - place[None, :, 1])
    near = np.maximum(0, 1 - (apart * grid.cell_mm / ALONG_MM) ** 2) * count[order]
    smooth = (near @ thick[order]) / near.sum(axis=1) * grid.cell_mm
    thinnest = int(np.argmin(smooth))
    px = tuple(grid.px(float(row), float(col)) for col, row in place)
    told = tuple(float(v) for v in smooth)
    return Wall(piece, between, told, px, told[thinnest], px[thinnest])


def _chain(places: Doubles, jump: float) -> Iterator[int]:
    """The places along their line: from one to the nearest, both ways; then what is left by branches."""
    free = np.ones(len(places), bool)
    while free.any():
        first = int(np.argmax(free))
        free[first] = False
        forward = _onward(places, free, first, jump)
        yield from reversed(_onward(places, free, first, jump))
        yield first
        yield from forward


def _onward(places: Doubles, free: Mask, at: int, jump: float) -> list[int]:
    """From a place to the nearest free one as long as it is near; takes them from `free`."""
    out = []
    while free.any():
        away = np.where(free, ((places - places[at]) ** 2).sum(axis=1), np.inf)
        at = int(np.argmin(away))
        if away[at] > jump**2:
            break
        free[at] = False
        out.append(at)
    return out
