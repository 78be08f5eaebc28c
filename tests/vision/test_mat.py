"""The printed work mat seen by a pinhole camera at known tilts, in uneven light, with noise and JPEG.

The mat is the very PDF that is printed, rasterised by PDFium. The camera is a pinhole (any textbook on
projective geometry), made here from focal length, tilt and distance. sRGB is IEC 61966-2-1:1999.
"""

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from api.mat_sheet import mat_pdf
from vision.errors import ScaleError
from vision.mat import Mat, find_mat
from vision.mat_layout import MARKER_MM, PAD_RADIUS_MM, Paper, mat_layout
from vision.model import Photo, Point
from vision.table_view import tilt_deg

SIZE = (1600, 1200)
"""Two megapixels: less than what is stored of a photo of twelve."""
PRINT_MM = 0.1
BESIDE_MM = 60
FOCAL = 0.75
"""Focal length over the width of the photo: 26 mm over 36 mm of full frame, as phones have (from memory)."""
DOUGHS = {1: (205, 92, 120), 2: (80, 150, 90), 4: (90, 130, 190), 5: (226, 200, 150)}
TABLE = (150, 112, 84)


@dataclass(frozen=True)
class Shot:
    """A photo, and the homography (3, 3) from mm of the paper to photo px."""

    photo: Photo
    to_px: NDArray[np.float64]

    def at(self, mm: Point) -> Point:
        x, y, w = self.to_px @ [*mm, 1.0]
        return (float(x / w), float(y / w))


def linear(srgb: NDArray[np.generic]) -> NDArray[np.float32]:
    v = np.asarray(srgb, np.float32) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


def srgb(light: NDArray[np.float32]) -> NDArray[np.float32]:
    v = light.clip(0, 1)
    return (255 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)).astype(np.float32)


@cache
def printed(paper: Paper) -> NDArray[np.float32]:
    """The printed page as linear light at PRINT_MM a pixel, on paper of 0.82, with some table around it."""
    page = pypdfium2.PdfDocument(mat_pdf(paper))[0]
    seen = page.render(scale=25.4 / 72 / PRINT_MM).to_numpy()[..., 2::-1]
    around = round(BESIDE_MM / PRINT_MM)
    sides = [(around, around), (around, around)]
    table = linear(np.array(TABLE))
    return np.stack(
        [np.pad(0.82 * linear(seen[..., i]), sides, constant_values=table[i]) for i in range(3)], -1
    )


