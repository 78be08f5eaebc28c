"""A quick photo of a known sculpture, with the case that a helper would enter."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import cv2
import numpy as np

from api.schemas import Case
from sample_images.studio.faults import Known, known
from sample_images.studio.hand_over import pack_of
from sample_images.studio.many import lit, quick_shot
from sample_images.studio.quick import table_colour
from sample_images.studio.raster import Point
from sample_images.studio.scene_files import Shot, currents_A, shown, write_scene

TRIES = 6


def photographed(seed: int) -> tuple[Known, Case, bytes, Callable[[Point], Point]]:
    """The sculpture of a seed, its case, its JPEG, and the way from its pixels back to the drawing [mm].

    Raises ValueError when no photo shows the truth.
    """
    for attempt in range(TRIES):
        rng = np.random.default_rng([seed, 99, attempt])
        table = table_colour(rng)
        made = known(seed, table=table, skip=attempt // 2)
        flows = currents_A(made.made, made.battery.emf_V, made.battery.ohm)
        made = replace(made, made=lit(made.made, flows))
        shot = quick_shot(rng, made.made, table, attempt, None)
        if shown(made.made, shot):
            with TemporaryDirectory() as folder:
                write_scene(Path(folder), "known", made.made, shot, flows, rng)
                told = json.loads((Path(folder) / "known.case.json").read_text("utf-8"))
                photo = (Path(folder) / "known.jpg").read_bytes()
            return made, _case(told, made, shot), photo, _to_mm(shot)
    raise ValueError(f"seed {seed}: no photo shows its truth")


def _case(told: dict[str, Any], made: Known, shot: Shot) -> Case:
    """The case with the pack of the sculpture, and its wires."""
    pack: dict[str, Any] = told["pack"]
    assert isinstance(pack, dict)
    parts = [
        {"id": w.id, "kind": w.kind, "a": shot.px_of(w.a, True), "b": shot.px_of(w.b, True)}
        for w in made.wires
    ]
    return Case.model_validate({**told, "pack": {**pack, **pack_of(made)}, "parts": parts})


def _to_mm(shot: Shot) -> Callable[[Point], Point]:
    """From the photo [px] to the drawing [mm], on top of the dough."""
    mm = np.array([(x, y) for x in (-30.0, 0.0, 30.0) for y in (-30.0, 0.0, 30.0)])
    px = np.array([shot.px_of((float(x), float(y)), True) for x, y in mm])
    back = cv2.findHomography(px, mm)[0]

    def to_mm(at: Point) -> Point:
        x, y, w = back @ np.array([at[0], at[1], 1.0])
        return float(x / w), float(y / w)

    return to_mm
