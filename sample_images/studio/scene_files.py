"""The files of an invented scene: what a helper would tell of it, and the truth.

Notation: H, W photo pixels.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_images.studio.build import NOT_DOUGH
from sample_images.studio.invention import Invention, between, bodies_of, entries_of, narrowest
from sample_images.studio.physics import (
    EMF_V,
    LEAK_S,
    PACK_OHM,
    RESISTIVITY_OHM_M,
    Lamp,
    between_entries,
    flows_A,
    state,
)
from sample_images.studio.raster import Labels, Point, Rng, cell_clip

TAP_ERROR_MM, MOST_ERROR_MM = 0.4, 1.0
LEAST_TAP_MM = 0.7
"""A colour of which less than this radius can be seen anywhere is in nobody's palette."""
THICKNESS_MM = 12.0
COARSE = 4
"""Cells of the drawing to a cell of the sums, 0.6 mm."""


@dataclass(frozen=True)
class Shot:
    """A photo of an invention by any renderer.

    photo  (H, W, 3) uint8 sRGB
    whole  (H, W) uint8: the dough underneath whatever lies on top, 0 table
    things (H, W): True where something lies on top
    px_of  from a place in mm to the photo [px], on top of the dough (True) or on the table
    """

    photo: NDArray[np.uint8]
    whole: Labels
    things: NDArray[np.bool_]
    px_of: Callable[[Point, bool], Point]

    @property
    def px_per_mm(self) -> float:
        """Scale in the middle of the sculpture's table."""
        (ax, ay), (bx, by) = self.px_of((-5, 0), False), self.px_of((5, 0), False)
        return float(np.hypot(bx - ax, by - ay)) / 10


# ---------------------------------------------------------------- the circuit


