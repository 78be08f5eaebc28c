"""Sculptures with known faults: the truth is as drawn, and the checker finds what is wrong to the millimetre.

What the faults mean is common practice, no published source.
"""

from pathlib import Path
from runpy import run_path

import numpy as np
import pytest
from scipy.ndimage import label

from api.pipeline import inspect_case
from sample_images.studio.faults import Known, known
from sample_images.studio.hand_over import case_of, from_px, label_png
from sample_images.studio.invention import entries_of
from sample_images.studio.raster import Labels, cell_clip
from sample_images.studio.rows import GOOD

SCORES = run_path(str(Path(__file__).parents[1] / "benchmarks" / "checker_scores.py"))
SHORTED = (10, 20, 40)
"""A short of the pack."""
SOUND = (4, 21, 28, 54)
JUDGED = (*SHORTED, *SOUND)
SEEDS = (*JUDGED, 9, 12, 25, 27, 36, 53)


@pytest.fixture(scope="module", params=SEEDS)
def drawn(request: pytest.FixtureRequest) -> Known:
    """All tests of a seed stand together, so that it is drawn but once, whichever process has them."""
    return known(request.param)


def groups(drawn: Known, labels: Labels) -> set[frozenset[str]]:
    """Entries that share a body of dough, counted by another library than the studio's."""
    conducts = np.array([False, *(dough.conducts for dough in drawn.made.doughs)])
    bodies, _ = label(conducts[labels])
    of: dict[int, set[str]] = {}
    for name, at in entries_of(drawn.made).items():
        of.setdefault(int(bodies[cell_clip(at)]), set()).add(name)
    assert 0 not in of, "every entry is in dough"
    return {frozenset(names) for names in of.values()}


def test_dough_joins_what_the_truth_says(drawn: Known) -> None:
    sound, now = groups(drawn, drawn.mended), groups(drawn, drawn.made.labels)
    assert not any({"pack.plus", "pack.minus"} <= group for group in sound)
    for i in range(1, len(drawn.made.lamps) + 1):
        assert not any({f"L{i}.long", f"L{i}.short"} <= group for group in sound)
    for fault in drawn.faults:
        if fault.opening is not None:
            ends = [("pack.plus", "pack.minus")] if fault.levels == ("stop",) else []
            ends += [(f"{led}.long", f"{led}.short") for led in fault.parts if led != "pack"]
            assert all(any({*pair} <= group for group in now) for pair in ends), "the short joins them"
    assert (sound == now) == all(fault.opening is None for fault in drawn.faults)


def test_each_opening_alone_is_a_short(drawn: Known) -> None:
    for fault in drawn.faults:
        if fault.opening is not None:
            one = np.where(fault.opening.where, drawn.made.labels, drawn.mended)
            assert len(groups(drawn, one)) == len(groups(drawn, drawn.mended)) - 1


@pytest.mark.parametrize("drawn", SEEDS[:1], indirect=True)
def test_the_same_seed_gives_the_same_sculpture(drawn: Known) -> None:
    again = known(drawn.seed)
    assert np.array_equal(again.made.labels, drawn.made.labels)
    assert entries_of(again.made) == entries_of(drawn.made)


@pytest.mark.parametrize("drawn", JUDGED, indirect=True)
def test_shorts_of_the_pack_are_found_and_nothing_is_wrong_with_a_good_sculpture(drawn: Known) -> None:
    report = inspect_case(case_of(drawn), labels=label_png(drawn.made.labels)).report
    verdict = SCORES["judge"](drawn, report, from_px)
    if drawn.seed in SHORTED:
        assert verdict.scores
        assert all(score.near and score.kind and score.level and score.parts for score in verdict.scores)
        assert verdict.lights
    else:
        assert drawn.scenario in GOOD
        assert verdict.surplus == ()
