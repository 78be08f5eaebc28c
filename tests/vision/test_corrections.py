"""What the helper corrects wins: strokes, cuts and joins on drawn rasters and on a painted photo.

. table, a b conductive, w insulating, # something that is not dough.
"""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from vision.contacts import find_contacts
from vision.errors import VisionError
from vision.grid import Grid
from vision.model import Colour, Correction, Line, Photo, Point, Scene, Stroke
from vision.pieces import Ground, list_pieces, number_pieces
from vision.scene import read_scene, scene_from_labels
from vision.strokes import sure_where_told
from vision.table_view import view_from_mm_per_px
from vision.tracks import track

PALETTE = (
    Colour("aqua", "conductive", ()),
    Colour("berry", "conductive", ()),
    Colour("wheat", "insulating", ()),
    Colour("cloth", "table", ()),
)
CODES = {".": 0, "a": 1, "b": 2, "w": 3, "#": 255}


def raster(drawing: str, times: int) -> NDArray[np.uint8]:
    rows = [[CODES[letter] for letter in line.strip()] for line in drawing.strip().splitlines()]
    return np.kron(np.array(rows, np.uint8), np.ones((times, times), np.uint8))


def seen(labels: NDArray[np.uint8], *corrections: Correction, mm_per_px: float = 0.5) -> Scene:
    return scene_from_labels(labels, PALETTE, (), view_from_mm_per_px(mm_per_px), None, corrections)


def pieces(scene: Scene, name: str) -> list[int]:
    label = [colour.name for colour in PALETTE].index(name) + 1
    return [piece.id for piece in scene.pieces if piece.colour == label]


def kinds(scene: Scene) -> list[str]:
    return [contact.kind for contact in scene.contacts]


BAR = raster("..........\n.aaaaaaaa.\n.aaaaaaaa.\n..........", 10)
"""100 x 40 px, the bar from (10, 10) to (90, 30)."""
TWO = raster("..........\n.aaa..aaa.\n.aaa..aaa.\n..........", 10)


def test_a_cut_makes_two_of_one_bar() -> None:
    scene = seen(BAR, Line("cut", ((50, 2), (53, 38))))
    assert len(pieces(scene, "aqua")) == 2
    (contact,) = scene.contacts
    assert contact.kind == "gap" and contact.gap_mm <= 1.5 * 0.5
    assert contact.at[0] == pytest.approx(51.5, abs=3)


def test_a_cut_that_ends_inside_parts_nothing() -> None:
    scene = seen(BAR, Line("cut", ((50, 2), (50, 22))))
    assert len(pieces(scene, "aqua")) == 1 and not scene.contacts


def test_a_cut_leaves_a_wall_alone() -> None:
    scene = seen(raster("aawwaa\naawwaa", 10), Line("cut", ((0, 10), (60, 10))))
    assert len(pieces(scene, "wheat")) == 1
    assert len(pieces(scene, "aqua")) == 4


def test_a_label_image_fed_back_shows_the_same_cut_and_join() -> None:
    cut = seen(BAR, Line("cut", ((50, 2), (53, 38))))
    assert len(seen(np.array(cut.labels)).pieces) == 2
    joined = seen(TWO, Line("join", ((35, 20), (65, 20))))
    assert len(seen(np.array(joined.labels)).pieces) == 1


def test_a_join_makes_one_of_two_bars() -> None:
    assert kinds(seen(TWO)) == []  # 10 mm apart
    scene = seen(TWO, Line("join", ((35, 20), (65, 20))))
    assert len(pieces(scene, "aqua")) == 1
    bridge = scene.labels[:, 50]
    assert (bridge == 1).sum() * 0.5 == pytest.approx(2.5, abs=0.5)


def test_a_join_of_two_colours_is_a_touch_and_keeps_the_second_colour() -> None:
    labels = raster("..........\n.aaa..bbb.\n.aaa..bbb.\n..........", 10)
    scene = seen(labels, Line("join", ((35, 20), (65, 20))))
    assert len(scene.pieces) == 2 and kinds(scene) == ["touching"]
    assert ((labels == 2) == (scene.labels == 2)).all()


def test_a_join_may_begin_and_end_beside_the_dough() -> None:
    scene = seen(TWO, Line("join", ((44, 20), (56, 20))))
    assert len(pieces(scene, "aqua")) == 1


def test_a_join_leaves_out_what_its_line_does_not_cross() -> None:
    labels = raster("..........\n.aaa..aaa.\n.aaa..aaa.\n..........", 10)
    labels[17:19, 46:54] = 2  # within half the bridge's width of the line, but off it
    scene = seen(labels, Line("join", ((35, 21.5), (65, 21.5))))
    assert len(pieces(scene, "aqua")) == 1
    (apart,) = scene.contacts
    assert apart.kind == "gap"