def blob(
    scene: NDArray[np.float32], at: Point, radius_mm: float, colour: tuple[int, int, int], seed: int
) -> None:
    """A pinch of dough: an uneven disc, darker towards its rim."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    reach = radius_mm * (
        1 + 0.08 * np.sin(2 * angle + rng.uniform(0, 6)) + 0.06 * np.sin(3 * angle + rng.uniform(0, 6))
    )
    for k in range(6):
        rim = np.stack([np.cos(angle), np.sin(angle)], axis=1) * reach[:, None] * (1 - 0.06 * k) + at
        corners = np.rint((rim + BESIDE_MM) / PRINT_MM).astype(np.int32)
        light = linear(np.array(colour)) * (0.75 + 0.05 * k)
        cv2.fillPoly(scene, [corners], [float(v) for v in light])


def camera(paper: Paper, tilt: float, towards: float, roll: float, fill: float = 0.76) -> NDArray[np.float64]:
    """Paper mm to photo px, (3, 3), of a pinhole that looks at the middle of the mat."""
    width, height = mat_layout(paper).size
    a, b, c = (math.radians(v) for v in (tilt, towards, roll))
    lean = np.array([[1, 0, 0], [0, math.cos(a), -math.sin(a)], [0, math.sin(a), math.cos(a)]])
    turn, spin = (
        np.array([[math.cos(v), -math.sin(v), 0], [math.sin(v), math.cos(v), 0], [0, 0, 1]]) for v in (b, c)
    )
    rotation = spin @ turn @ lean @ turn.T
    long = max(width, height / 0.75) if abs(math.sin(c)) < 0.5 else max(height, width / 0.75)
    away = np.array([[0.0], [0.0], [FOCAL * long / fill]])
    lens = np.array([[FOCAL * SIZE[0], 0, SIZE[0] / 2], [0, FOCAL * SIZE[0], SIZE[1] / 2], [0, 0, 1]])
    middle = np.array([[1, 0, -width / 2], [0, 1, -height / 2], [0, 0, 1]])
    return np.asarray(lens @ np.hstack([rotation[:, :2], away]) @ middle, np.float64)


def shoot(
    paper: Paper = "a4",
    tilt: float = 0.0,
    towards: float = 0.0,
    roll: float = 0.0,
    covered: tuple[int, ...] = (),
    pads: tuple[int, ...] = (),
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0),
    light: float = 1.0,
) -> Shot:
    """The photo of the mat: dough on some pads and over some markers (by their order), light of a tint."""
    layout, scene = mat_layout(paper), printed(paper).copy()
    for i in covered:
        x, y = list(layout.markers.values())[i]
        blob(scene, (x + MARKER_MM / 2, y + MARKER_MM / 2), 8, DOUGHS[1], i)
    for number in pads:
        blob(scene, layout.pads[number - 1].at, PAD_RADIUS_MM * 0.8, DOUGHS[number], number)
    for i, colour in enumerate(DOUGHS.values()):
        blob(scene, (80 + 45.0 * i, 100), 19, colour, 50 + i)
    to_px = camera(paper, tilt, towards, roll)
    raster = np.array([[PRINT_MM, 0, -BESIDE_MM], [0, PRINT_MM, -BESIDE_MM], [0, 0, 1]])
    middles = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    soft = cv2.GaussianBlur(scene, (0, 0), 0.9)
    seen = cv2.warpPerspective(
        soft, np.linalg.inv(middles) @ to_px @ raster @ middles, SIZE, borderMode=cv2.BORDER_REPLICATE
    )
    rng = np.random.default_rng(int(tilt * 7 + towards + roll))
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float32)
    way = rng.uniform(0, 2 * math.pi)
    slope = (x / SIZE[0] - 0.5) * math.cos(way) + (y / SIZE[1] - 0.5) * math.sin(way)
    fade = 1 - 0.5 * (((x / SIZE[0] - 0.5) ** 2) + ((y / SIZE[1] - 0.5) ** 2))
    lit = seen * (light * (1 + 0.5 * slope) * fade)[..., None] * np.array(tint, np.float32)
    picture = srgb(cv2.GaussianBlur(lit, (0, 0), 0.7)) + rng.normal(0, 2.5, (*SIZE[::-1], 3)).astype(
        np.float32
    )
    _, data = cv2.imencode(
        ".jpg", np.rint(picture.clip(0, 255)).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 85]
    )
    full = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)
    return Shot(Photo(full), to_px)


def worst_length(shot: Shot, mat: Mat) -> float:
    """The largest error, as a share, of many segments of 15 to 240 mm in the free middle of the mat."""
    left, top, right, bottom = mat_layout(mat.paper).work
    rng = np.random.default_rng(3)
    ends = rng.uniform((left, top), (right, bottom), (2, 300, 2))
    worst = 0.0
    for a, b in zip(*ends.tolist(), strict=True):
        true = math.dist(a, b)
        if true >= 15:
            worst = max(
                worst, abs(math.dist(mat.view.to_mm(shot.at(a)), mat.view.to_mm(shot.at(b))) / true - 1)
            )
    return worst


def seen(shot: Shot) -> Mat:
    mat = find_mat(shot.photo)
    assert mat is not None
    return mat


@pytest.mark.parametrize(
    ("paper", "tilt", "towards", "roll", "covered"),
    [
        ("a4", 0, 0, 0, ()),
        ("letter", 5, 70, 3, (0, 4)),
        ("a4", 10, 160, 90, (1, 2, 3)),
        ("a4", 15, 250, 180, (5, 9)),
        ("letter", 20, 0, 0, (0, 3, 4)),
        ("a4", 20, 90, 12, (0, 2, 4, 7, 9)),
        ("a4", 20, 215, 33, (1, 2, 3, 4, 5, 7, 8)),
    ],
)
def test_lengths_are_true(
    paper: Paper, tilt: float, towards: float, roll: float, covered: tuple[int, ...]
) -> None:
    shot = shoot(paper, tilt, towards, roll, covered, pads=(1, 2, 4))
    mat = seen(shot)
    assert mat.paper == paper
    assert mat.markers == 10 - len(covered)
    worst = worst_length(shot, mat)
    print(f"{paper} tilt {tilt}: worst length {100 * worst:.3f} %, residual {mat.residual_px:.2f} px")
    assert worst < 0.005  # four times better than the 2 % wanted
    assert mat.residual_px < 0.5
    assert tilt_deg(mat.view, SIZE) == pytest.approx(tilt, abs=1.5)
    left, top, right, bottom = mat_layout(paper).work
    assert mat.work_px[0] == pytest.approx(shot.at((left, top)), abs=1)
    assert mat.work_px[2] == pytest.approx(shot.at((right, bottom)), abs=1)
    x0, y0, x1, y1 = mat.work_mm
    sides = sorted((x1 - x0, y1 - y0), reverse=True)  # a box that is true to the print, however it lies
    assert sides == pytest.approx((right - left, bottom - top), rel=0.001)
    assert mat.view.to_px((x0, y0)) in [pytest.approx(corner, abs=0.01) for corner in mat.work_px]
    (ax, ay), (bx, by) = (mat.view.to_px(at) for at in ((x0, y0), (x1, y0)))
    assert abs(by - ay) < abs(bx - ax)  # upright as far as quarter turns go


def test_a_photo_stored_smaller_gives_places_on_the_photo() -> None:
    shot = shoot("a4", 12, 30)
    whole, small = seen(shot), seen(Shot(Photo(shot.photo.pixels, 2, (2 * SIZE[0], 2 * SIZE[1])), shot.to_px))
    assert small.view.mm_per_px == pytest.approx(whole.view.mm_per_px / 2, rel=1e-6)
    assert small.residual_px == pytest.approx(2 * whole.residual_px, rel=1e-3)
    for a, b in zip(small.work_px, whole.work_px, strict=True):
        assert a == pytest.approx((2 * b[0], 2 * b[1]), abs=0.01)


@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (1.0, 0.82, 0.55), (0.75, 0.9, 1.0)])
def test_the_grey_patches_undo_the_tint_of_the_light(tint: tuple[float, float, float]) -> None:
    mat = seen(shoot("letter", 8, 45, 0, (1,), pads=(1,), tint=tint))
    assert mat.gains is not None
    assert mat.gains == pytest.approx(tuple(tint[1] / t for t in tint), rel=0.02)


def test_burnt_out_patches_are_left_out() -> None:
    mat = seen(shoot("a4", light=2.2, tint=(1.0, 0.9, 0.7)))  # the lightest greys are clipped in red
    assert mat.gains == pytest.approx((0.9, 1, 9 / 7), rel=0.03)
    assert seen(shoot("a4", light=0.012)).gains is None


@pytest.mark.parametrize("pads", [(), (1, 2, 4, 5), (2,), (5,)])
@pytest.mark.parametrize("tint", [(1.0, 1.0, 1.0), (1.0, 0.82, 0.55)])
def test_doughs_are_learnt_from_the_pads(pads: tuple[int, ...], tint: tuple[float, float, float]) -> None:
    shot = shoot("a4", 15, 300, 0, (2,), pads, tint)
    mat = seen(shot)
    assert tuple(pad.number for pad in mat.pads) == pads
    layout = mat_layout("a4")
    for pad in mat.pads:
        assert (
            pad.role == ("conductive" if pad.number < 4 else "insulating") == layout.pads[pad.number - 1].role
        )
        middle = shot.at(layout.pads[pad.number - 1].at)
        reach = 0.8 * PAD_RADIUS_MM / mat.view.mm_per_px_at(middle)
        assert len(pad.taps) >= 3
        assert all(math.dist(tap, middle) < reach for tap in pad.taps)
        apart = [math.dist(a, b) for i, a in enumerate(pad.taps) for b in pad.taps[:i]]
        assert min(apart) > 0.1 * reach and max(apart) > 0.6 * reach
        # In the photo each tap shows the dough: the hue of the colour painted, under this light.
        hue = np.log(linear(np.array(pad.colour)) + 0.02)
        painted = np.log(linear(np.array(DOUGHS[pad.number])) * 0.9 * np.array(tint) + 0.02)
        off = (hue - hue[1]) - (painted - painted[1])
        assert np.abs(off).max() < 0.15


@pytest.mark.parametrize(("depth", "across"), [(0.5, 0), (0.3, 0), (0.3, 12), (0.3, -12)])
def test_the_shadow_of_a_hand_is_no_dough(depth: float, across: int) -> None:
    shot = shoot("a4", 5, tint=(1.0, 0.9, 0.75))
    edge = shot.at((0, 16))[1] + across
    y = np.arange(SIZE[1])[:, None, None] - edge
    lit = 1 / (1 + np.exp(-y / 4)) * (1 - depth * np.array([0.95, 1, 1.08])) + depth * np.array(
        [0.95, 1, 1.08]
    )
    dim = np.rint(srgb((linear(shot.photo.pixels) * lit).astype(np.float32))).astype(np.uint8)
    mat = seen(Shot(Photo(dim), shot.to_px))
    assert mat.pads == ()
    assert mat.gains == pytest.approx((0.9, 1, 1.2), rel=0.02)


@pytest.mark.parametrize(
    "colours",
    [((238, 228, 205), (35, 33, 34), (120, 120, 122)), ((240, 205, 205), (205, 220, 240), (120, 80, 50))],
)
def test_pale_grey_and_black_doughs_are_dough(
    colours: tuple[tuple[int, int, int], ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    for number, colour in zip((1, 2, 4), colours, strict=True):
        monkeypatch.setitem(DOUGHS, number, colour)
    mat = seen(shoot("letter", 8, 120, 0, (), (1, 2, 4), (1.0, 0.9, 0.75)))
    assert [pad.number for pad in mat.pads] == [1, 2, 4]


def test_blank_paper_is_found_round_what_lies_on_it() -> None:
    shot = shoot("a4", 10, 120, 0, (0, 5), (1, 4), (1.0, 0.8, 0.6))
    mat = seen(shot)
    assert len(mat.table_taps) >= 20
    back = np.linalg.inv(shot.to_px)
    for x, y in mat.table_taps:
        u, v, w = back @ [x, y, 1]
        col, row = (round((value / w + BESIDE_MM) / PRINT_MM) for value in (u, v))
        assert printed("a4")[row, col].min() > 0.8  # nothing is printed there


def test_no_mat_no_answer() -> None:
    noise = np.random.default_rng(0).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    assert find_mat(Photo(noise)) is None
    assert find_mat(Photo(np.full((600, 800, 3), 200, np.uint8))) is None


@pytest.mark.parametrize("covered", [tuple(range(9)), (0, 1, 2, 3, 4, 5), (1, 2, 3, 5, 6, 7, 8, 9)])
def test_too_few_markers_are_refused_with_advice(covered: tuple[int, ...]) -> None:
    with pytest.raises(ScaleError, match=r"of the 10 black squares .* take the photo again"):
        find_mat(shoot("a4", 10, 0, 0, covered).photo)


def test_a_mat_seen_from_aside_is_refused() -> None:
    with pytest.raises(ScaleError, match="degrees aside"):
        find_mat(shoot("a4", 64, 180).photo)
