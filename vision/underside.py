"""What a photo of the underside adds: dough below that joins two lumps, and doubtful contacts decided.

The sums know one sheet of dough only. So dough that lies below a wall, a gap or the table between two
lumps is laid into that sheet as a band along its shortest way, as wide as it is seen: the shortest
honest model. Insulating dough below changes nothing.

Notation: R, C cells (rows, columns) of the scene from above; points are (column, row) of its cells.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import cv2
import networkx as nx
import numpy as np
from numpy.typing import NDArray
from skimage.graph import MCP_Geometric

from vision.errors import VisionError
from vision.model import Contact, Piece, Point, Scene
from vision.pieces import Ids, parts_of
from vision.raster import Mask, disc, opened
from vision.registration import Registration, laid_on

THIN_MM = 3.0
"""Dough below that is narrower joins nothing: two rims may differ by as much (estimated)."""
SLIP_MM, MOST_SLIP_MM = 1.2, 3.0
"""So far from the rim of a lump at least (more where rims fit badly) dough below counts as under it."""
LEAST_UNDER_MM2, OWN_SHARE = 6.0, 0.25
"""What a body below must have under a lump, and its share of all conductive dough there, so that a wall
that leans does not count."""
CLEAR_MM = 1.2
"""A gap or wall of this width below is a clear one."""
CLEAR_RIM_MM = 1.0
"""Where rims lie further apart no doubt is decided: of 13 quick photos the four with more were the only ones
with a wrong grouping."""
LOOK_MM = 5.0
"""How far round a doubtful contact the underside is looked at."""
MOST_PATH_MM = 60.0


@dataclass(frozen=True)
class Underside:
    """The scene with what lies below, and what was new.

    joins    pairs of pieces that dough from below joins, with the place [px]
    decided  indices of contacts that were doubtful and are told by the underside now
    """

    scene: Scene
    joins: tuple[tuple[tuple[int, int], Point], ...]
    decided: tuple[int, ...]


def with_underside(scene: Scene, below: Scene, found: Registration) -> Scene:
    """The scene with what a photo of the underside adds; `found` lays `below` on `scene`."""
    return seen_from_below(scene, below, found).scene


def seen_from_below(scene: Scene, below: Scene, found: Registration) -> Underside:
    """The same, with what was new.

    Raises:
        VisionError: `below` may lie on `scene` in two ways, so that nobody knows what is under what.
    """
    if found.ambiguous:
        raise VisionError(
            "The underside fits in more than one way round; press a small mark of dough onto one rim and "
            "take both photos again."
        )
    view = _View.of(scene, below, found)
    clear = found.rim_mm <= CLEAR_RIM_MM
    told = (_told(scene, view, c) if clear and c.kind == "doubtful" else c for c in scene.contacts)
    scene = replace(scene, contacts=tuple(told))
    joins = []
    for pair, band, at in _bands(scene, view):
        scene = _with_band(scene, view, band)
        joins.append((pair, at))
    laid = {piece.id for piece in scene.pieces if piece.below}
    decided = (i for i, c in enumerate(scene.contacts) if c.below and not laid & set(c.between))
    return Underside(scene, tuple(joins), tuple(decided))


def _meet(ids: Ids, pair: tuple[int, int]) -> bool:
    """Whether two pieces share a border."""
    return bool((_four(ids == pair[0]) & (ids == pair[1])).any())


@dataclass(frozen=True)
class _View:
    """The underside on the cells of the scene.

    body   (R, C) int32: conductive body below that surely hangs together and is wide enough; 0 none
    colour (R, C) uint8: colour of dough below, 0 none
    seen   (R, C): what lies below is in plain view
    slip_mm  how far the two may be off
    """

    body: Ids
    colour: NDArray[np.uint8]
    seen: Mask
    slip_mm: float

    @classmethod
    def of(cls, scene: Scene, below: Scene, found: Registration) -> "_View":
        """The underside laid on the scene."""
        ids = laid_on(below.grid, below, scene, found)
        size = int(below.grid.max(initial=0)) + 1
        colour = np.zeros(size, np.uint8)
        conducts = np.zeros(size, bool)
        for piece in below.pieces:
            colour[piece.id], conducts[piece.id] = piece.colour, piece.role == "conductive"
        lump = np.zeros(size, np.int32)
        for number, group in enumerate(groups_of(below.pieces, _sure(below.contacts)), start=1):
            lump[list(group)] = number
        body = lump[ids]
        # Pieces of one lump that meet are wide together; what is thinner than 3 mm goes.
        wide = np.zeros_like(body)
        for number in np.unique(body[body > 0]):
            parts = parts_of(opened(body == number, THIN_MM / 2, scene.cell_mm))
            wide = np.where(parts > 0, parts + wide.max(), wide)
        unseen = laid_on(below.guessed.astype(np.int32), below, scene, found) > 0
        inside = laid_on(np.ones(below.grid.shape, np.int32), below, scene, found) > 0
        slip = float(np.clip(SLIP_MM + found.rim_mm, SLIP_MM, MOST_SLIP_MM))
        return cls(wide.astype(np.int32), colour[ids], inside & ~unseen, slip)


def _sure(contacts: Iterable[Contact]) -> list[tuple[int, int]]:
    return [c.between for c in contacts if c.kind == "touching"]


def groups_of(pieces: Sequence[Piece], joined: Iterable[tuple[int, int]]) -> list[frozenset[int]]:
    """Ids of conductive pieces that hang together, group by group."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(p.id for p in pieces if p.role == "conductive")
    graph.add_edges_from(pair for pair in joined if pair[0] in graph and pair[1] in graph)
    return [frozenset(group) for group in nx.connected_components(graph)]


