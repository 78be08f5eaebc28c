"""Scenes drawn as text, one letter a square of label pixels, seen through the door for label rasters.

. table, a b conductive, w insulating, # something that is not dough.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from vision.errors import PaletteError, VisionError
from vision.model import Colour, Contact, Mark, Scene
from vision.scene import scene_from_labels
from vision.table_view import view_from_mm_per_px

PALETTE = (
    Colour("aqua", "conductive", ()),
    Colour("berry", "conductive", ()),
    Colour("wheat", "insulating", ()),
    Colour("table", "table", ()),
)
CODES = {".": 0, "a": 1, "b": 2, "w": 3, "#": 255}


def raster(drawing: str, times: int = 1) -> NDArray[np.uint8]:
    rows = [[CODES[letter] for letter in line.strip()] for line in drawing.strip().splitlines()]
    return np.kron(np.array(rows, np.uint8), np.ones((times, times), np.uint8))


def seen(drawing: str, *marks: Mark, mm_per_px: float = 1.0, times: int = 1) -> Scene:
    return scene_from_labels(raster(drawing, times), PALETTE, marks, view_from_mm_per_px(mm_per_px))


def conductive(scene: Scene) -> list[int]:
    return [piece.id for piece in scene.pieces if piece.role == "conductive"]


def contact(scene: Scene, a: int, b: int) -> Contact:
    return next(c for c in scene.contacts if c.between == (min(a, b), max(a, b)))


def test_a_gap_of_one_pixel_keeps_two_pieces_apart() -> None:
    scene = seen(
        """
        aaaaa.aaaaa
        aaaaa.aaaaa
        """
    )
    one, two = scene.pieces
    assert one.area_mm2 == two.area_mm2 == 10
    gap = contact(scene, one.id, two.id)
    assert (gap.kind, gap.gap_mm) == ("gap", 1.0)
    assert gap.at[0] == pytest.approx(5.5)


def test_a_fine_gap_stays_a_gap_at_any_scale() -> None:
    scene = seen("aaaa.aaaa\naaaa.aaaa", mm_per_px=0.05)
    assert [c.kind for c in scene.contacts] == ["gap"]
    assert scene.contacts[0].gap_mm == pytest.approx(0.05)


def test_corners_do_not_touch() -> None:
    scene = seen("aa..\naa..\n..aa\n..aa")
    assert len(scene.pieces) == 2
    assert scene.contacts[0].kind == "gap"
    assert scene.contacts[0].gap_mm == pytest.approx(math.sqrt(2) - 1)


def test_two_colours_pressed_together_touch_side_by_side_on_the_grid() -> None:
    scene = seen("aaabbb\naaabbb\naaabbb")
    touch = contact(scene, *conductive(scene))
    assert (touch.kind, touch.gap_mm, touch.length_mm) == ("touching", 0.0, 3.0)
    left, right = scene.grid[:, :-1], scene.grid[:, 1:]
    assert ((left != right) & (left > 0) & (right > 0)).sum() == 3


def test_a_slanting_border_is_as_long_as_it_looks() -> None:
    n = 40
    labels = np.ones((n, n), np.uint8) + np.tri(n, dtype=np.uint8)
    scene = scene_from_labels(labels, PALETTE, (), view_from_mm_per_px(0.5))
    assert scene.contacts[0].length_mm == pytest.approx(n * 0.5 * math.sqrt(2), rel=0.05)


def test_wall_between_two_lumps_touches_both_and_there_is_no_gap() -> None:
    scene = seen("aaawwaaa\naaawwaaa\naaawwaaa")
    kinds = {c.between: c.kind for c in scene.contacts}
    assert list(kinds.values()) == ["touching", "touching"]
    assert all(c.length_mm == 3 for c in scene.contacts)


def test_far_pieces_have_no_contact() -> None:
    assert not seen("aa.......aa").contacts


def test_a_wire_joins_what_goes_on_under_it_and_nothing_else() -> None:
    scene = seen(
        """
        aaaa#aaaa
        aaaa#aaaa
        ....#....
        ....#....
        ....#....
        aaaa#aaaa
        """
    )
    assert len(conductive(scene)) == 2
    assert scene.guessed.sum() == 6


LED_ON_WALL = """
    aaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaa
    aaaa#######aaaa
    aaaa#######aaaa
    wwww#######wwww
    wwww#######wwww
    wwww#######wwww
    aaaa#######aaaa
    aaaa#######aaaa
    aaaaaaaaaaaaaaa
    aaaaaaaaaaaaaaa
    """


def test_a_wall_goes_on_under_the_led_that_stands_on_it() -> None:
    scene = seen(LED_ON_WALL)
    assert len(conductive(scene)) == 2
    walls = [piece for piece in scene.pieces if piece.role == "insulating"]
    assert [wall.area_mm2 for wall in walls] == [45]
    assert not [c for c in scene.contacts if c.kind != "touching"]


def test_an_led_joins_nothing_and_what_meets_under_it_is_doubtful() -> None:
    scene = seen(
        """
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        aaaaaaa#######bbbbbbb
        """
    )
    assert [c.kind for c in scene.contacts] == ["doubtful"]
    assert len(conductive(scene)) == 2


def leg(name: str, at: tuple[float, float], partner: tuple[float, float] | None = None) -> Mark:
    return Mark(name, "leg", at, partner)


def test_entries_in_dough_in_wall_and_beside_it() -> None:
    drawing = """
        aaaaa.....
        aaaaawwww.
        aaaaawwww.
        """
    marks = (
        leg("in", (2.5, 1.5)),
        leg("wall", (7.5, 1.5)),
        leg("out", (7.5, 0.5)),
        Mark("lead", "lead", (6.5, 0.5)),
        Mark("far", "lead", (9.5, 0.5)),
    )
    scene = seen(drawing, *marks)
    dough = conductive(scene)[0]
    wall = next(piece.id for piece in scene.pieces if piece.role == "insulating")
    assert scene.entries["in"].piece == dough
    assert scene.entries["wall"].piece == wall
    out = scene.entries["out"]
    assert (out.piece, out.near, out.off_mm) == (None, dough, 3.0)
    assert scene.entries["lead"].piece == dough
    assert scene.entries["lead"].at == (4.5, 0.5)
    assert scene.entries["far"].piece is None


def test_a_leg_goes_by_the_dough_round_its_tap() -> None:
    # At 0.2 mm a pixel the tap lies just beside the dough: more than a quarter of the disc is dough.
    drawing = "\n".join(["aaaaaaaaaaaaaaaaaaaa....................bbbbbbbbbbbb"] * 30)
    scene = seen(drawing, leg("L1.long", (20.6, 15)), leg("L1.short", (26.5, 15)), mm_per_px=0.2)
    assert scene.entries["L1.long"].piece == scene.pieces[0].id
    assert scene.entries["L1.short"].piece is None


def test_photo_points_and_grid_points_agree() -> None:
    scene = seen(".....\n..aa.\n..aa.\n.....", mm_per_px=0.5, times=10)
    (piece,) = scene.pieces
    corners = np.array(piece.outline)
    assert corners.min(axis=0) == pytest.approx([20, 10], abs=0.5)
    assert corners.max(axis=0) == pytest.approx([40, 30], abs=0.5)
    x, y = scene.view.to_mm((30, 20))
    assert scene.grid[int(y / scene.cell_mm), int(x / scene.cell_mm)] == piece.id
    assert piece.area_mm2 == 10 * 10


def test_outlines_are_short_and_arrays_read_only() -> None:
    rng = np.random.default_rng(3)
    labels = (rng.random((80, 80)) < 0.8).astype(np.uint8)
    scene = scene_from_labels(labels, PALETTE, (), view_from_mm_per_px(0.5))
    assert max(len(piece.outline) for piece in scene.pieces) <= 200
    assert not any(a.flags.writeable for a in (scene.labels, scene.grid, scene.guessed))


def test_a_large_drawing_is_seen_on_a_coarser_grid_with_the_same_pieces() -> None:
    labels = np.zeros((1600, 2000), np.uint8)
    labels[100:1500, 100:990], labels[100:1500, 1010:1900] = 1, 1
    scene = scene_from_labels(labels, PALETTE, (), view_from_mm_per_px(0.05))
    assert len(scene.pieces) == 2
    assert scene.contacts[0].gap_mm == pytest.approx(1.0, abs=0.15)
    assert sum(p.area_mm2 for p in scene.pieces) == pytest.approx(2 * 1400 * 890 * 0.05**2, rel=0.01)


def test_an_empty_table_is_a_scene_without_pieces() -> None:
    scene = seen("....\n....", leg("L1.long", (1.5, 0.5)))
    assert scene.pieces == () and scene.contacts == ()
    entry = scene.entries["L1.long"]
    assert (entry.piece, entry.near) == (None, None)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.lists(st.sampled_from([0, 1, 2, 3]), min_size=6, max_size=6), min_size=5, max_size=5))
def test_mirroring_keeps_pieces_and_contacts(rows: list[list[int]]) -> None:
    labels = np.array(rows, np.uint8)
    view = view_from_mm_per_px(1.0)
    one = scene_from_labels(labels, PALETTE, (), view)
    other = scene_from_labels(np.ascontiguousarray(labels[:, ::-1]), PALETTE, (), view)
    assert sorted((p.colour, p.area_mm2) for p in one.pieces) == sorted(
        (p.colour, p.area_mm2) for p in other.pieces
    )
    assert sum(p.area_mm2 for p in one.pieces) == (labels > 0).sum()
    touching = [
        sorted(round(c.length_mm, 6) for c in s.contacts if c.kind == "touching") for s in (one, other)
    ]
    assert touching[0] == touching[1]


def test_what_cannot_be_is_refused_in_one_sentence() -> None:
    view = view_from_mm_per_px(1.0)
    with pytest.raises(PaletteError, match="label 7"):
        scene_from_labels(np.full((4, 4), 7, np.uint8), PALETTE, (), view)
    with pytest.raises(PaletteError, match="no dough colour"):
        scene_from_labels(np.zeros((4, 4), np.uint8), PALETTE[3:], (), view)
    with pytest.raises(PaletteError, match="Two colours are named aqua"):
        scene_from_labels(np.zeros((4, 4), np.uint8), (PALETTE[0], PALETTE[0]), (), view)
    with pytest.raises(VisionError, match=r"L1\.long at \(9, 1\) lies outside the photo of 4 x 4"):
        scene_from_labels(np.zeros((4, 4), np.uint8), PALETTE, (leg("L1.long", (9, 1)),), view)
