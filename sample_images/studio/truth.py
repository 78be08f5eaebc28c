"""What is truly in a sample: lumps, entries, the state of every LED; and what a helper would tell of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label

from sample_images.studio.build import NOT_DOUGH, Bodies
from sample_images.studio.physics import RESISTIVITY_OHM_M, Lamp, coarse, currents_A, state
from sample_images.studio.render import HEIGHT, WIDTH, Camera
from sample_images.studio.scenes import Sample
from sample_images.studio.shapes import CELL_MM, HALF_X_MM, HALF_Y_MM, Point

THICKNESS_MM = 12.0
LEAST_DEPTH_MM = 4.0
TAP_ERROR_MM = 0.35


@dataclass(frozen=True)
class Truth:
    """Lumps as groups of entries, those that miss the dough, and current and state of every LED."""

    lumps: tuple[tuple[str, ...], ...]
    missing: tuple[str, ...]
    currents_A: Mapping[str, float]
    states: Mapping[str, str]


def spots(sample: Sample) -> dict[str, Point]:
    """All entries by name, in mm on the table."""
    found = {"pack.plus": sample.plus.at, "pack.minus": sample.minus.at}
    for led in sample.leds:
        found |= {f"{led.id}.long": led.long, f"{led.id}.short": led.short}
    return found


def find_truth(sample: Sample, bodies: Bodies) -> Truth:
    """Raises ValueError where the sculpture is not what its data promise."""
    role = {d.name: d.role for d in sample.doughs}
    deep = {
        kind: np.max([d for p, d in zip(sample.pieces, bodies.depths, strict=True) if role[p.dough] == kind]
                     or [np.full(bodies.where.X.shape, -1.0)], axis=0)
        for kind in RESISTIVITY_OHM_M
    }  # fmt: skip
    conducts = (deep["conductive"] > 0) & (deep["conductive"] > deep["insulating"])
    bodies_of, _ = label(conducts)
    places = spots(sample)
    missing: list[str] = []
    groups: dict[int, list[str]] = {}
    for name, at in places.items():
        depth = bodies.where.at(deep["conductive"], at)
        if name in sample.off_dough:
            missing.append(name)
            if depth > -1.5:
                raise ValueError(f"{sample.name}: {name} should miss the dough, but is {depth:.1f} mm inside")
            continue
        if depth < LEAST_DEPTH_MM:
            raise ValueError(f"{sample.name}: {name} is only {depth:.1f} mm inside the dough")
        row, col = round((at[1] + HALF_Y_MM) / CELL_MM), round((at[0] + HALF_X_MM) / CELL_MM)
        groups.setdefault(int(bodies_of[row, col]), []).append(name)
    lumps = tuple(sorted(tuple(sorted(names)) for names in groups.values()))
    if lumps != tuple(sorted(tuple(sorted(names)) for names in sample.lumps)):
        raise ValueError(f"{sample.name}: the lumps hold {lumps}")
    sheet = np.where(conducts, 1 / RESISTIVITY_OHM_M["conductive"], 0.0)
    sheet = np.where((deep["insulating"] > 0) & ~conducts, 1 / RESISTIVITY_OHM_M["insulating"], sheet)
    joined = {name: None if name in missing else at for name, at in places.items()}
    lamps = {led.id: Lamp(led.colour, f"{led.id}.long", f"{led.id}.short") for led in sample.leds}
    flows = currents_A(coarse(sheet) * THICKNESS_MM / 1000, joined, lamps)
    return Truth(lumps, tuple(missing), flows, {led.id: state(flows[led.id]) for led in sample.leds})


def taps(labels: NDArray[np.uint8], wanted: int, rng: np.random.Generator, count: int = 3) -> list[list[int]]:
    """Places [px] well inside one colour, far from each other, as a helper would tap."""
    mask = np.pad(labels == wanted, 1)
    room = distance_transform_edt(mask)[1:-1, 1:-1]
    least = min(0.6 * room.max(), 50.0)
    edge = 40
    inner = np.zeros_like(labels, dtype=bool)
    inner[edge:-edge, edge:-edge] = True
    y, x = np.nonzero((room >= least) & inner)
    some = rng.choice(len(x), min(len(x), 400), replace=False)
    x, y = x[some], y[some]
    chosen = [0]
    away = np.hypot(x - x[0], y - y[0])
    while len(chosen) < count:
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, np.hypot(x - x[chosen[-1]], y - y[chosen[-1]]))
    return [[int(x[i]), int(y[i])] for i in chosen]


def _round(point: Point) -> list[float]:
    return [round(point[0], 1), round(point[1], 1)]


def entry_px(sample: Sample, bodies: Bodies, camera: Camera) -> dict[str, Point]:
    """Where each leg or lead goes in, in the photo."""
    return {name: camera.to_px(*at, bodies.top(at)) for name, at in spots(sample).items()}


def case_json(
    sample: Sample, truth: Truth, labels: NDArray[np.uint8], pixels: Mapping[str, Point], camera: Camera
) -> dict[str, Any]:
    """The case as a helper would have entered it, with a finger's error."""
    rng = np.random.default_rng(sample.seed + 3)
    per_mm = float(np.hypot(*np.subtract(camera.to_px(1, 0, 0), camera.to_px(0, 0, 0))))

    def tapped(name: str) -> list[float]:
        miss = np.clip(rng.normal(0, TAP_ERROR_MM, 2), -0.6, 0.6) * per_mm
        return _round((pixels[name][0] + float(miss[0]), pixels[name][1] + float(miss[1])))

    palette = [
        {"name": d.name, "role": d.role, "taps": taps(labels, i + 1, rng)}
        for i, d in enumerate(sample.doughs)
    ]
    palette.append({"name": "table", "role": "table", "taps": taps(labels, 0, rng)})
    (ax, ay), (bx, by) = sample.crosses
    return {
        "schema": "doughsight-case/1",
        "photo": f"{sample.name}.jpg",
        "palette": palette,
        "scale": {
            "points": [_round(camera.to_px(*p, 0.0)) for p in sample.crosses],
            "mm": float(np.hypot(bx - ax, by - ay)),
        },
        "pack": {"cells": 4, "plus": tapped("pack.plus"), "minus": tapped("pack.minus")},
        "leds": [
            {
                "id": led.id,
                "colour": led.colour,
                "long_leg": tapped(f"{led.id}.long"),
                "short_leg": tapped(f"{led.id}.short"),
                "seen": truth.states[led.id],
            }
            for led in sample.leds
        ],
        "thickness_mm": THICKNESS_MM,
    }


def truth_json(
    sample: Sample, truth: Truth, bodies: Bodies, pixels: Mapping[str, Point], camera: Camera
) -> dict[str, Any]:
    lump_of = {name: chr(ord("A") + i) for i, names in enumerate(truth.lumps) for name in names}
    at = sample.fault_at
    return {
        "photo": f"{sample.name}.jpg",
        "size": [WIDTH, HEIGHT],
        "labels": f"{sample.name}.labels.png",
        "not_dough": NOT_DOUGH,
        "fault": sample.fault,
        "parts": list(sample.parts),
        "at": None if at is None else _round(camera.to_px(*at, bodies.top(at))),
        "entries": {name: {"at": _round(px), "lump": lump_of.get(name)} for name, px in pixels.items()},
        "leds": {
            led.id: {"state": truth.states[led.id], "current_mA": round(truth.currents_A[led.id] * 1e3, 2)}
            for led in sample.leds
        },
        "pack_mA": round(truth.currents_A["pack"] * 1e3, 1),
    }
