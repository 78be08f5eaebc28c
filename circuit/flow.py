"""Where the electricity goes: volts and current density in the dough, and lines that follow the current.

Lines leave an entry so that equal shares of its current pass between them; from there they run down the
volts until they come to an entry where current leaves the dough.

Notation: R, C cells; N nodes of the sheet; E edges between nodes, each in both directions; T terminals.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from circuit.blocks import Blocks
from circuit.board import Board, Placing, lay_out, own_placing
from circuit.model import Point, Sculpture
from circuit.outcome import Outcome, operate
from circuit.sheet import Sheet

LINES = 14
"""Lines for the strongest entry."""
LEAST_A = 5e-5
"""Less is not drawn."""
SMOOTH = 0.8
"""Of the side of a block: how far the volts of the blocks are blended into each other."""
ANGLES = 72
START_MM, END_MM, STEP_MM = 1.5, 1.6, 0.5
"""How near to the middle of an entry lines begin and end, and the length of a step."""
MOST_STEPS, CHECK = 1000, 20
GOING, LEAKED = -1, -2
EVERY_MM = 2.0


@dataclass(frozen=True)
class FlowLine:
    """A line from the entry where current comes into the dough to one where it goes out.

    points [mm]; current_A that it stands for; names of the two entries
    """

    points: tuple[Point, ...]
    current_A: float
    start: str
    end: str


@dataclass(frozen=True)
class Flow:
    """volts (R, C) float32, NaN where nothing is wired; density (R, C) float32 [A per m of width]; lines."""

    volts: NDArray[np.float32]
    density: NDArray[np.float32]
    lines: tuple[FlowLine, ...]


def flow_of(sculpture: Sculpture) -> Flow:
    """The flow in a sculpture as it stands."""
    board, placing = lay_out(sculpture), own_placing(sculpture)
    return flow(board, placing, operate(board, placing))


def flow(board: Board, placing: Placing, outcome: Outcome) -> Flow:
    """The flow on a board with this placing and its outcome."""
    sheet = board.sheet
    if sheet is None:
        empty = np.full(board.sculpture.grid.shape, np.nan, np.float32)
        return Flow(empty, np.zeros_like(empty), ())
    volts = np.array([outcome.spot_V[spot] for spot in board.spots])
    node_V = sheet.potential(volts)
    black = placing["pack.minus"]
    zero = 0.0 if black is None else outcome.spot_V[black]
    density = np.nan_to_num(_density(sheet, node_V))
    node = sheet.blocks.node
    cell_V = np.where(node >= 0, node_V[node] - zero, np.nan)
    return Flow(
        cell_V.astype(np.float32),
        np.where(node >= 0, density[node], 0.0).astype(np.float32),
        _lines(board, placing, sheet, node_V, sheet.conductance @ volts),
    )


def _edges(sheet: Sheet, node_V: NDArray[np.float64]) -> tuple[NDArray[np.intp], ...]:
    """Edges (E,), (E,) between nodes, and the current [A] from the first to the second (E,)."""
    edges = sheet.laplacian.tocoo()
    apart = edges.row != edges.col
    i, j = edges.row[apart].astype(np.intp), edges.col[apart].astype(np.intp)
    return i, j, np.nan_to_num(-edges.data[apart] * (node_V[i] - node_V[j]))


def _density(sheet: Sheet, node_V: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N,) current density [A/m]: the sum of the flows through the sides times where these sides lie, over
    the area, which is exact for a uniform flow (divergence theorem)."""
    i, j, current = _edges(sheet, node_V)
    blocks, n = sheet.blocks, len(node_V)
    area_mm2 = np.bincount(blocks.node[blocks.node >= 0], minlength=n) * blocks.cell_mm**2
    half = (blocks.at[j] - blocks.at[i]) / 2
    x, y = (np.bincount(i, current * half[:, axis], n) / area_mm2 for axis in (0, 1))
    return np.asarray(np.hypot(x, y) * 1e3)


def _lines(
    board: Board,
    placing: Placing,
    sheet: Sheet,
    node_V: NDArray[np.float64],
    terminal_A: NDArray[np.float64],
) -> tuple[FlowLine, ...]:
    """The lines of all entries, the strongest first."""
    name_at = {spot: name for name, spot in placing.items() if spot is not None}
    spots = list(board.spots)
    sources = [t for t in np.argsort(-terminal_A) if terminal_A[t] > LEAST_A and spots[t] in name_at]
    if not sources:
        return ()
    share_A = float(terminal_A[sources[0]]) / LINES
    fields: dict[int, _Field] = {}
    found = []
    for source in sources:
        home = board.home[spots[source]]
        ends = {
            t: spots[t]
            for t in range(len(spots))
            if terminal_A[t] < -LEAST_A / 2 and board.home[spots[t]] == home and spots[t] in name_at
        }
        if not ends:
            continue
        if home not in fields:
            fields[home] = _Field(sheet.blocks, node_V, home + 1)
        count = max(1, round(terminal_A[source] / share_A))
        for points, end in fields[home].follow(spots[source], ends, count):
            amount_A = float(terminal_A[source]) / count
            found.append(FlowLine(_thinned(points), amount_A, name_at[spots[source]], name_at[spots[end]]))
    return tuple(found)


