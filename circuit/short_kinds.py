"""What kind of short a cut is about: from what its two ends touch, and what it runs through."""

from itertools import product

import numpy as np

from circuit.board import Placing, led_spots
from circuit.model import Lump, Point, Sculpture
from circuit.neck import Mesh
from circuit.ways import in_dough

WALL_NEAR_MM = 2.5  # what lies this near to the end of a cut counts as touching it
BORDER_MM = 2.0
LARGE_MM2 = 300.0  # a strip laid across is smaller, estimated
STRIP_MM = 9.0  # a neck up to this wide can be a strip laid across
BESIDE_MM = 30.0
LONG_STRIP = 0.5  # a strip is at least so many times as long as it is wide, estimated
BEYOND_MM = (0.5, 1.0, 1.5)
SHIFTS_MM = (0.0, -0.5, 0.5, -1.0, 1.0)
FAR_MM = 12.0
STEP_MM = 0.25

Line = tuple[Point, Point]


def kind_of(sculpture: Sculpture, mesh: Mesh, line: Line) -> str:
    """The code of a short, from what the two ends of the cut touch."""
    walls = sum(touches_wall(sculpture, end, line) for end in line)
    if walls == 2:
        return "short-over-the-wall"
    if walls == 1:
        return "short-round-the-end"
    return "short-bridge" if _is_strip(mesh, line) else "short-pressed-together"


def width_of(line: Line) -> float:
    """Length of a line [mm]."""
    return float(np.hypot(line[0][0] - line[1][0], line[0][1] - line[1][1]))


def middle_of(line: Line) -> Point:
    """Middle of a line."""
    return (line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2


def touches_wall(sculpture: Sculpture, end: Point, line: Line) -> bool:
    """Whether insulating dough lies at this end of a cut; a wall at the other end is not seen across it."""
    h, reach = sculpture.cell_mm, min(WALL_NEAR_MM, max(1.0, 0.45 * width_of(line)))
    r, c, n = int(end[1] / h), int(end[0] / h), int(reach / h) + 1
    r0, c0 = max(0, r - n), max(0, c - n)
    window = sculpture.grid[r0 : r + n + 1, c0 : c + n + 1]
    walls = [p for p, d in sculpture.dough_of.items() if not sculpture.doughs[d].conductive]
    rows, cols = np.nonzero(np.isin(window, walls))
    away = np.hypot((cols + c0 + 0.5) * h - end[0], (rows + r0 + 0.5) * h - end[1])
    # One stray cell is a crumb, not a wall.
    return bool((away <= reach).sum() * h * h >= 0.5)


def between_large_pieces(sculpture: Sculpture, lump: Lump, line: Line) -> bool:
    """Whether the cut runs along the border of two large pieces, and not across a strip laid between."""
    h = sculpture.cell_mm
    middle = middle_of(line)
    reach = int(BORDER_MM / h) + 1
    r0, c0 = max(0, int(middle[1] / h) - reach), max(0, int(middle[0] / h) - reach)
    near = np.unique(sculpture.grid[r0 : r0 + 2 * reach + 1, c0 : c0 + 2 * reach + 1])
    large = [p for p in lump.pieces if (sculpture.grid == p).sum() * h * h >= LARGE_MM2]
    return len(set(large) & {int(p) for p in near}) >= 2


def _is_strip(mesh: Mesh, line: Line) -> bool:
    """Whether what is cut is about as long as it is wide: a strip laid across, not lumps that lean together.

    It is as long as the slit beside it is wide.
    """
    width = width_of(line)
    slits = [slit for end, other in (line, line[::-1]) for slit in [_slit_mm(mesh, end, other)] if slit]
    return width <= STRIP_MM and bool(slits) and min(slits) >= LONG_STRIP * width


def _slit_mm(mesh: Mesh, end: Point, other: Point) -> float | None:
    """How far apart the dough is just beyond the end of a cut; None where no table is there."""
    along = np.subtract(end, other) / max(width_of((end, other)), 1e-9)
    across = np.array([-along[1], along[0]])
    inside = mesh.node >= 0
    found = []
    for off, shift in product(BEYOND_MM, SHIFTS_MM):
        start = np.add(end, off * along) + shift * across
        if in_dough(inside, mesh.cell_mm, start[None]).any():
            continue
        far = np.arange(0.0, FAR_MM, STEP_MM)
        sides = [in_dough(inside, mesh.cell_mm, start + sign * far[:, None] * across) for sign in (-1, 1)]
        found.append(sum(float(far[side.argmax()]) if side.any() else FAR_MM for side in sides))
    return float(np.median(found)) if found else None


def dough_at(sculpture: Sculpture, lump: Lump, at: Point) -> str:
    """Name of the dough of a lump nearest to a point."""
    rows, cols = np.nonzero(np.isin(sculpture.grid, lump.pieces))
    h = sculpture.cell_mm
    k = int(np.argmin(((cols + 0.5) * h - at[0]) ** 2 + ((rows + 0.5) * h - at[1]) ** 2))
    return sculpture.doughs[sculpture.dough_of[int(sculpture.grid[rows[k], cols[k]])]].name


def led_beside(sculpture: Sculpture, placing: Placing, at: Point) -> str:
    """The LED whose middle is nearest to a point, if it is near."""
    best, name = BESIDE_MM, ""
    for led, (a, b) in led_spots(sculpture, placing).items():
        if a is not None and b is not None:
            away = float(np.hypot((a[0] + b[0]) / 2 - at[0], (a[1] + b[1]) / 2 - at[1]))
            if away < best:
                best, name = away, led
    return name
