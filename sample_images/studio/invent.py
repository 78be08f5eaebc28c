"""Random sculptures with truth, as rasters: any number of them, each from its seed.

A sculpture is drawn in mm on a grid of `CELL_MM`; the table lies under all of it. What is drawn
here is only geometry; `quick` and `traced` make photos of it.

Notation: R, C cells (rows, columns); X, Y (R, C) mm, x to the right, y down, origin in the middle.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.colours import pick_colours
from sample_images.studio.invention import Invention, Stuff, lumps_of, narrowest
from sample_images.studio.outlines import blob, side_by_side, split
from sample_images.studio.raster import (
    CELL_MM,
    Floats,
    Labels,
    Mask,
    Point,
    Rng,
    cell_clip,
    depth_of,
    grid,
    smooth,
)
from sample_images.studio.wiring import pack, running_off, things, wire

FAULTS = (
    "none",
    "short-pressed-together",
    "short-bridge",
    "short-round-the-end",
    "short-over-the-wall",
    "near-touch",
    "thin-wall",
    "leg-out",
    "leg-in-insulator",
    "led-backwards",
    "too-many-in-a-row",
    "gap-in-lump",
)
"""What may be wrong with a sculpture, by the codes of the report."""
WALLED = ("short-round-the-end", "short-over-the-wall", "thin-wall", "leg-in-insulator")
OPEN = ("short-bridge", "near-touch", "short-pressed-together")
MOST_GAP_MM = {"near-touch": 1.6, "thin-wall": 2.6}
"""What counts as near, between the lumps of the two leads (estimated)."""
ATTEMPTS = 80


@dataclass
class Draft:
    """A sculpture in the making.

    body, sides  (R, C): the whole outline; ids of the parts that seams make of it, before any fault
    labels, solid: as in `Invention`; doughs 1 to `kinds` conduct, `walls` more do not
    """

    rng: Rng
    X: Floats
    Y: Floats
    sides: NDArray[np.int32]
    seam: Floats
    kinds: int
    walls: int
    labels: Labels
    solid: Labels

    def any_wall(self) -> int:
        """One of the insulating doughs."""
        return self.kinds + 1 + int(self.rng.integers(0, self.walls))

    def put(self, where: Mask, label: int, solid: int) -> None:
        """Lay one dough, or with 0 and 0 none."""
        self.labels[where], self.solid[where] = label, solid

    def place(self, row: int, col: int) -> Point:
        """The middle of a cell in mm."""
        return float(self.X[row, col]), float(self.Y[row, col])


def invent(
    seed: int, fault: str | None = None, table: Sequence[float] = (0.5, 0.5, 0.5), skip: int = 0
) -> Invention:
    """The sculpture of a seed; `fault` is one of FAULTS, by default at random. `table`: linear colour.

    `skip` asks for another sculpture of the same seed. Raises ValueError when none comes out right.
    """
    chosen = fault or str(np.random.default_rng([seed, 5]).choice(FAULTS))
    for attempt in range(skip * ATTEMPTS, (skip + 1) * ATTEMPTS):
        rng = np.random.default_rng([seed, attempt])
        made = _try(rng, seed, chosen, table)
        if made is not None:
            return made
    raise ValueError(f"no sculpture comes of seed {seed} with {chosen}")


def _try(rng: Rng, seed: int, fault: str, table: Sequence[float]) -> Invention | None:
    X, Y = grid()
    size = rng.uniform(17, 42)
    wanted = 3 if fault == "too-many-in-a-row" else int(rng.choice([2, 2, 2, 3, 3, 4]))
    outline = side_by_side if rng.random() < 0.25 else split
    sides, seam = outline(rng, X, Y, size, wanted)
    if sides.max() < (3 if fault == "too-many-in-a-row" else 2):
        return None
    kinds, walls = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    colours = pick_colours(rng, kinds + walls, table, rng.uniform(7, 34))
    doughs = tuple(Stuff(f"dough{i + 1}", c, i < kinds) for i, c in enumerate(colours))
    blank = np.zeros(X.shape, np.uint8)
    draft = Draft(rng, X, Y, sides, seam, kinds, walls, blank, blank.copy())
    same = rng.random() < 0.5
    for i in range(1, int(sides.max()) + 1):
        draft.put(sides == i, 1 if same else 1 + int(rng.integers(0, kinds)), i)
    laid, spot = _lay_seam(draft, fault)
    if not laid:
        return None
    decorate(draft)
    wires = wire(rng, draft.labels, draft.sides, kinds, fault)
    if wires is None:
        return None
    lamps, rods = wires
    holder = pack(rng, rods)
    rods = rods if holder else (running_off(rods[0]), running_off(rods[1]))
    made = Invention(
        seed, fault, spot, doughs, draft.labels, draft.solid, lamps, rods, holder,
        tuple(things(rng, draft.labels)), rng.uniform(0.2, 2.4),
    )  # fmt: skip
    made.lump_of.update(lumps_of(made))
    return made if holds(made) else None


def holds(made: Invention) -> bool:
    """Whether entries and lumps are as the fault promises."""
    lump = made.lump_of
    leads = {lump["pack.plus"], lump["pack.minus"]}
    legs = [(lump[f"L{i}.long"], lump[f"L{i}.short"]) for i in range(1, len(made.lamps) + 1)]
    if None in leads:
        return False
    if made.fault.startswith("short-"):
        return len(leads) == 1 and all({*pair} == leads for pair in legs)
    if len(leads) == 1:
        return False
    if made.fault == "gap-in-lump":
        return any(len({*pair} & leads) == 1 for pair in legs) and all(None not in pair for pair in legs)
    if made.fault == "too-many-in-a-row":
        return all(None not in pair and len({*pair} & leads) == 1 and pair[0] != pair[1] for pair in legs)
    if made.fault in ("leg-out", "leg-in-insulator"):
        return legs[-1][0] is None and all({*pair} == leads for pair in legs[:-1])
    if not all({*pair} == leads for pair in legs):
        return False
    return made.fault not in MOST_GAP_MM or 0.2 < narrowest(made)[0] < MOST_GAP_MM[made.fault]


def _lay_seam(draft: Draft, fault: str) -> tuple[bool, Point | None]:
    """Turn seams into gaps or walls in place: whether it fits, and where the fault is."""
    rng, seam = draft.rng, draft.seam
    walled = fault in WALLED or (fault not in OPEN and rng.random() < 0.6)
    body = draft.sides > 0
    ys, xs = np.nonzero((seam < CELL_MM) & body)
    if len(ys) < 30:
        return False, None
    inner = depth_of(body)
    pick = int(rng.integers(len(ys)))
    if fault == "short-round-the-end":
        pick = int(rng.choice(np.argsort(inner[ys, xs])[: max(1, len(ys) // 25)]))
    at = draft.place(ys[pick], xs[pick])
    along = np.hypot(draft.X - at[0], draft.Y - at[1])
    half = _half_width(draft, fault, walled, along)
    reach_mm = {
        "short-bridge": rng.uniform(1.3, 3.0),
        "short-pressed-together": rng.uniform(1.5, 6.0),
        "short-over-the-wall": rng.uniform(1.5, 6.0),
        "short-round-the-end": rng.uniform(2.5, 8.0),
    }.get(fault, 0.0)
    open_ = along < reach_mm
    slit = (seam < half) & ~open_
    if walled:
        _wall(draft, slit, inner)
    else:
        draft.put(slit, 0, 0)
    if fault == "gap-in-lump":
        return True, _crack(draft, slit)
    if fault in ("short-bridge", "short-over-the-wall"):
        draft.solid[open_ & (seam < half + 1) & (draft.labels > 0)] = 101
    return True, at if fault in MOST_GAP_MM or reach_mm > 0 else None


def _half_width(draft: Draft, fault: str, walled: bool, along: Floats) -> Floats:
    """Half the width (R, C) in mm of gap or wall; `along`: distance to the fault."""
    rng = draft.rng
    wavy = 1 + 0.25 * smooth(rng, along.shape, 10)
    half = (rng.uniform(1.4, 4.2) if walled else rng.uniform(0.7, 3.0)) * np.clip(wavy, 0.5, 1.6)
    if not walled and rng.random() < 0.3:  # a narrow gap all along
        half = rng.uniform(0.2, 0.9) * np.clip(wavy, 0.7, 1.4)
    if fault == "thin-wall":
        half = rng.uniform(0.45, 0.8) * np.clip(wavy, 0.7, 1.3)
    if fault == "near-touch":
        half = np.where(along < rng.uniform(2, 8), rng.uniform(0.2, 0.5), half)
        half = cv2.GaussianBlur(np.asarray(half, np.float32), (0, 0), 1.0 / CELL_MM)
    return np.asarray(half, np.float32)


def _wall(draft: Draft, slit: Mask, inner: Floats) -> None:
    """Insulating dough in the slit, at times longer than it; at times a little table shows beside it."""
    rng = draft.rng
    reach = rng.uniform(0, 4) if rng.random() < 0.6 else 0.0
    wall = slit & (inner > -reach)
    if rng.random() < 0.3:
        dx, dy = rng.normal(0, 0.8, 2) / CELL_MM
        shift = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
        moved = cv2.warpAffine(wall.astype(np.uint8), shift, wall.shape[::-1]).astype(bool)
        draft.put(slit & ~moved, 0, 0)
        wall &= moved
    draft.put(wall, draft.any_wall(), 100)


def _crack(draft: Draft, slit: Mask) -> Point | None:
    """A tear through one lump."""
    rng = draft.rng
    which = int(rng.integers(1, draft.sides.max() + 1))
    here = draft.sides == which
    ys, xs = np.nonzero(here & ~slit)
    if not len(ys):
        return None
    pick = int(rng.integers(len(ys)))
    at = draft.place(ys[pick], xs[pick])
    turn = rng.uniform(0, np.pi)
    v = -(draft.X - at[0]) * np.sin(turn) + (draft.Y - at[1]) * np.cos(turn)
    v = v + 1.2 * smooth(rng, v.shape, 5) * rng.uniform(0.3, 1)
    draft.solid[(v > 0) & here & (draft.solid == which)] = 50 + which
    draft.put((np.abs(v) < rng.uniform(0.3, 1.5)) & here, 0, 0)
    return at


def small_blob(draft: Draft, at: Point, r: float) -> Mask:
    """A small blob of about that radius in mm, drawn in its own neighbourhood only."""
    row, col = cell_clip(at)
    reach = int(2 * r / CELL_MM) + 1
    box = (slice(max(0, row - reach), row + reach), slice(max(0, col - reach), col + reach))
    out = np.zeros(draft.labels.shape, bool)
    out[box] = blob(draft.rng, at, r, draft.X[box], draft.Y[box], 0.1)
    return out


def decorate(draft: Draft) -> None:
    """Eyes, spots and crumbs of any dough, on the sculpture's rim or beside it, never across a seam."""
    rng, number = draft.rng, 110
    away = depth_of(draft.sides > 0)
    for _ in range(rng.integers(0, 6)):
        r = rng.choice([rng.uniform(1.2, 4), rng.uniform(4, 9)])
        ys, xs = np.nonzero((away > -r - 12) & (away < r * 0.5))
        if not len(ys):
            return
        pick = int(rng.integers(len(ys)))
        spot = small_blob(draft, draft.place(ys[pick], xs[pick]), float(r))
        met = np.unique(draft.solid[spot & (draft.labels > 0)])
        insulating = rng.random() < 0.6
        kind = draft.any_wall() if insulating else 1 + int(rng.integers(0, draft.kinds))
        grown = cv2.dilate(spot.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
        near = np.unique(draft.solid[grown & (draft.labels > 0)])
        if len(near) > 1 or (not insulating and len(met) > 1):
            continue
        draft.put(spot if rng.random() < 0.3 else spot & (draft.labels == 0), kind, number)
        number += 1
