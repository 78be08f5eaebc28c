"""What changed, on drawn sculptures turned and shifted. Areas and places are those drawn."""

import math
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest

from vision.carry import carry
from vision.changes import Change, find_changes
from vision.model import Colour, Point, Scene, TableView
from vision.registration import register
from vision.scene import scene_from_labels

MM = 0.5
PAD = 50
"""Table all round, so that a turned copy stays on the picture; places are told without it."""
PALETTE = (Colour("teal", "conductive", ()), Colour("amber", "insulating", ()))
Copy = Callable[..., tuple[Any, Any]]
Draw = Callable[[Any], None]


def two_lumps() -> Any:
    """A long lump and a short one with a wall between, 100 x 70 mm."""
    out = np.zeros((140, 200), np.uint8)
    cv2.rectangle(out, (20, 40), (118, 90), 1, -1)
    cv2.rectangle(out, (119, 40), (126, 90), 2, -1)
    cv2.rectangle(out, (127, 40), (175, 100), 1, -1)
    cv2.circle(out, (40, 38), 16, 1, -1)
    return out


def cut(out: Any) -> None:
    out[:, 78:83] = 0


def thread(out: Any) -> None:
    out[:, 80] = 0


def join(out: Any) -> None:
    out[55:70, 119:127] = 1


def add(out: Any) -> None:
    cv2.rectangle(out, (140, 101), (160, 125), 1, -1)


def beside(out: Any) -> None:
    cv2.circle(out, (186, 20), 10, 2, -1)


def take(out: Any) -> None:
    out[:, 20:45] = 0


def thicken(out: Any) -> None:
    out[40:91, 113:119] = 2


def nothing(out: Any) -> None:
    """The same again."""


def both(second_photo: Copy, draw: Draw) -> tuple[Scene, Scene, Any]:
    first = two_lumps()
    new = first.copy()
    draw(new)
    copy, matrix = second_photo(np.pad(new, PAD), 63, (5, -7), False)
    return scene(np.pad(first, PAD)), scene(copy), matrix


def scene(labels: Any) -> Scene:
    return scene_from_labels(labels, PALETTE, [], TableView(MM, (0.0, 0.0), True))


def changed(second_photo: Copy, draw: Draw) -> tuple[tuple[Change, ...], Any]:
    one, other, matrix = both(second_photo, draw)
    return find_changes(one, other, register(one, other, False)), matrix


def px(matrix: Any, at: Point) -> Point:
    x, y = matrix @ [at[0] + PAD, at[1] + PAD, 1.0]
    return float(x), float(y)


def padded(at: Point) -> Point:
    return at[0] + PAD, at[1] + PAD


@pytest.mark.parametrize(
    ("draw", "kind", "at", "within_mm", "size"),
    [
        (cut, "cut", (80.5, 65), 14, None),  # anywhere along the cut, which is 25 mm long
        (join, "joined", (123, 62), 6, None),
        (add, "added", (150, 113), 5, 21 * 25 * MM**2),
        (beside, "added", (186, 20), 3, math.pi * 10**2 * MM**2),
        (take, "taken", (33, 60), 12, 25 * 60 * MM**2),
        (thicken, "wall-thicker", (119, 65), 14, 3.0),
    ],
)
def test_a_change_is_found_where_it_is(
    second_photo: Copy, draw: Draw, kind: str, at: Point, within_mm: float, size: float | None
) -> None:
    found, matrix = changed(second_photo, draw)
    assert [one.kind for one in found] == [kind]
    assert math.dist(found[0].at, px(matrix, at)) * MM < within_mm
    if size is None:
        assert found[0].size is None
    else:
        assert found[0].size == pytest.approx(size, rel=0.35)


def test_a_cut_as_thin_as_a_thread_is_a_cut(second_photo: Copy) -> None:
    one, other, _ = both(second_photo, nothing)
    sliced = two_lumps()
    thread(sliced)
    now = scene(np.pad(sliced, PAD))
    assert [c.kind for c in find_changes(one, now, register(one, now, False))] == ["cut"]
    assert len(find_changes(one, other, register(one, other, False))) == 0


def test_the_pieces_of_a_cut_are_those_of_the_second_scene(second_photo: Copy) -> None:
    one, other, _ = both(second_photo, cut)
    (change,) = find_changes(one, other, register(one, other, False))
    roles = {piece.id: piece.role for piece in other.pieces}
    assert len(set(change.pieces)) == 2
    assert all(roles[i] == "conductive" for i in change.pieces)


@pytest.mark.parametrize("draw", [nothing, cut, join, add])
def test_entries_are_carried_over(second_photo: Copy, draw: Draw) -> None:
    one, other, matrix = both(second_photo, draw)
    places = {"pack.plus": (30.0, 60.0), "L1.long": (108.0, 50.0), "L1.short": (150.0, 60.0)}
    spots = carry({name: padded(at) for name, at in places.items()}, one, other, register(one, other, False))
    for name, at in places.items():
        assert math.dist(spots[name].at, px(matrix, at)) * MM < 0.7
        assert spots[name].doubt is None


def test_an_entry_whose_dough_is_gone_is_doubtful(second_photo: Copy) -> None:
    one, other, matrix = both(second_photo, take)
    spots = carry(
        {"gone": padded((28, 60)), "rim": padded((46, 60))}, one, other, register(one, other, False)
    )
    assert spots["gone"].doubt == "off-dough"
    assert math.dist(spots["gone"].at, px(matrix, (28.0, 60.0))) * MM < 1  # and it was not moved
    assert spots["rim"].doubt == "changed"


def test_an_entry_beyond_the_photo_is_doubtful(second_photo: Copy) -> None:
    copy, _ = second_photo(two_lumps(), 0, (10, 0), False)
    one, other = scene(two_lumps()), scene(copy)
    spots = carry({"far": (198.0, 60.0)}, one, other, register(one, other, False))
    assert spots["far"].doubt == "outside"
    assert spots["far"].at[0] <= 200
