"""Invented scenes: the same seed gives the same files, and case and truth agree with what is drawn.

What the faults mean is common practice, no published source.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label

from api.schemas import Case
from sample_images.studio.invent import FAULTS, invent
from sample_images.studio.invention import Invention, entries_of
from sample_images.studio.many import make_scene
from sample_images.studio.raster import CELL_MM, cell_clip
from sample_images.studio.scene_files import currents_A

MM_PER_PX = 0.2
SEEDS = (7, 11)
KINDS = ("jpg", "case.json", "truth.json", "labels.png", "whole.png")
NOT_DOUGH = 255
FURTHEST_TAP_MM = 1.0
"""A finger's error, as the scenes promise it."""


@dataclass(frozen=True)
class Files:
    name: str
    folder: Path
    case: Case
    truth: dict[str, Any]
    labels: NDArray[np.uint8]
    whole: NDArray[np.uint8]


SceneOf = Callable[[int], Files]


@pytest.fixture(scope="module")
def scene_of(tmp_path_factory: pytest.TempPathFactory) -> SceneOf:
    """The files of a seed, made once."""
    folder = tmp_path_factory.mktemp("scenes")
    return cache(lambda seed: read(folder, make_scene(seed, folder, mm_per_px=MM_PER_PX)))


def read(folder: Path, name: str) -> Files:
    truth = json.loads((folder / f"{name}.truth.json").read_text("utf-8"))
    case = Case.model_validate_json((folder / f"{name}.case.json").read_text("utf-8"))
    rasters = [cv2.imread(str(folder / truth[kind]), cv2.IMREAD_UNCHANGED) for kind in ("labels", "whole")]
    return Files(name, folder, case, truth, *(np.asarray(r, np.uint8) for r in rasters))


@pytest.fixture(scope="module", params=SEEDS)
def scene(request: pytest.FixtureRequest, scene_of: SceneOf) -> Files:
    """All tests of a seed stand together: one process makes it."""
    return scene_of(request.param)


def entries_told(case: Case) -> dict[str, tuple[float, float]]:
    assert case.pack is not None
    told = {"pack.plus": case.pack.plus, "pack.minus": case.pack.minus}
    for led in case.leds:
        told |= {f"{led.id}.long": led.long_leg, f"{led.id}.short": led.short_leg}
    return told


@pytest.mark.parametrize("scene", SEEDS[:1], indirect=True)
def test_the_same_seed_gives_the_same_files(scene: Files, tmp_path: Path) -> None:
    assert make_scene(SEEDS[0], tmp_path, mm_per_px=MM_PER_PX) == scene.name == f"quick-{SEEDS[0]:04d}"
    for kind in KINDS:
        one, other = (folder / f"{scene.name}.{kind}" for folder in (tmp_path, scene.folder))
        assert one.read_bytes() == other.read_bytes()


def test_another_seed_gives_another_scene(scene_of: SceneOf) -> None:
    one, other = (scene_of(seed) for seed in SEEDS)
    assert one.truth["entries"] != other.truth["entries"]
    assert one.case.palette != other.case.palette


def test_photo_and_rasters_have_the_size_that_is_told(scene: Files) -> None:
    photo = cv2.imread(str(scene.folder / f"{scene.name}.jpg"))
    assert photo is not None
    assert list(photo.shape[1::-1]) == scene.truth["size"]
    assert photo.shape[:2] == scene.labels.shape == scene.whole.shape


def test_labels_are_the_whole_where_nothing_lies_on_top(scene: Files) -> None:
    seen = scene.labels != NOT_DOUGH
    assert np.array_equal(scene.labels[seen], scene.whole[seen])
    assert (scene.whole[~seen] != NOT_DOUGH).any(), "LEDs lie on dough or table"
    doughs = sum(entry.role != "table" for entry in scene.case.palette)
    assert set(np.unique(scene.labels)) - {NOT_DOUGH} == set(range(doughs + 1))


def test_taps_lie_well_inside_their_colour(scene: Files) -> None:
    doughs = [entry for entry in scene.case.palette if entry.role != "table"]
    numbers = {entry.name: i for i, entry in enumerate(doughs, start=1)}
    for entry in scene.case.palette:
        assert 1 <= len(entry.taps) <= 4
        room = distance_transform_edt(scene.labels == numbers.get(entry.name, 0))
        for x, y in entry.taps:
            assert room[int(y), int(x)] >= 2