def currents_A(made: Invention, emf_V: float = EMF_V, pack_ohm: float = PACK_OHM) -> dict[str, float]:
    """Current of every LED and of `pack`.

    Each lump is a sheet of its own, so that a narrow gap stays one; insulating dough counts as none.
    """
    names = list(entries_of(made))
    bodies = bodies_of(made)
    G = np.diag(np.full(len(names), LEAK_S))
    for lump in {v for v in made.lump_of.values() if v is not None}:
        own = [i for i, name in enumerate(names) if made.lump_of[name] == lump]
        rows, cols = (n // COARSE * COARSE for n in bodies.shape)
        here = (bodies[:rows, :cols] == lump).astype(float)
        share = here.reshape(rows // COARSE, COARSE, cols // COARSE, COARSE).mean((1, 3))
        cells = [cell_clip(entries_of(made)[names[i]]) for i in own]
        sheet = share * THICKNESS_MM / 1000 / RESISTIVITY_OHM_M["conductive"]
        G[np.ix_(own, own)] = between_entries(sheet, [(r // COARSE, c // COARSE) for r, c in cells])
    return flows_A(G, names, lamps_of(made), emf_V, pack_ohm)


def lamps_of(made: Invention) -> dict[str, Lamp]:
    """The LEDs as the sums take them."""
    return {f"L{i}": Lamp(m.colour, f"L{i}.long", f"L{i}.short") for i, m in enumerate(made.lamps, start=1)}


# ---------------------------------------------------------------- palette and taps


def _room_px(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Distance (H, W) to what is not in the mask; the photo's edge counts as such."""
    room = cv2.distanceTransform(np.pad(mask, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    return np.asarray(room, np.float32)


def taps(rng: Rng, mask: NDArray[np.bool_], px_per_mm: float) -> list[list[float]]:
    """One to four places [px] well inside what is seen of one colour; none where it is hardly seen."""
    room = _room_px(mask)
    most = float(room.max())
    if most < LEAST_TAP_MM * px_per_mm:
        return []
    ys, xs = np.nonzero(room >= min(most * rng.uniform(0.35, 0.8), 3 * px_per_mm))
    picks = rng.integers(0, len(ys), int(rng.integers(1, 5)))
    return [[float(xs[i]) + 0.5, float(ys[i]) + 0.5] for i in picks]


def _palette(rng: Rng, made: Invention, shot: Shot) -> tuple[list[dict[str, Any]], NDArray[np.uint8]]:
    """The palette of the case, and what each label of the invention becomes (256,)."""
    table = np.full(256, NOT_DOUGH, np.uint8)
    table[0] = 0
    palette: list[dict[str, Any]] = []
    seen = np.where(shot.things, NOT_DOUGH, shot.whole)
    for i, dough in enumerate(made.doughs, start=1):
        places = taps(rng, seen == i, shot.px_per_mm)
        if not places:
            continue
        role = "conductive" if dough.conducts else "insulating"
        palette.append({"name": dough.name, "role": role, "taps": places})
        table[i] = len(palette)
    palette.append({"name": "table", "role": "table", "taps": taps(rng, seen == 0, shot.px_per_mm)})
    return palette, table


# ---------------------------------------------------------------- case and truth


def _case(
    rng: Rng,
    name: str,
    made: Invention,
    shot: Shot,
    palette: list[dict[str, Any]],
    flows: Mapping[str, float],
) -> dict[str, Any]:
    """The case as a helper would have entered it."""
    places = entries_of(made)

    def tapped(entry: str) -> list[float]:
        x, y = shot.px_of(places[entry], True)
        miss = np.clip(rng.normal(0, TAP_ERROR_MM, 2), -0.7 * MOST_ERROR_MM, 0.7 * MOST_ERROR_MM)
        return _round((x + float(miss[0]) * shot.px_per_mm, y + float(miss[1]) * shot.px_per_mm))

    ends, mm = _measured(rng, made, shot)
    return {
        "schema": "doughsight-case/1",
        "photo": f"{name}.jpg",
        "palette": palette,
        "scale": {"points": [_round(p) for p in ends], "mm": mm},
        "pack": {"cells": 4, "plus": tapped("pack.plus"), "minus": tapped("pack.minus")},
        "leds": [
            {
                "id": key,
                "colour": lamp.colour,
                "long_leg": tapped(lamp.long),
                "short_leg": tapped(lamp.short),
                "seen": state(flows[key]),
            }
            for key, lamp in lamps_of(made).items()
        ],
        "thickness_mm": THICKNESS_MM,
    }


def _measured(rng: Rng, made: Invention, shot: Shot) -> tuple[tuple[Point, Point], float]:
    """Both ends of a length on the table that somebody measured [px], round the sculpture, and its mm."""
    rows, cols = shot.whole.shape
    middle = np.mean(list(entries_of(made).values()), axis=0)
    for mm in (100.0, 80.0, 60.0, 40.0):
        for _ in range(12):
            turn = rng.uniform(0, np.pi)
            half = mm / 2 * np.array([np.cos(turn), np.sin(turn)])
            ends = [shot.px_of((float(p[0]), float(p[1])), False) for p in (middle - half, middle + half)]
            if all(0 <= x < cols and 0 <= y < rows for x, y in ends):
                return (ends[0], ends[1]), mm
    raise ValueError(f"seed {made.seed}: no length fits into the photo")


def _round(point: Point) -> list[float]:
    return [round(float(point[0]), 1), round(float(point[1]), 1)]


def lump_names(made: Invention) -> dict[str, str | None]:
    """Entry -> the letter of its lump, None where it misses."""
    numbers = sorted({v for v in made.lump_of.values() if v is not None})
    letter = {number: chr(ord("A") + i) for i, number in enumerate(numbers)}
    return {name: None if v is None else letter[v] for name, v in made.lump_of.items()}


def _contacts(made: Invention, shot: Shot) -> list[dict[str, Any]]:
    """Where two lumps with entries come nearest to each other."""
    bodies, letters = bodies_of(made), lump_names(made)
    known = sorted({(letters[name], v) for name, v in made.lump_of.items() if v is not None}, key=str)
    out = []
    for i, (a, one) in enumerate(known):
        for b, other in known[i + 1 :]:
            gap, at = between(bodies, one, other)
            px = _round(shot.px_of(at, False))
            out.append({"between": [a, b], "kind": "gap", "gap_mm": round(gap, 2), "at": px})
    return out


def _fault_place(made: Invention) -> tuple[Point | None, dict[str, Any] | None, list[str]]:
    """Where the fault is, what is between the dough there, and the LEDs that it is about."""
    last = f"L{len(made.lamps)}"
    if made.fault.startswith("short-"):
        return made.fault_at, {"kind": "touching", "gap_mm": 0.0}, []
    if made.fault in ("near-touch", "thin-wall"):
        gap, at = narrowest(made)
        return at, {"kind": "gap", "gap_mm": round(gap, 2)}, []
    if made.fault == "gap-in-lump":
        return _tear(made)
    if made.fault in ("leg-out", "leg-in-insulator"):
        return made.lamps[-1].long, None, [last]
    if made.fault == "led-backwards":
        plus = made.lump_of["pack.plus"]
        names = [f"L{i}" for i in range(1, len(made.lamps) + 1)]
        wrong = next(name for name in names if made.lump_of[f"{name}.short"] == plus)
        return made.lamps[names.index(wrong)].base, None, [wrong]
    return None, None, list(lamps_of(made)) if made.fault == "too-many-in-a-row" else []


def _tear(made: Invention) -> tuple[Point | None, dict[str, Any] | None, list[str]]:
    """The narrowest place between a torn-off part with a leg and the lead's part, and the dark LEDs."""
    bodies = bodies_of(made)
    leads = [made.lump_of["pack.plus"], made.lump_of["pack.minus"]]
    known = {v for v in made.lump_of.values() if v is not None}
    pairs = [(a, b) for a in leads if a is not None for b in sorted(known - {*leads})]
    found = [between(bodies, a, b) for a, b in pairs]
    spot = made.fault_at or (0.0, 0.0)
    near = [min(found, key=lambda f: float(np.hypot(f[1][0] - spot[0], f[1][1] - spot[1])))]
    dark = [
        key for key, m in lamps_of(made).items() if {made.lump_of[m.long], made.lump_of[m.short]} != {*leads}
    ]
    return near[0][1], {"kind": "gap", "gap_mm": round(near[0][0], 2)}, dark


def _truth(
    name: str, made: Invention, shot: Shot, flows: Mapping[str, float], names: list[str]
) -> dict[str, Any]:
    at, contact, parts = _fault_place(made)
    letters = lump_names(made)
    place = None if at is None else _round(shot.px_of(at, True))
    return {
        "photo": f"{name}.jpg",
        "size": [shot.whole.shape[1], shot.whole.shape[0]],
        "labels": f"{name}.labels.png",
        "whole": f"{name}.whole.png",
        "not_dough": NOT_DOUGH,
        "colours": names,
        "fault": None if made.fault == "none" else made.fault,
        "parts": parts,
        "at": place,
        "fault_contact": contact,
        "contacts": _contacts(made, shot),
        "entries": {
            entry: {"at": _round(shot.px_of(place_mm, True)), "lump": letters[entry]}
            for entry, place_mm in entries_of(made).items()
        },
        "leds": {
            key: {"state": state(flows[key]), "current_mA": round(flows[key] * 1e3, 2)}
            for key in lamps_of(made)
        },
        "pack_mA": round(flows["pack"] * 1e3, 1),
    }


# ---------------------------------------------------------------- does the photo show the truth


def shown(made: Invention, shot: Shot) -> bool:
    """Whether the dough underneath, as the lens has it, joins and parts the entries as they truly are.

    A low lens may look over a slit, and a hand may hide a whole dough; such photos nobody could judge.
    """
    rows, cols = shot.whole.shape
    places = {name: shot.px_of(at, True) for name, at in entries_of(made).items()}
    if not all(2 <= x < cols - 2 and 2 <= y < rows - 2 for x, y in places.values()):
        return False
    seen = np.where(shot.things, NOT_DOUGH, shot.whole)
    least = LEAST_TAP_MM * shot.px_per_mm
    for i in np.unique(shot.whole[shot.whole > 0]):
        if _room_px(seen == i).max() < least <= _room_px(shot.whole == i).max():
            return False
    if _room_px(seen == 0).max() < 3 * least:
        return False
    table = np.zeros(256, bool)
    table[1 : len(made.doughs) + 1] = [d.conducts for d in made.doughs]
    _, bodies = cv2.connectedComponents(table[shot.whole].astype(np.uint8), connectivity=4)
    found = {name: int(bodies[int(y), int(x)]) for name, (x, y) in places.items()}
    pairs = {(made.lump_of[name] or 0, found[name]) for name in found}
    return len(pairs) == len({a for a, _ in pairs}) == len({b for _, b in pairs}) and all(
        (a == 0) == (b == 0) for a, b in pairs
    )


def write_scene(
    folder: Path, name: str, made: Invention, shot: Shot, flows: Mapping[str, float], rng: Rng
) -> None:
    """NAME.jpg, .case.json, .truth.json, .labels.png and .whole.png."""
    palette, table = _palette(rng, made, shot)
    case = _case(rng, name, made, shot, palette, flows)
    names = [entry["name"] for entry in palette if entry["role"] != "table"]
    truth = _truth(name, made, shot, flows, names)
    whole = table[shot.whole]
    quality = int(rng.integers(60, 96))
    cv2.imwrite(
        str(folder / f"{name}.jpg"), shot.photo[..., ::-1].copy(), [cv2.IMWRITE_JPEG_QUALITY, quality]
    )
    cv2.imwrite(str(folder / f"{name}.whole.png"), whole)
    labels = np.where(shot.things, np.uint8(NOT_DOUGH), whole)
    cv2.imwrite(str(folder / f"{name}.labels.png"), labels)
    for kind, content in (("case", case), ("truth", truth)):
        text = json.dumps(content, indent=1, ensure_ascii=False) + "\n"
        (folder / f"{name}.{kind}.json").write_text(text, encoding="utf-8")