def test_a_join_crosses_a_wall() -> None:
    scene = seen(raster("aawwaa\naawwaa", 10), Line("join", ((10, 10), (50, 10))))
    assert len(pieces(scene, "aqua")) == 1 and len(pieces(scene, "wheat")) == 2


def test_a_cut_wins_over_a_join() -> None:
    join, cut = Line("join", ((35, 20), (65, 20))), Line("cut", ((50, 0), (50, 40)))
    for both in ((join, cut), (cut, join)):
        assert len(pieces(seen(TWO, *both), "aqua")) == 2


def test_a_painted_wall_parts_two_lumps() -> None:
    scene = seen(BAR, Stroke("wheat", ((50, 5), (50, 35)), 4))
    assert len(pieces(scene, "aqua")) == 2 and len(pieces(scene, "wheat")) == 1
    assert kinds(scene) == ["touching", "touching"]
    (wall,) = pieces(scene, "wheat")
    assert all(wall in contact.between for contact in scene.contacts)


def test_a_bridge_is_painted_out() -> None:
    labels = raster("aaaaaaa\n...a...\naaaaaaa", 10)
    assert len(seen(labels).pieces) == 1
    scene = seen(labels, Stroke("cloth", ((35, 8), (35, 22)), 6))
    assert len(scene.pieces) == 2 and kinds(scene) == ["gap"]


def test_a_painted_bridge_joins() -> None:
    scene = seen(TWO, Stroke("aqua", ((38, 20), (62, 20)), 3))
    assert len(scene.pieces) == 1


def test_the_last_stroke_wins_and_not_dough_shows_as_255() -> None:
    wall = Stroke("wheat", ((50, 5), (50, 35)), 4)
    dough = Stroke("aqua", ((45, 20), (55, 20)), 30)
    assert len(seen(BAR, wall, dough).pieces) == 1
    scene = seen(BAR, Stroke("not-dough", ((50, 5), (50, 35)), 2))
    assert scene.labels[20, 50] == 255
    assert len(scene.pieces) == 1  # a thin thing lies on the dough, which goes on under it
    assert scene.guessed[15, 40]


def test_a_stroke_uncovers() -> None:
    labels = raster("aaaaaaa\naa###aa\naa###aa\naa###aa\naaaaaaa", 10)
    hidden = seen(labels)
    scene = seen(labels, Stroke("wheat", ((20, 25), (50, 25)), 20))
    assert hidden.guessed.any() and not scene.guessed[12:38, 25:45].any()
    assert (scene.labels[12:38, 25:45] == 3).all()


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 60), st.floats(0, 50)), min_size=2, max_size=4),
    st.floats(0.3, 30),
)
def test_a_stroke_covers_exactly_the_cells_within_half_its_width(line: list[Point], width_mm: float) -> None:
    mm = 0.5
    scene = seen(np.zeros((50, 60), np.uint8), Stroke("aqua", tuple(line), width_mm), mm_per_px=mm)
    y, x = np.mgrid[:50, :60] + 0.5
    away = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in pairwise(line):
        dx, dy = bx - ax, by - ay
        share = np.clip(((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-30), 0, 1)
        away = np.minimum(away, np.hypot(x - ax - share * dx, y - ay - share * dy))
    sure = np.abs(away * mm - width_mm / 2) > 1e-6
    assert ((scene.labels == 1) == (away * mm <= width_mm / 2))[sure].all()


@settings(max_examples=40, deadline=None)
@given(st.floats(0, math.pi), st.floats(-8, 8), st.floats(-8, 8))
def test_no_slanting_cut_leaks(angle: float, dx: float, dy: float) -> None:
    labels = np.ones((60, 60), np.uint8)
    middle, reach = (30 + dx, 30 + dy), 100.0
    c, s = math.cos(angle), math.sin(angle)
    ends = [clipped(middle, (sign * c, sign * s), reach, 60) for sign in (-1, 1)]
    scene = seen(labels, Line("cut", tuple(ends)))
    # Not even corner to corner.
    _, count = ndimage.label(scene.grid > 0, np.ones((3, 3)))
    assert count == 2 and len(scene.pieces) == 2
    assert kinds(scene) == ["gap"]


def clipped(at: Point, way: Point, reach: float, size: float) -> Point:
    """Where a ray from inside meets the rim of the photo."""
    for here, step in zip(at, way, strict=True):
        if abs(step) > 1e-12:
            reach = min(reach, max(-here / step, (size - here) / step))
    return (min(max(at[0] + reach * way[0], 0), size), min(max(at[1] + reach * way[1], 0), size))


UNDER_AN_LED = raster("aaaa..aaaa\naaaa##aaaa\naaaa##aaaa\naaaa##aaaa\naaaa..aaaa", 10)
"""Two bodies that meet, if at all, under something 10 mm wide: doubtful."""


def test_what_is_hidden_can_be_said() -> None:
    assert kinds(seen(UNDER_AN_LED)) == ["doubtful"]
    assert kinds(seen(UNDER_AN_LED, Line("cut", ((50, 0), (50, 49))))) == ["gap"]
    assert len(seen(UNDER_AN_LED, Line("join", ((20, 25), (80, 25)))).pieces) == 1
    painted_out = seen(UNDER_AN_LED, Stroke("table", ((50, 5), (50, 45)), 8))
    assert kinds(painted_out) == [] and len(painted_out.pieces) == 2  # 8 mm apart


def test_a_seam_elsewhere_stays_in_doubt() -> None:
    labels = np.vstack([UNDER_AN_LED, BAR])  # a bar joins both sides below
    labels[40:60, 10:90] = 1
    assert len(seen(labels).pieces) == 1
    scene = seen(labels, Line("cut", ((50, 35), (50, 89))))
    assert kinds(scene) == ["doubtful"]


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.lists(
        st.tuples(
            st.sampled_from(["aqua", "berry", "wheat", "cloth", "not-dough", "cut"]),
            st.tuples(st.integers(0, 40), st.integers(0, 30)),
            st.tuples(st.integers(0, 40), st.integers(0, 30)),
        ),
        max_size=4,
    ),
)
def test_whatever_is_corrected_the_scene_agrees_with_itself(
    seed: int, told: list[tuple[str, tuple[int, int], tuple[int, int]]]
) -> None:
    coarse = np.random.default_rng(seed).choice([0, 1, 1, 2, 3, 255], (6, 8))
    labels = np.kron(coarse, np.ones((5, 5))).astype(np.uint8)
    corrections = [Line("cut", (a, b)) if name == "cut" else Stroke(name, (a, b), 3.0) for name, a, b in told]
    scene = seen(labels, *corrections)
    for piece in scene.pieces:
        _, count = ndimage.label(scene.grid == piece.id)
        assert count == 1
    conducts = {piece.id for piece in scene.pieces if piece.role == "conductive"}
    touching = {c.between for c in scene.contacts if c.kind == "touching"}
    for one, other in ((scene.grid[:, :-1], scene.grid[:, 1:]), (scene.grid[:-1], scene.grid[1:])):
        sides = np.unique(np.stack([one[one != other], other[one != other]], 1), axis=0)
        for a, b in sides.tolist():
            assert a not in conducts or b not in conducts or (min(a, b), max(a, b)) in touching


