"""A known sculpture to the checker without a photo: a case with its label raster, for the real door.

Notation: H, W pixels of the label raster, `PX_MM` each.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from api.pipeline import read_sculpture
from api.schemas import Case
from circuit.model import Sculpture
from sample_images.studio.faults import Known
from sample_images.studio.invention import entries_of
from sample_images.studio.raster import HALF_X_MM, HALF_Y_MM, Labels, Point
from sample_images.studio.scene_files import THICKNESS_MM

PX_MM = 0.25


def to_px(at: Point) -> Point:
    """A place of the drawing [mm, origin in the middle] on the label raster [px]."""
    return (at[0] + HALF_X_MM) / PX_MM, (at[1] + HALF_Y_MM) / PX_MM


def from_px(at: Point) -> Point:
    """A place of the label raster [px] on the drawing [mm, origin in the middle]."""
    return at[0] * PX_MM - HALF_X_MM, at[1] * PX_MM - HALF_Y_MM


def label_raster(labels: Labels) -> NDArray[np.uint8]:
    """(H, W) uint8 as cases have it: 0 table, i the i-th dough."""
    size = (round(2 * HALF_X_MM / PX_MM), round(2 * HALF_Y_MM / PX_MM))
    return np.asarray(cv2.resize(labels, size, interpolation=cv2.INTER_NEAREST_EXACT), np.uint8)


def label_png(labels: Labels) -> bytes:
    """The label raster as a PNG."""
    done, png = cv2.imencode(".png", label_raster(labels))
    if not done:
        raise ValueError(f"labels of shape {labels.shape} cannot be written as a PNG")
    return png.tobytes()


def case_of(made: Known) -> Case:
    """What a helper would tell of the sculpture, with labels in place of a photo."""
    at = {name: to_px(place) for name, place in entries_of(made.made).items()}
    roles = [(d.name, "conductive" if d.conducts else "insulating") for d in made.made.doughs]
    told: dict[str, Any] = {
        "schema": "doughsight-case/1",
        "labels": "known.labels.png",
        "palette": [{"name": name, "role": role} for name, role in (*roles, ("table", "table"))],
        "scale": {"mm_per_px": PX_MM},
        "pack": pack_of(made) | {"plus": at["pack.plus"], "minus": at["pack.minus"]},
        "leds": [
            {"id": f"L{i}", "colour": m.colour, "long_leg": at[f"L{i}.long"], "short_leg": at[f"L{i}.short"]}
            for i, m in enumerate(made.made.lamps, start=1)
        ],
        "parts": [{"id": w.id, "kind": w.kind, "a": to_px(w.a), "b": to_px(w.b)} for w in made.wires],
        "thickness_mm": THICKNESS_MM,
    }
    return Case.model_validate(told)


def pack_of(made: Known) -> dict[str, Any]:
    """The pack in the words of a case, without its places."""
    battery = made.battery
    return {"cells": battery.cells, "emf_V": battery.emf_V, "internal_ohm": battery.ohm}


def sculpture_of(made: Known) -> Sculpture:
    """The sculpture as `vision` reads it from the label raster."""
    return read_sculpture(case_of(made), labels=label_png(made.made.labels))