class _Field:
    """The volts in one lump as a smooth field on the cells round it, down which lines run."""

    def __init__(self, blocks: Blocks, node_V: NDArray[np.float64], body: int) -> None:
        h = self._h = blocks.cell_mm
        own = (blocks.node >= 0) & (blocks.body[blocks.node] == body)
        rows, cols = np.nonzero(own)
        pad = int(3 * SMOOTH * blocks.side_mm / h) + 2
        r0, c0 = max(0, rows.min() - pad), max(0, cols.min() - pad)
        part = slice(r0, rows.max() + pad + 1), slice(c0, cols.max() + pad + 1)
        self._corner = np.array([c0 * h, r0 * h])
        self._inside = own[part]
        volts = np.where(self._inside, np.nan_to_num(node_V[blocks.node[part]]), 0.0)
        sigma = SMOOTH * blocks.side_mm / h
        weight = ndimage.gaussian_filter(self._inside.astype(float), sigma)
        smooth = ndimage.gaussian_filter(volts, sigma) / np.maximum(weight, 1e-6)
        # Beyond the rim the field is that of the nearest dough, so that lines run along the rim.
        nearest = ndimage.distance_transform_edt(~self._inside, return_distances=False, return_indices=True)
        down, across = np.gradient(smooth[tuple(nearest)])
        self._slope = -np.stack([across, down])
        self._nearest = nearest

    def follow(
        self, start: Point, ends: Mapping[int, Point], count: int
    ) -> Iterator[tuple[list[Point], int]]:
        """Lines from round a spot, between which equal currents pass, each with the terminal where it ends.

        Those that leak away through a wall end nowhere and are left out.
        """
        goals, places = list(ends), np.array(list(ends.values()))
        at = self._back(np.array(start) + START_MM * self._ways_out(start, count))
        trail = [at]
        arrived = np.full(count, GOING)
        while len(trail) < MOST_STEPS and (arrived == GOING).any():
            half = self._back(at + STEP_MM / 2 * self._way(at))
            moved = self._back(at + STEP_MM * self._way(half))
            at = np.where((arrived == GOING)[:, None], moved, at)
            trail.append(at)
            far = np.hypot(*(at[:, None] - places).transpose(2, 0, 1))
            close = (arrived == GOING) & (far.min(axis=1) < END_MM)
            arrived = np.where(close, far.argmin(axis=1), arrived)
            if len(trail) % CHECK == 0:
                stuck = np.hypot(*(at - trail[-CHECK]).T) < STEP_MM * CHECK / 4
                arrived = np.where((arrived == GOING) & stuck, LEAKED, arrived)
        lines = np.stack(trail, axis=1)
        for line, goal in zip(lines, arrived.tolist(), strict=True):
            if goal >= 0:
                points = [start, *((float(x), float(y)) for x, y in line), ends[goals[goal]]]
                yield points, goals[goal]

    def _ways_out(self, start: Point, count: int) -> NDArray[np.float64]:
        """(count, 2) unit vectors from a spot, between which equal currents pass."""
        angle = 2 * np.pi * (np.arange(ANGLES) + 0.5) / ANGLES
        way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        at = np.array(start) + START_MM * way
        there = np.hypot(*(self._back(at) - at).T) < self._h
        out = np.maximum((self._slope_at(at) * way).sum(axis=1), 0) * there + 1e-12
        passed = np.concatenate([[0.0], out.cumsum()]) / out.sum()
        turn = np.interp((np.arange(count) + 0.5) / count, passed, np.linspace(0, 2 * np.pi, ANGLES + 1))
        return np.stack([np.cos(turn), np.sin(turn)], axis=1)

    def _slope_at(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) how steeply the volts fall at places (n, 2)."""
        where = ((at - self._corner) / self._h - 0.5).T[::-1]
        return np.stack([ndimage.map_coordinates(s, where, order=1, mode="nearest") for s in self._slope], 1)

    def _way(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) unit vectors down the field."""
        slope = self._slope_at(at)
        return np.asarray(slope / np.maximum(np.hypot(*slope.T), 1e-12)[:, None])

    def _back(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places outside the dough moved to the nearest cell of it."""
        rows, cols = self._inside.shape
        c, r = (((at - self._corner) / self._h).astype(int)).T
        r, c = np.clip(r, 0, rows - 1), np.clip(c, 0, cols - 1)
        to = np.stack([self._nearest[1][r, c], self._nearest[0][r, c]], axis=1)
        return np.where(self._inside[r, c][:, None], at, self._corner + (to + 0.5) * self._h)


def _thinned(points: Sequence[Point]) -> tuple[Point, ...]:
    """About one point every two millimetres, both ends kept."""
    at = np.asarray(points)
    far = np.concatenate([[0.0], np.hypot(*np.diff(at, axis=0).T).cumsum()])
    wanted = np.linspace(0, far[-1], max(2, round(far[-1] / EVERY_MM) + 1))
    x, y = (np.interp(wanted, far, at[:, axis]) for axis in (0, 1))
    return tuple(zip(x.tolist(), y.tolist(), strict=True))
