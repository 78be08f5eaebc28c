"""Shorts: both leads in one lump, where the dough would have to be cut, and what kind of short it is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import ndimage

from circuit.board import Board, Placing, divide, led_spots
from circuit.lumps import mask_of
from circuit.model import Finding, Lump, Point, Sculpture
from circuit.neck import Mesh, Neck, build_mesh, narrowest, walk

# Prices in mm of cut: an LED that was in backwards all along, or on one side altogether, must
# make the cut that much shorter before it is believed. Estimated.
BACKWARDS_MM = 10.0
ONE_SIDE_MM = 16.0
UNDECIDED_V = 0.02  # below this the dough's own volts say nothing about which way an LED stands
WALL_NEAR_MM = 2.5  # what lies this near to the end of a cut counts as touching it
BORDER_MM = 2.0
THREAD_MM = 1.5
LARGE_MM2 = 300.0  # a strip laid across is smaller, estimated
STRIP_MM = 9.0  # a neck up to this wide can be a strip laid across

Way = Literal["forward", "backwards", "one-side"]


@dataclass(frozen=True)
class Short:
    """A short of the whole pack: its lump, the cut, how the LEDs then stand, and the result."""

    lump: Lump
    mesh: Mesh
    neck: Neck
    ways: Mapping[str, Way]
    cleared: Sculpture


def find_short(board: Board, placing: Placing, volts: Mapping[Point, float]) -> Short | None:
    """The short between the leads, if both are in one lump.

    `volts` at the spots of the board tell which way each LED most likely stands; the shortest cut
    is then improved by trying each LED the other way.
    """
    plus, minus = placing["pack.plus"], placing["pack.minus"]
    if plus is None or minus is None or board.lump_at(plus) != board.lump_at(minus):
        return None
    lump = board.lumps[board.home[plus]]
    mesh = build_mesh(mask_of(board.sculpture, lump), board.sculpture.cell_mm)
    pairs = {
        led: (a, b)
        for led, (a, b) in led_spots(board.sculpture, placing).items()
        if a is not None and b is not None and board.lump_at(a) == board.lump_at(b) == lump.id
    }
    ways: dict[str, Way] = {
        led: "backwards" if volts[a] < volts[b] - UNDECIDED_V else "forward" for led, (a, b) in pairs.items()
    }
    best = _cut(mesh, plus, minus, pairs, ways)
    for _ in range(2 * len(pairs) + 1):
        other = _better(mesh, plus, minus, pairs, ways, best)
        if other is None:
            break
        ways, best = other
    if best is None:
        return None
    return Short(lump, mesh, best, ways, divide(board.sculpture, lump, best))


def _cut(
    mesh: Mesh, plus: Point, minus: Point, pairs: Mapping[str, tuple[Point, Point]], ways: Mapping[str, Way]
) -> Neck | None:
    high, low = [plus], [minus]
    for led, (long_leg, short_leg) in pairs.items():
        if ways[led] == "forward":
            high.append(long_leg)
            low.append(short_leg)
        elif ways[led] == "backwards":
            high.append(short_leg)
            low.append(long_leg)
    return narrowest(mesh, high, low)


def _price(neck: Neck | None, ways: Mapping[str, Way]) -> float:
    if neck is None:
        return float("inf")
    values = list(ways.values())
    return neck.length_mm + BACKWARDS_MM * values.count("backwards") + ONE_SIDE_MM * values.count("one-side")


def _better(
    mesh: Mesh,
    plus: Point,
    minus: Point,
    pairs: Mapping[str, tuple[Point, Point]],
    ways: dict[str, Way],
    best: Neck | None,
) -> tuple[dict[str, Way], Neck | None] | None:
    """The best change of one LED that makes the cut cheaper, None when there is none."""
    found, price = None, _price(best, ways)
    for led in pairs:
        for way in ("forward", "backwards", "one-side"):
            if way == ways[led]:
                continue
            trial: dict[str, Way] = {**ways, led: way}
            neck = _cut(mesh, plus, minus, pairs, trial)
            if _price(neck, trial) < price - 0.5:
                found, price = (trial, neck), _price(neck, trial)
    return found


def short_findings(board: Board, short: Short, placing: Placing) -> list[Finding]:
    """One finding for each line of the cut."""
    plus, minus = placing["pack.plus"], placing["pack.minus"]
    if plus is None or minus is None:
        return []
    found: list[Finding] = []
    for line in short.neck.lines:
        # Beside a real neck, a thread of dough this thin is most likely an edge seen wrongly.
        if found and np.hypot(line[0][0] - line[1][0], line[0][1] - line[1][1]) < THREAD_MM:
            continue
        (x1, y1), (x2, y2) = line
        at = ((x1 + x2) / 2, (y1 + y2) / 2)
        there, back = walk(short.mesh, plus, at), walk(short.mesh, at, minus)
        length = float(np.hypot(x1 - x2, y1 - y2))
        path = (*there[:-1], *back) if there and back else walk(short.mesh, plus, minus)
        code = _kind(board.sculpture, short, line, path)
        facts = {"dough": _dough_at(board.sculpture, short, at), "lump": short.lump.id}
        beside = _led_beside(board.sculpture, placing, at)
        if beside:
            facts["beside"] = beside
        found.append(Finding(code, "stop", ("pack",), at, path, line, length, facts))
    return found


def _kind(sculpture: Sculpture, short: Short, line: tuple[Point, Point], path: tuple[Point, ...]) -> str:
    """The code of a short, from what the two ends of the cut touch."""
    walls = sum(_touches_wall(sculpture, end) for end in line)
    if walls == 2:
        return "short-over-the-wall"
    if walls == 1:
        return "short-round-the-end"
    if _between_large_pieces(sculpture, short, line):
        return "short-pressed-together"
    return "short-bridge" if _is_strip(short.mesh, line, path) else "short-pressed-together"


def _between_large_pieces(sculpture: Sculpture, short: Short, line: tuple[Point, Point]) -> bool:
    """Whether the cut runs along the border of two large pieces, and not across a strip laid between."""
    h = sculpture.cell_mm
    middle = ((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2)
    reach = int(BORDER_MM / h) + 1
    r0, c0 = max(0, int(middle[1] / h) - reach), max(0, int(middle[0] / h) - reach)
    near = np.unique(sculpture.grid[r0 : r0 + 2 * reach + 1, c0 : c0 + 2 * reach + 1])
    large = [p for p in short.lump.pieces if (sculpture.grid == p).sum() * h * h >= LARGE_MM2]
    return len(set(large) & {int(p) for p in near}) >= 2


def _touches_wall(sculpture: Sculpture, end: Point) -> bool:
    """Whether insulating dough lies at this end of a cut."""
    h, reach = sculpture.cell_mm, WALL_NEAR_MM
    r, c, n = int(end[1] / h), int(end[0] / h), int(reach / h) + 1
    r0, c0 = max(0, r - n), max(0, c - n)
    window = sculpture.grid[r0 : r + n + 1, c0 : c + n + 1]
    walls = [p for p, d in sculpture.dough_of.items() if not sculpture.doughs[d].conductive]
    rows, cols = np.nonzero(np.isin(window, walls))
    away = np.hypot((cols + c0 + 0.5) * h - end[0], (rows + r0 + 0.5) * h - end[1])
    # One stray cell is a crumb, not a wall.
    return bool((away <= reach).sum() * h * h >= 0.5)


def _is_strip(mesh: Mesh, line: tuple[Point, Point], path: tuple[Point, ...]) -> bool:
    """Whether the dough stays as narrow as the cut for at least half its width along the way."""
    width = float(np.hypot(line[0][0] - line[1][0], line[0][1] - line[1][1]))
    if not path or width > STRIP_MM:
        return False
    depth = ndimage.distance_transform_edt(np.pad(mesh.node >= 0, 1))[1:-1, 1:-1] * mesh.cell_mm
    way = np.asarray(path)
    rows = np.clip((way[:, 1] / mesh.cell_mm).astype(int), 0, depth.shape[0] - 1)
    cols = np.clip((way[:, 0] / mesh.cell_mm).astype(int), 0, depth.shape[1] - 1)
    at = ((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2)
    near = np.hypot(way[:, 0] - at[0], way[:, 1] - at[1]) <= width + 6
    narrow = near & (depth[rows, cols] <= 0.7 * width)
    steps = np.hypot(*np.diff(way, axis=0).T)
    return bool(steps[narrow[1:]].sum() >= max(2.0, 0.5 * width))


def _dough_at(sculpture: Sculpture, short: Short, at: Point) -> str:
    """Name of the dough of the short's lump nearest to a point."""
    rows, cols = np.nonzero(np.isin(sculpture.grid, short.lump.pieces))
    h = sculpture.cell_mm
    k = int(np.argmin(((cols + 0.5) * h - at[0]) ** 2 + ((rows + 0.5) * h - at[1]) ** 2))
    return sculpture.doughs[sculpture.dough_of[int(sculpture.grid[rows[k], cols[k]])]].name


def _led_beside(sculpture: Sculpture, placing: Placing, at: Point, within_mm: float = 30.0) -> str:
    """The LED whose middle is nearest to a point, if it is near."""
    best, name = within_mm, ""
    for led, (a, b) in led_spots(sculpture, placing).items():
        if a is not None and b is not None:
            away = float(np.hypot((a[0] + b[0]) / 2 - at[0], (a[1] + b[1]) / 2 - at[1]))
            if away < best:
                best, name = away, led
    return name
