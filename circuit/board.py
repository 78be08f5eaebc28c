"""A sculpture laid out for the sums: all dough reduced once, so that each what-if is a tiny problem.

A *placing* says at which spot [mm] each entry goes in, None for an entry that hangs free. Turning
an LED, moving a leg or swapping the leads only changes the placing; cutting and joining change
the sculpture (`divide`, `bridge`) and need a new board.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from circuit.lumps import bodies_of, find_lumps, is_conductive, legs, mask_of, square_conductance
from circuit.model import Entry, Joint, Lump, Point, Sculpture
from circuit.neck import Mesh, Neck, build_mesh
from circuit.sheet import Sheet, lay_sheet

Placing = Mapping[str, Point | None]

LEG_RADIUS_MM = 0.3  # wire of an LED leg about 0.5 mm square, common practice, no published source
LEAD_RADIUS_MM = 1.0  # stiff rod at the end of a lead, estimated
JOIN_WIDTH_MM = 8.0  # a pinch of dough pressed into a gap, estimated


@dataclass(frozen=True)
class Board:
    """All dough of a sculpture reduced to its spots.

    spots       place -> its terminal
    home        place -> index of its lump
    sheet       the dough with its terminals; None without any
    """

    sculpture: Sculpture
    lumps: tuple[Lump, ...]
    spots: Mapping[Point, int]
    home: Mapping[Point, int]
    sheet: Sheet | None

    @property
    def conductance(self) -> NDArray[np.float64]:
        """(T, T) [S] between the spots; rows sum to 0."""
        return np.zeros((0, 0)) if self.sheet is None else self.sheet.conductance

    @cached_property
    def _meshes(self) -> dict[str, Mesh]:
        return {}

    def mesh(self, lump: str) -> Mesh:
        """The mesh of the lump with this letter, made when it is first asked for."""
        if lump not in self._meshes:
            own = next(one for one in self.lumps if one.id == lump)
            self._meshes[lump] = build_mesh(mask_of(self.sculpture, own), self.sculpture.cell_mm)
        return self._meshes[lump]

    def lump_at(self, spot: Point | None) -> str | None:
        """Letter of the lump at a spot of this board, None when it hangs free."""
        return None if spot is None or spot not in self.home else self.lumps[self.home[spot]].id


def own_placing(sculpture: Sculpture) -> dict[str, Point | None]:
    """The placing as entered: an entry that misses the conductive dough hangs free."""
    return {
        name: entry.at if is_conductive(sculpture, entry.piece) else None
        for name, entry in sculpture.entries.items()
    }


def lay_out(sculpture: Sculpture, more: Iterable[tuple[str, Point]] = ()) -> Board:
    """Reduce all dough to its entries and more spots, as far as these lie in conductive dough.

    `more`: spots with the name of what may go in there.
    """
    lumps = find_lumps(sculpture)
    of_piece = {piece: i for i, lump in enumerate(lumps) for piece in lump.pieces}
    places = [(entry.at, entry.piece, _radius_mm(name)) for name, entry in sculpture.entries.items()]
    places += [(spot, piece_at(sculpture, spot), _radius_mm(name)) for name, spot in more]
    home: dict[Point, int] = {}
    terminals: list[tuple[Point, float]] = []
    for at, piece, radius in places:
        index = of_piece.get(piece or 0)
        if index is not None and at not in home:
            home[at] = index
            terminals.append((at, radius))
    sheet = None
    if terminals:
        homes = [index + 1 for index in home.values()]
        body, square = bodies_of(sculpture, lumps), square_conductance(sculpture)
        sheet = lay_sheet(body, square, sculpture.cell_mm, terminals, homes=homes)
    return Board(sculpture, lumps, {spot: i for i, spot in enumerate(home)}, home, sheet)


def _radius_mm(name: str) -> float:
    """Radius of what goes in."""
    return LEAD_RADIUS_MM if name.startswith("pack.") else LEG_RADIUS_MM


def piece_at(sculpture: Sculpture, spot: Point) -> int:
    """Id of the piece at a spot [mm], 0 on the table or off the grid."""
    r, c = int(spot[1] / sculpture.cell_mm), int(spot[0] / sculpture.cell_mm)
    inside = 0 <= r < sculpture.grid.shape[0] and 0 <= c < sculpture.grid.shape[1]
    return int(sculpture.grid[r, c]) if inside else 0


def turned(placing: Placing, part: str) -> Placing:
    """The placing with this LED, or other part, turned round."""
    first, second = (name for name in placing if name.rpartition(".")[0] == part)
    return {**placing, first: placing[second], second: placing[first]}


def swapped(placing: Placing) -> Placing:
    """The placing with the two leads swapped."""
    return {**placing, "pack.plus": placing["pack.minus"], "pack.minus": placing["pack.plus"]}


def divide(sculpture: Sculpture, lump: Lump, neck: Neck) -> Sculpture:
    """The sculpture with this lump cut at the neck: its pieces get new ids on both sides."""
    grid = sculpture.grid.copy()
    inside = np.isin(grid, lump.pieces)
    fresh = max(sculpture.dough_of) + 1
    dough_of = {p: d for p, d in sculpture.dough_of.items() if p not in lump.pieces}
    side_of: dict[int, bool] = {}
    for piece in lump.pieces:
        for side in (True, False):
            parts, count = ndimage.label((sculpture.grid == piece) & (neck.plus_side == side))
            grid[parts > 0] = parts[parts > 0] + fresh - 1
            for new in range(fresh, fresh + count):
                dough_of[new], side_of[new] = sculpture.dough_of[piece], side
            fresh += count
    kept = [j for j in sculpture.joints if not set(j.between) & set(lump.pieces)]
    joints = [touch(pair) for pair in adjacent(grid) if _one_side(pair, side_of)]
    entries = {
        name: _settled(entry, grid, inside, sculpture.cell_mm) if entry.piece in lump.pieces else entry
        for name, entry in sculpture.entries.items()
    }
    return replace(sculpture, grid=grid, dough_of=dough_of, joints=(*kept, *joints), entries=entries)


def touch(pair: tuple[int, int]) -> Joint:
    """Two pieces that touch."""
    return Joint(pair, "touching", 0.0, 0.0, (0.0, 0.0))


def _one_side(pair: tuple[int, int], side_of: Mapping[int, bool]) -> bool:
    return pair[0] in side_of and pair[1] in side_of and side_of[pair[0]] == side_of[pair[1]]


def adjacent(grid: NDArray[np.int32]) -> list[tuple[int, int]]:
    """Pairs of piece ids that share a cell face."""
    pairs = np.concatenate(
        [np.stack([a.ravel(), b.ravel()]) for a, b in ((grid[1:], grid[:-1]), (grid[:, 1:], grid[:, :-1]))],
        axis=1,
    )
    pairs = np.sort(pairs[:, (pairs[0] != pairs[1]) & (pairs.min(axis=0) > 0)], axis=0)
    return [(int(a), int(b)) for a, b in np.unique(pairs, axis=1).T]


def _settled(entry: Entry, grid: NDArray[np.int32], inside: NDArray[np.bool_], cell_mm: float) -> Entry:
    """The entry with the id of the nearest cell of its lump."""
    rows, cols = np.nonzero(inside)
    away = (cols + 0.5 - entry.at[0] / cell_mm) ** 2 + (rows + 0.5 - entry.at[1] / cell_mm) ** 2
    k = int(np.argmin(away))
    return replace(entry, piece=int(grid[rows[k], cols[k]]))


def bridge(sculpture: Sculpture, joint: Joint) -> Sculpture:
    """The sculpture with the gap of this joint filled by a pinch of dough."""
    radius = max(JOIN_WIDTH_MM / 2, joint.gap_mm)
    rows, cols = np.indices(sculpture.grid.shape)
    h = sculpture.cell_mm
    away = np.hypot((cols + 0.5) * h - joint.at[0], (rows + 0.5) * h - joint.at[1])
    conductive = np.isin(sculpture.grid, [p for p in sculpture.dough_of if is_conductive(sculpture, p)])
    pinch = (away <= radius) & ~conductive
    grid = np.where(pinch, joint.between[0], sculpture.grid).astype(np.int32)
    # What else the pinch meets is joined, too.
    met = np.unique(sculpture.grid[ndimage.binary_dilation(pinch) & conductive])
    others = [touch((joint.between[0], int(piece))) for piece in met if piece not in joint.between]
    return replace(sculpture, grid=grid, joints=(*sculpture.joints, touch(joint.between), *others))


def tied(board: Board, ends: tuple[Point, Point] | None, ohm: float) -> Board:
    """The board with so many ohms between two of its spots; as it is for None.

    Far quicker than `bridge`, which draws the dough and needs a new board.
    """
    if board.sheet is None or ends is None:
        return board
    a, b = (board.spots[at] for at in ends)
    conductance = board.conductance.copy()
    conductance[[a, b], [a, b]] += 1 / ohm
    conductance[[a, b], [b, a]] -= 1 / ohm
    return replace(board, sheet=replace(board.sheet, conductance=conductance))


def nearest_spots(board: Board, one: str, two: str) -> tuple[Point, Point] | None:
    """The spots of two lumps, by their letters, that are nearest to each other; None if one has no spot."""
    own = [[at for at in board.spots if board.lump_at(at) == letter] for letter in (one, two)]
    far = {(p, q): np.hypot(p[0] - q[0], p[1] - q[1]) for p, q in product(*own)}
    return min(far, key=lambda ends: far[ends], default=None)


def closed(sculpture: Sculpture, switch: str) -> Sculpture:
    """The sculpture with this switch closed."""
    parts = tuple(replace(part, closed=True) if part.id == switch else part for part in sculpture.parts)
    return replace(sculpture, parts=parts)


def without(sculpture: Sculpture, part: str) -> Sculpture:
    """The sculpture with this wire, or other part, taken out."""
    return replace(
        sculpture,
        parts=tuple(other for other in sculpture.parts if other.id != part),
        entries={n: e for n, e in sculpture.entries.items() if n.rpartition(".")[0] != part},
    )


def led_spots(sculpture: Sculpture, placing: Placing) -> dict[str, tuple[Point | None, Point | None]]:
    """LED id -> the spots of its long and short leg."""
    return {led.id: (placing[legs(led)[0]], placing[legs(led)[1]]) for led in sculpture.leds}
