"""Two slabs painted side by side on a plain table: a gap is seen, measured and, when narrow, doubted."""

import cv2
import numpy as np
import pytest

from vision.model import Colour, Contact, Photo, Scene
from vision.scene import read_scene
from vision.table_view import view_from_mm_per_px

MM_PER_PX = 0.12
SIDE, LEFT, MIDDLE, RIGHT, TOP, BOTTOM = 700, 150, 350, 550, 200, 500
ROSE, TEAL = (205, 90, 110), (80, 150, 170)


def painted(gap_mm: float, right: tuple[int, int, int]) -> Scene:
    """A blurred, noisy photo of two slabs with a gap of known width between them, as it is seen."""
    half = gap_mm / MM_PER_PX / 2
    x = np.arange(SIDE)
    image = np.full((SIDE, SIDE, 3), (188.0, 180.0, 168.0))
    inside = ((x >= TOP) & (x < BOTTOM))[:, None, None]
    for colour, (start, stop) in ((ROSE, (LEFT, MIDDLE - half)), (right, (MIDDLE + half, RIGHT))):
        cover = np.clip(np.minimum(x + 1, stop) - np.maximum(x, start), 0, 1)[None, :, None] * inside
        image = image * (1 - cover) + np.array(colour) * cover
    image = cv2.GaussianBlur(image, (0, 0), 0.8) + np.random.default_rng(3).normal(0, 3, image.shape)
    doughs = [Colour("rose", "conductive", ((200, 300), (250, 400)))]
    if right != ROSE:
        doughs.append(Colour("teal", "conductive", ((450, 300), (500, 400))))
    palette = [*doughs, Colour("table", "table", ((50, 50), (650, 650)))]
    pixels = np.clip(image, 0, 255).astype(np.uint8)
    return read_scene(Photo(pixels), palette, [], view_from_mm_per_px(MM_PER_PX))


def the_contact(scene: Scene) -> Contact:
    (contact,) = scene.contacts
    return contact


@pytest.mark.parametrize("right", [ROSE, TEAL])
@pytest.mark.parametrize("gap_mm", [1.0, 1.2, 1.5])
def test_a_narrow_gap_is_never_taken_for_touching(gap_mm: float, right: tuple[int, int, int]) -> None:
    """Where a narrow gap falls apart into several doubtful places, none of them may be a sure touch."""
    scene = painted(gap_mm, right)
    assert len(scene.pieces) > 1
    assert {contact.kind for contact in scene.contacts} <= {"doubtful", "gap"} and scene.contacts


@pytest.mark.parametrize("right", [ROSE, TEAL])
@pytest.mark.parametrize("gap_mm", [2.0, 2.5, 4.0])
def test_a_wider_gap_is_measured(gap_mm: float, right: tuple[int, int, int]) -> None:
    contact = the_contact(painted(gap_mm, right))
    assert contact.kind == "gap"
    assert contact.gap_mm == pytest.approx(gap_mm, abs=0.2)
    assert contact.at[0] == pytest.approx(MIDDLE, abs=3)


def test_pressed_together_is_touching() -> None:
    assert painted(0.0, ROSE).contacts == ()
    contact = the_contact(painted(0.0, TEAL))
    assert contact.kind == "touching"
    assert contact.length_mm == pytest.approx((BOTTOM - TOP) * MM_PER_PX, rel=0.1)