def closed(contacts: Iterable[Contact]) -> list[tuple[int, int]]:
    """Pairs of pieces that touch, or more likely do."""
    return [c.between for c in contacts if c.kind == "touching" or (c.kind == "doubtful" and c.likely)]


def _bands(scene: Scene, view: _View) -> list[tuple[tuple[int, int], Mask, Point]]:
    """For each two lumps that a body below joins: pieces at its ends, the cells to lay, the place [px]."""
    # A doubtful contact whose cells do not meet counts as open, so that a band is laid.
    shut = [pair for pair in closed(scene.contacts) if _meet(scene.grid, pair)]
    lumps = groups_of(scene.pieces, shut)
    number = np.zeros(int(scene.grid.max(initial=0)) + 1, np.int32)
    for i, lump in enumerate(lumps, start=1):
        number[list(lump)] = i
    above = number[scene.grid]
    under = [_well_under(above == i + 1, view, scene.cell_mm) for i in range(len(lumps))]
    share = [_shares(view.body, mask, scene.cell_mm) for mask in under]
    ways = []
    for body in np.unique(view.body[view.body > 0]):
        over = [i for i in range(len(lumps)) if int(body) in share[i]]
        for a, b in combinations(over, 2):
            way = _way(view.body == body, under[a], under[b], above, (a + 1, b + 1), scene.cell_mm)
            if way is not None:
                ways.append((len(way), int(body), a, b, way))
    ways.sort(key=lambda w: w[0])
    joined: nx.Graph[int] = nx.Graph()
    joined.add_nodes_from(range(len(lumps)))
    out = []
    for _, body, a, b, way in ways:
        if nx.has_path(joined, a, b):
            continue
        joined.add_edge(a, b)
        band = _band(way, view.body == body, above, scene.cell_mm)
        row, col = way[len(way) // 2]
        ends = [int(scene.grid[way[k]]) for k in (0, -1)]
        mid = _on_band(band, way) or (row, col)
        out.append(((min(ends), max(ends)), band, _px(scene, mid)))
    return out


def _well_under(lump: Mask, view: _View, cell_mm: float) -> Mask:
    """Cells so far inside a lump from above that what is below is truly below it."""
    inner = cv2.erode(lump.astype(np.uint8), disc(view.slip_mm, cell_mm)).astype(bool)
    if not inner.any():
        return lump & view.seen
    return inner & view.seen


def _shares(body: Ids, under: Mask, cell_mm: float) -> set[int]:
    """The bodies below that are the underside of a lump, or a good part of it."""
    area = np.bincount(body[under]).astype(float) * cell_mm**2
    total = float(area[1:].sum())
    return {i for i in range(1, len(area)) if area[i] >= max(LEAST_UNDER_MM2, OWN_SHARE * total)}


def _way(
    body: Mask, one: Mask, other: Mask, above: Ids, ends: tuple[int, int], cell_mm: float
) -> list[tuple[int, int]] | None:
    """The way (row, column) through a body below from one lump to the other that lays least new dough.

    It begins and ends on the last cell of the lumps above.
    """
    start, goal = body & one, body & other
    own = np.isin(above, ends)
    free = body | own
    cost = np.where(free, np.where(own, 0.05, 1.0), np.inf)
    # Right below: where the body is, not across a neighbour's dough above.
    cost[(above > 0) & ~own] += 4.0
    mcp = MCP_Geometric(cost)
    seeds = np.argwhere(start)
    if not len(seeds) or not goal.any():
        return None
    far, _ = mcp.find_costs([tuple(s) for s in seeds[:: max(1, len(seeds) // 400)]])
    targets = np.argwhere(goal)
    best = targets[int(np.argmin(far[goal]))]
    if not np.isfinite(far[tuple(best)]):
        return None
    path = [(int(r), int(c)) for r, c in mcp.traceback(tuple(best))]
    first = max((i for i, p in enumerate(path) if above[p] == ends[0]), default=None)
    if first is None:
        return None
    last = next((i for i in range(first, len(path)) if above[path[i]] == ends[1]), None)
    if last is None or (last - first) * cell_mm > MOST_PATH_MM:
        return None
    return path[first : last + 1]


def _band(way: list[tuple[int, int]], body: Mask, above: Ids, cell_mm: float) -> Mask:
    """Cells along the way, as wide as the body is there and 3 mm at least, where no lump lies above."""
    room = cv2.distanceTransform(np.pad(body, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
    out = np.zeros(body.shape, np.uint8)
    for row, col in way:
        half = max(THIN_MM / 2 / cell_mm, float(room[row, col]))
        cv2.circle(out, (col, row), max(1, round(half)), 1, -1)
    spine = np.zeros(body.shape, bool)
    spine[tuple(np.array(way).T)] = True
    laid = (out > 0) & (body | _beside(spine, THIN_MM / 2, cell_mm)) & (above == 0)
    ends = {above[way[0]], above[way[-1]]}
    parts = parts_of(laid | np.isin(above, list(ends)) & _beside(laid, 2 * cell_mm, cell_mm))
    kept = np.unique(parts[spine & laid])
    return np.asarray(laid & np.isin(parts, kept[kept > 0]))


def _beside(mask: Mask, mm: float, cell_mm: float) -> Mask:
    return cv2.dilate(mask.astype(np.uint8), disc(mm, cell_mm)).astype(bool)


def _on_band(band: Mask, way: list[tuple[int, int]]) -> tuple[int, int] | None:
    """The middle of that part of the way that lies on the band."""
    on = [p for p in way if band[p]]
    return on[len(on) // 2] if on else None


def _px(scene: Scene, cell: tuple[int, int]) -> Point:
    return scene.view.to_px(((cell[1] + 0.5) * scene.cell_mm, (cell[0] + 0.5) * scene.cell_mm))


def _with_band(scene: Scene, view: _View, band: Mask) -> Scene:
    """The scene with a band as a piece of its own that touches what it meets."""
    grid = scene.grid.copy()
    if not band.any():
        return scene
    piece = _piece(scene, view, band)
    grid[band] = piece.id
    grid.setflags(write=False)
    guessed = scene.guessed & ~band
    guessed.setflags(write=False)
    conducts = {p.id for p in scene.pieces if p.role == "conductive"}
    around = _beside(band, 1.5 * scene.cell_mm, scene.cell_mm) & ~band
    met = [int(i) for i in np.unique(grid[_four(band) & ~band]) if i > 0]
    contacts = list(scene.contacts)
    for other in met:
        rows, cols = np.nonzero(around & (grid == other))
        length = len(rows) * scene.cell_mm / 1.5
        row, col = rows[len(rows) // 2], cols[len(cols) // 2]
        contacts.append(
            Contact((other, piece.id), "touching", 0.0, length, _px(scene, (int(row), int(col))), below=True)
        )
    ends = [i for i in met if i in conducts]
    contacts = [c for c in contacts if not _bridged(scene, c, ends, band)]
    return replace(
        scene, grid=grid, guessed=guessed, pieces=(*scene.pieces, piece), contacts=tuple(contacts),
        walls=tuple(w for w in scene.walls if not _under(scene, w.thinnest_at, band)),
    )  # fmt: skip


def _piece(scene: Scene, view: _View, band: Mask) -> Piece:
    number = max(piece.id for piece in scene.pieces) + 1
    seen = np.bincount(view.colour[band & (view.body > 0)], minlength=2)
    conductive = sorted({p.colour for p in scene.pieces if p.role == "conductive"})
    colour = max(conductive, key=lambda k: seen[k] if k < len(seen) else 0)
    lines, _ = cv2.findContours(band.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rim = cv2.approxPolyDP(max(lines, key=len), 1.0, closed=True).reshape(-1, 2)
    outline = tuple(_px(scene, (int(row), int(col))) for col, row in rim)
    area = float(band.sum()) * scene.cell_mm**2
    return Piece(number, colour, "conductive", area, outline, below=True)


def _four(mask: Mask) -> Mask:
    """A mask with the neighbours of its cells."""
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    return cv2.dilate(mask.astype(np.uint8), cross).astype(bool)


def _bridged(scene: Scene, contact: Contact, ends: Sequence[int], band: Mask) -> bool:
    """Whether a gap, or a doubt, between two pieces is one that the band closes."""
    pair = contact.between
    return contact.kind != "touching" and set(pair) <= set(ends) and _under(scene, contact.at, band)


def _under(scene: Scene, at: Point, band: Mask) -> bool:
    x, y = scene.view.to_mm(at)
    row, col = int(y / scene.cell_mm), int(x / scene.cell_mm)
    near = int(2 / scene.cell_mm)
    return bool(band[max(0, row - near) : row + near + 1, max(0, col - near) : col + near + 1].any())


def _told(scene: Scene, view: _View, contact: Contact) -> Contact:
    """A doubtful contact as the underside shows it; the same where that is no clearer."""
    x, y = (v / scene.cell_mm for v in scene.view.to_mm(contact.at))
    reach = int(LOOK_MM / scene.cell_mm)
    box = tuple(slice(max(0, int(v) - reach), int(v) + reach + 1) for v in (y, x))
    ids, body, seen = scene.grid[box], view.body[box], view.seen[box]
    if seen.mean() < 0.6 or not ids.size:
        return contact
    sides = [_main(body[(ids == i) & seen]) for i in contact.between]
    if 0 in sides:
        return contact
    if sides[0] == sides[1]:
        # Where no cells meet, a band has to be laid instead (`_bands`).
        if not _passes(body == sides[0], ids, contact.between) or not _meet(ids, contact.between):
            return contact
        return replace(contact, kind="touching", likely=True, confidence=0.98, below=True)
    width = _apart(body == sides[0], body == sides[1], scene.cell_mm)
    if width < CLEAR_MM:
        return contact
    return replace(contact, kind="gap", gap_mm=width, likely=False, confidence=0.95, below=True)


def _main(values: NDArray[np.int32]) -> int:
    """The commonest value, 0 when most is none."""
    return int(np.argmax(np.bincount(values))) if len(values) else 0


def _passes(body: Mask, ids: Ids, pair: tuple[int, int]) -> bool:
    """Whether a body below joins both pieces within the window."""
    parts = parts_of(body)
    there = [set(np.unique(parts[(ids == i) & body])) - {0} for i in pair]
    return bool(there[0] & there[1])


def _apart(one: Mask, other: Mask, cell_mm: float) -> float:
    far = cv2.distanceTransform((~one).astype(np.uint8), cv2.DIST_L2, 5)
    return max(0.0, float(far[other].min()) - 1) * cell_mm if other.any() and one.any() else math.inf