def test_entries_share_lumps_as_the_dough_underneath_joins_them(scene: Files) -> None:
    doughs = [entry for entry in scene.case.palette if entry.role != "table"]
    conducts = np.zeros(256, bool)
    conducts[1 : len(doughs) + 1] = [entry.role == "conductive" for entry in doughs]
    bodies, _ = label(conducts[scene.whole])
    found: dict[str, set[int]] = {}
    for about in scene.truth["entries"].values():
        x, y = about["at"]
        body = int(bodies[int(y), int(x)])
        assert (body == 0) == (about["lump"] is None)
        if body:
            found.setdefault(about["lump"], set()).add(body)
    assert all(len(bodies_of_lump) == 1 for bodies_of_lump in found.values())
    assert len(set.union(*found.values())) == len(found), "no two lumps are one body"


def test_a_finger_misses_by_a_millimetre_at_most(scene: Files) -> None:
    told = entries_told(scene.case)
    assert told.keys() == scene.truth["entries"].keys()
    for name, at in told.items():
        far = np.subtract(at, scene.truth["entries"][name]["at"])
        assert float(np.hypot(*far)) * MM_PER_PX < FURTHEST_TAP_MM * 1.15  # the photo is tilted a little


def test_the_scale_is_that_of_the_table(scene: Files) -> None:
    assert scene.case.scale is not None
    assert scene.case.scale.points is not None
    assert scene.case.scale.mm is not None
    a, b = scene.case.scale.points
    length_px = float(np.hypot(*np.subtract(a, b)))
    assert scene.case.scale.mm / length_px == pytest.approx(MM_PER_PX, rel=0.06)


def test_what_is_seen_lit_is_what_the_sums_say(scene: Files) -> None:
    assert {led.id: led.seen for led in scene.case.leds} == {
        key: about["state"] for key, about in scene.truth["leds"].items()
    }
    assert scene.truth["fault"] == FAULTS[int(scene.name[-4:]) % len(FAULTS)]


def lumps_by_eye(made: Invention) -> dict[str, int]:
    """The body of each entry, 0 outside conductive dough, counted by another library."""
    conducts = np.array([False, *(d.conducts for d in made.doughs)])
    bodies, _ = label(conducts[made.labels])
    return {name: int(bodies[cell_clip(at)]) for name, at in entries_of(made).items()}


@cache
def invention(fault: str) -> Invention:
    return invent(40 + FAULTS.index(fault), fault)


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_is_what_it_is_called(fault: str) -> None:
    made = invention(fault)
    lump = lumps_by_eye(made)
    plus, minus = lump["pack.plus"], lump["pack.minus"]
    legs = [(lump[f"L{i}.long"], lump[f"L{i}.short"]) for i in range(1, len(made.lamps) + 1)]
    assert plus > 0
    assert minus > 0
    assert made.fault == fault
    assert (plus == minus) == fault.startswith("short-")
    right = [pair == (plus, minus) for pair in legs]
    if fault in ("none", "near-touch", "thin-wall"):
        assert all(right)
    elif fault == "led-backwards":
        assert sorted(legs, key=lambda p: p == (plus, minus))[0] == (minus, plus)
        assert sum(right) == len(legs) - 1
    elif fault in ("leg-out", "leg-in-insulator"):
        assert legs[-1][0] == 0
        under = int(made.labels[cell_clip(made.lamps[-1].long)])
        assert (under == 0) == (fault == "leg-out")
    elif fault == "too-many-in-a-row":
        assert not any({*pair} == {plus, minus} for pair in legs)
        assert {pair[0] for pair in legs} & {pair[1] for pair in legs}, "one LED goes on where another ends"
    elif fault == "gap-in-lump":
        assert any(len({*pair} & {plus, minus}) == 1 for pair in legs)


@pytest.mark.parametrize(("fault", "most_mm"), [("near-touch", 1.6), ("thin-wall", 2.6)])
def test_what_is_near_is_near(fault: str, most_mm: float) -> None:
    made = invention(fault)
    conducts = np.array([False, *(d.conducts for d in made.doughs)])
    bodies, _ = label(conducts[made.labels])
    lump = lumps_by_eye(made)
    away = distance_transform_edt(bodies != lump["pack.plus"])
    assert 1 < away[bodies == lump["pack.minus"]].min() < most_mm / CELL_MM + 1.5


def test_a_sound_circuit_lights_and_a_short_draws_more() -> None:
    sound, short = currents_A(invention("none")), currents_A(invention("short-pressed-together"))
    assert all(flow > 0.5e-3 for name, flow in sound.items() if name != "pack")
    assert short["pack"] > 2 * sum(flow for name, flow in short.items() if name != "pack")
    wrong = currents_A(invention("led-backwards"))
    assert min(wrong.values()) < 1e-6