def test_a_track_of_one_spot_is_a_disc() -> None:
    spot = track([(5.0, 4.0), (5.0, 4.0)], 2.0, (10, 12))
    y, x = np.mgrid[:10, :12]
    assert (spot == (np.hypot(x - 5, y - 4) <= 2)).all()


def test_a_coarser_grid_of_a_large_raster_shows_cuts_at_full_size() -> None:
    labels = np.ones((1200, 1300), np.uint8)  # more cells than a grid may have
    scene = seen(labels, Line("cut", ((600, 0), (700, 1200))), mm_per_px=0.1)
    assert scene.cell_mm > 0.1 and len(scene.pieces) == 2
    _, count = ndimage.label(scene.labels)
    assert count == 2


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (Stroke("plum", ((1, 1), (5, 5)), 4), "plum"),
        (Stroke("aqua", ((1, 1),), 4), "1 points"),
        (Stroke("aqua", ((1, 1), (5, 500)), 4), "500"),
        (Stroke("aqua", ((1, 1), (5, 5)), 4000), "4000 mm"),
        (Stroke("aqua", ((1, 1), (5, 5)), 0.001), "0.001 mm"),
        (Line("cut", ((1, 1),)), "cut has 1 points"),
        (Line("join", ((-1, 1), (5, 5))), "join at (-1, 1)"),
        (Line("join", ((2, 2), (50, 20))), "begins on no conductive dough"),
        (Line("join", ((50, 20), (98, 2))), "ends on no conductive dough"),
    ],
)
def test_nonsense_is_refused_in_one_sentence(wrong: Correction, says: str) -> None:
    with pytest.raises(VisionError) as told:
        seen(BAR, wrong)
    message = str(told.value)
    assert says in message and message.endswith(".") and "\n" not in message


MM = 0.1
AQUA, WHEAT, CLOTH = (40, 150, 160), (235, 225, 200), (120, 90, 70)


def photo_of(drawing: str) -> Photo:
    """A flat painting of the drawing, 60 px a letter, with grain."""
    colours = np.array([CLOTH, AQUA, (170, 40, 90), WHEAT], np.uint8)
    image = colours[raster(drawing, 60)].astype(float)
    return Photo(np.clip(image + np.random.default_rng(1).normal(0, 3, image.shape), 0, 255).astype(np.uint8))


