"""What the underside adds, on drawn sculptures. What joins what is common practice, no published source."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from vision.errors import VisionError
from vision.model import Colour, Contact, Scene, TableView
from vision.registration import Registration, register
from vision.scene import scene_from_labels
from vision.underside import closed, groups_of, seen_from_below, with_underside

MM = 0.5
PALETTE = (
    Colour("teal", "conductive", ()),
    Colour("amber", "insulating", ()),
    Colour("plum", "conductive", ()),
)
Copy = Callable[..., tuple[Any, Any]]


def two_lumps(gap_px: int = 12, fill: int = 2) -> Any:
    """Two lumps, unlike in outline, with a wall (2) or a gap (0) between them, 80 x 60 mm."""
    out = np.zeros((120, 160), np.uint8)
    cv2.rectangle(out, (20, 30), (140, 90), 1, -1)
    cv2.circle(out, (35, 34), 15, 1, -1)
    cv2.rectangle(out, (120, 80), (140, 108), 1, -1)
    out[:, 80 - gap_px // 2 : 80 + gap_px - gap_px // 2][
        out[:, 80 - gap_px // 2 : 80 + gap_px - gap_px // 2] > 0
    ] = fill
    return out


def strip(labels: Any, label: int, width_px: int) -> Any:
    out = labels.copy()
    cv2.rectangle(out, (55, 60 - width_px // 2), (105, 60 - width_px // 2 + width_px - 1), label, -1)
    return out


def scene(labels: Any) -> Scene:
    return scene_from_labels(labels, PALETTE, [], TableView(MM, (0.0, 0.0), True))


def seen(second_photo: Copy, above: Any, below: Any, turn: float = 25.0) -> tuple[Scene, Any]:
    one, other = scene(above), scene(second_photo(below, turn, (3, -4), True)[0])
    return one, seen_from_below(one, other, register(one, other, True))


def lumps(of: Scene) -> int:
    return len(groups_of(of.pieces, closed(of.contacts)))


@pytest.mark.parametrize("fill", [0, 2])
@pytest.mark.parametrize("label", [1, 3])
def test_dough_below_joins_two_lumps(second_photo: Copy, fill: int, label: int) -> None:
    above = two_lumps(fill=fill)
    one, found = seen(second_photo, above, strip(above, label, 16))
    assert lumps(one) == 2
    assert lumps(found.scene) == 1
    assert len(found.joins) == 1
    at = found.joins[0][1]
    assert at == pytest.approx((80, 60), abs=12)  # under the wall, where the strip is
    new = found.scene.pieces[-1]
    assert new.below and new.role == "conductive"
    assert [p.below for p in found.scene.pieces].count(True) == 1
    met = [c for c in found.scene.contacts if c.below]
    assert {c.kind for c in met} == {"touching"}
    assert all(new.id in c.between for c in met)
    band = found.scene.grid == new.id
    assert 0 < band.sum() * found.scene.cell_mm**2 < 16 * 12 * MM**2 * 2.5
    assert ((found.scene.grid != one.grid) == band).all()


def test_the_join_hangs_together_cell_by_cell(second_photo: Copy) -> None:
    above = two_lumps()
    _, found = seen(second_photo, above, strip(above, 1, 14))
    conducts = [p.id for p in found.scene.pieces if p.role == "conductive"]
    count, _ = cv2.connectedComponents(np.isin(found.scene.grid, conducts).astype(np.uint8), connectivity=4)
    assert count - 1 == 1


@pytest.mark.parametrize("turn", [0.0, 100.0])
@pytest.mark.parametrize(
    ("gap_px", "fill", "label", "width_px"),
    [
        (12, 2, 1, 0),  # the same below as above
        (3, 0, 1, 0),  # a narrow gap all through
        (12, 2, 2, 20),  # insulating dough below
        (12, 2, 1, 4),  # a thread of 2 mm
    ],
)
def test_what_joins_nothing(
    second_photo: Copy, turn: float, gap_px: int, fill: int, label: int, width_px: int
) -> None:
    above = two_lumps(gap_px, fill)
    below = strip(above, label, width_px) if width_px else above
    one, found = seen(second_photo, above, below, turn)
    assert found.joins == ()
    assert found.scene.pieces == one.pieces
    assert found.scene.contacts == one.contacts


@pytest.mark.parametrize("off", [(1.0, 0.0), (-1.0, 0.8), (0.0, -1.2)])
def test_rims_that_do_not_meet_join_nothing(off: tuple[float, float]) -> None:
    """A thin wall, and an underside that lies a millimetre off."""
    above = two_lumps(4)
    one, other = scene(above), scene(above[:, ::-1].copy())
    found = register(one, other, True)
    x, y = found.shift_mm
    slipped = replace(found, shift_mm=(x + off[0], y + off[1]), rim_mm=1.0)
    assert seen_from_below(one, other, slipped).joins == ()


def doubtful(above: Any) -> Scene:
    """The scene with its touching conductive pieces in doubt."""
    one = scene(above)
    pair = next(c for c in one.contacts if set(c.between) == {1, 2})
    new = Contact(pair.between, "doubtful", 0.3, 20.0, pair.at, likely=True, confidence=0.6)
    return replace(one, contacts=tuple(new if c is pair else c for c in one.contacts))


def test_a_doubt_is_decided_by_a_clear_gap_below() -> None:
    above = two_lumps(2, 0)
    one = doubtful(above)
    other = scene(two_lumps(8, 0)[:, ::-1].copy())
    result = seen_from_below(one, other, register(one, other, True))
    contact = next(c for c in result.scene.contacts if set(c.between) == {1, 2})
    assert (contact.kind, contact.below) == ("gap", True)
    assert contact.gap_mm == pytest.approx(4, abs=1.5)
    assert len(result.decided) == 1


def across() -> Any:
    below = two_lumps(2, 0)
    cv2.rectangle(below, (70, 31), (90, 89), 1, -1)
    return below


def test_a_doubt_across_a_slit_is_decided_by_dough_below() -> None:
    one = doubtful(two_lumps(2, 0))
    other = scene(across()[:, ::-1].copy())
    result = seen_from_below(one, other, register(one, other, True))
    assert len(result.joins) == 1
    assert not [c for c in result.scene.contacts if c.kind != "touching"]


def test_a_doubt_between_two_colours_is_decided_by_dough_below() -> None:
    above = across()
    above[:, 80:][above[:, 80:] > 0] = 3
    one = doubtful(above)
    other = scene(across()[:, ::-1].copy())
    result = seen_from_below(one, other, register(one, other, True))
    contact = next(c for c in result.scene.contacts if set(c.between) == {1, 2})
    assert (contact.kind, contact.below) == ("touching", True)
    assert len(result.decided) == 1
    assert result.joins == ()


def test_a_fit_in_two_ways_is_refused() -> None:
    above = two_lumps()
    one, other = scene(above), scene(above[:, ::-1].copy())
    with pytest.raises(VisionError, match=r"more than one way"):
        with_underside(one, other, Registration(1.0, 0.0, (0.0, 0.0), True, ambiguous=True))