def looked_at(drawing: str, taps: dict[str, tuple[Point, ...]], *corrections: Correction) -> Scene:
    roles = {"aqua": "conductive", "wheat": "insulating", "cloth": "table"}
    palette = [Colour(name, roles[name], at) for name, at in taps.items()]  # type: ignore[arg-type]
    return read_scene(photo_of(drawing), palette, [], view_from_mm_per_px(MM), None, corrections)


STRIP = "..........\n..........\n..aaaaaa..\n..aaaaaa..\n..........\n.........."
STRIP_TAPS: dict[str, tuple[Point, ...]] = {"aqua": ((200, 180), (400, 180)), "cloth": ((30, 30), (570, 330))}


def test_on_a_photo_a_cut_is_a_gap_and_no_doubt() -> None:
    whole = looked_at(STRIP, STRIP_TAPS)
    assert len(whole.pieces) == 1
    for line in (((300, 100), (300, 260)), ((260, 100), (350, 260))):
        scene = looked_at(STRIP, STRIP_TAPS, Line("cut", line))
        assert len(scene.pieces) == 2
        (contact,) = scene.contacts
        assert contact.kind == "gap" and contact.gap_mm < 0.5
        parts, _ = ndimage.label(scene.labels == 1)
        assert parts[180, 200] != parts[180, 400] and parts[180, 200] * parts[180, 400] > 0


def test_a_cut_does_not_silence_a_doubt_elsewhere() -> None:
    cell_mm = 0.2
    labels = np.zeros((80, 60), np.uint8)
    labels[10:70, 5:28], labels[10:70, 31:55] = 1, 1  # 0.6 mm apart, closer than a photo can tell
    body = np.zeros(labels.shape, np.int32)
    body[:, 5:28], body[:, 31:55] = labels[:, 5:28], 2 * labels[:, 31:55]
    nothing = np.zeros(labels.shape, bool)
    unsure = np.where(labels == 1, 1.0, 0.0).astype(np.float32)
    unsure[10:70, 28:31] = 0.4
    ground = Ground(labels, body, nothing, nothing, np.zeros((0, 4), np.int64), chance=unsure)
    found = []
    for rows in (slice(0, 0), slice(0, 40), slice(0, 80)):
        told = nothing.copy()
        told[rows, 24:35] = True
        cut = replace(ground, cut=told)
        view = view_from_mm_per_px(cell_mm)
        ids = number_pieces(cut)
        (contact,) = find_contacts(
            Grid(ids, cut, cell_mm, view), list_pieces(ids, cut, ("conductive",), cell_mm, view)
        )
        found.append((contact.kind, contact.at[1] > 40))
    assert [kind for kind, _ in found] == ["doubtful", "doubtful", "gap"]
    assert found[1][1]


def test_on_a_photo_a_wall_and_a_gap_can_be_painted() -> None:
    for name in ("cloth", "table"):
        scene = looked_at(STRIP, STRIP_TAPS, Stroke(name, ((300, 100), (300, 260)), 0.9))
        assert len(scene.pieces) == 2, "a gap as narrow as a crease stays what it was called"
        assert scene.labels[180, 300] == 0


def test_on_a_photo_a_join_bridges_a_gap() -> None:
    drawing = "..........\n..........\n..aa..aa..\n..aa..aa..\n..........\n.........."
    taps: dict[str, tuple[Point, ...]] = {
        "aqua": ((180, 180), (420, 180)),
        "cloth": ((30, 30), (570, 330)),
    }
    apart = looked_at(drawing, taps)
    assert len(apart.pieces) == 2
    joined = looked_at(drawing, taps, Line("join", ((220, 180), (380, 180))))
    assert len(joined.pieces) == 1
    assert joined.labels[180, 300] == 1 and joined.labels[180 - 20, 300] == 0


def test_where_the_helper_has_spoken_nothing_is_unsure() -> None:
    told = [Stroke("wheat", ((5, 5), (15, 5)), 2.0), Line("cut", ((5, 15), (15, 15)))]
    unsure = np.full((20, 20), 0.3, np.float32)
    sure = sure_where_told(unsure, told, PALETTE, 1.0, view_from_mm_per_px(1.0))
    assert sure[4, 10] == sure[14, 10] == 1 and sure[10, 10] == np.float32(0.3)
    laid = [Stroke("not-dough", ((5, 5), (15, 5)), 2.0)]
    assert (sure_where_told(unsure, laid, PALETTE, 1.0, view_from_mm_per_px(1.0)) == unsure).all()


def test_on_a_photo_what_is_no_dough_can_be_said() -> None:
    scene = looked_at(STRIP, STRIP_TAPS, Stroke("not-dough", ((280, 180), (320, 180)), 5))
    assert scene.labels[180, 300] == 255
    assert len(scene.pieces) == 1 and scene.guessed.any()
