"""The network sees painted and invented doughs, whatever their colours, order and number."""

from concurrent.futures import ThreadPoolExecutor
from importlib.resources import files

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from sample_images.studio.invent import Invention, invent
from sample_images.studio.quick import photograph, table_colour
from vision.eyes import look
from vision.glare import led_cover
from vision.inputs import PLANES, ROUND_TO, SEEN_MM, SLOTS, Told, input_planes
from vision.model import Colour, Mark, Photo, Point, Role, TableView
from vision.scene import read_scene
from vision.seen import THINGS, Seen
from vision.straighten import on_photo
from vision.table_view import view_from_mm_per_px

MM_PER_PX = 0.15
VIEW = view_from_mm_per_px(MM_PER_PX)
CLOTH = (120, 126, 134)
EIGHT = (
    (200, 60, 60), (240, 200, 60), (70, 160, 70), (60, 90, 200),
    (160, 70, 170), (70, 190, 190), (240, 240, 235), (250, 140, 60),
)  # fmt: skip


def photo_of(discs: list[tuple[Point, float, tuple[int, int, int]]], size: tuple[int, int]) -> Photo:
    """Blurred discs (middle and radius in px, colour) with a shaded rim on a plain cloth."""
    rows, cols = size
    y, x = np.mgrid[:rows, :cols]
    image = np.full((rows, cols, 3), CLOTH, float)
    for (cx, cy), r, colour in discs:
        d = np.hypot(x - cx, y - cy)
        shade = 0.55 + 0.45 * np.sqrt(np.clip((r - d) / 30, 0, 1))
        cover = np.clip(r - d, 0, 1)[..., None]
        image = image * (1 - cover) + np.array(colour) * shade[..., None] * cover
    image = cv2.GaussianBlur(image, (0, 0), 0.8) + np.random.default_rng(1).normal(0, 2, image.shape)
    return Photo(np.clip(image, 0, 255).astype(np.uint8))


def labels_of(photo: Photo, palette: list[Colour], view: TableView = VIEW) -> NDArray[np.uint8]:
    seen, box = look(photo, palette, [], view)
    labels = seen.chance.argmax(axis=0).astype(np.uint8)
    return np.asarray(on_photo(labels, view, box, seen.cell_mm, (photo.width, photo.height)), np.uint8)


def overlap(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> float:
    return float((one & other).sum() / max(1, (one | other).sum()))


def disc(size: tuple[int, int], at: Point, r: float) -> NDArray[np.bool_]:
    y, x = np.mgrid[: size[0], : size[1]]
    return np.asarray(np.hypot(x - at[0], y - at[1]) < r)


def role_of(label: int, made: Invention) -> Role:
    if label == 0:
        return "table"
    return "conductive" if made.doughs[label - 1].conducts else "insulating"


def test_the_network_is_small() -> None:
    assert len((files("vision") / "eyes.onnx").read_bytes()) < 2_000_000


def test_planes_say_what_was_told() -> None:
    pixels = np.full((4 * ROUND_TO, 6 * ROUND_TO, 3), 128, np.uint8)
    pixels[:32, :48] = (200, 80, 60)
    told = Told(([(20.0, 12.0)],), [(80.0, 50.0)], (((30.0, 20.0), (60.0, 20.0), True),), [(10.0, 50.0)])
    planes, light = input_planes(pixels, told)
    assert planes.shape == (PLANES, 2 * ROUND_TO, 3 * ROUND_TO) and light.shape == pixels.shape[:2]
    table, first, empty = planes[6], planes[8], planes[10]
    assert first[4, 20] < 0.3 < first[25, 40] and table[25, 40] < 0.3 < table[4, 20]
    assert (empty == empty[0, 0]).all()
    assert planes[20].max() == pytest.approx(1, abs=0.02) and planes[21].max() > 0.9
    row, col = np.unravel_index(int(planes[23].argmax()), planes[23].shape)
    assert (col * 2, row * 2) == pytest.approx((10, 50), abs=2)


def test_any_order_of_the_palette_gives_the_same_areas() -> None:
    places = [(200.0, 200.0), (420.0, 200.0), (310.0, 380.0)]
    photo = photo_of([(at, 80, EIGHT[i]) for i, at in enumerate(places)], (560, 640))
    doughs = [Colour(f"d{i}", "conductive", (at,)) for i, at in enumerate(places)]
    table = Colour("table", "table", ((40, 40), (600, 520)))
    for order in ((0, 1, 2), (2, 0, 1)):
        labels = labels_of(photo, [*(doughs[i] for i in order), table])
        for label, i in enumerate(order, start=1):
            assert overlap(labels == label, disc(labels.shape, places[i], 80)) > 0.93


def test_more_doughs_than_the_network_has_slots() -> None:
    places = [(150.0 + 190 * (i % 4), 160.0 + 200 * (i // 4)) for i in range(8)]
    photo = photo_of([(at, 70, colour) for at, colour in zip(places, EIGHT, strict=True)], (520, 880))
    assert len(places) > SLOTS
    palette = [Colour(f"d{i}", "conductive", (at,)) for i, at in enumerate(places)]
    labels = labels_of(photo, [*palette, Colour("table", "table", ((30, 30), (850, 490)))])
    for i, at in enumerate(places):
        assert overlap(labels == i + 1, disc(labels.shape, at, 70)) > 0.85


def test_the_box_grows_while_dough_runs_out_of_it() -> None:
    image = np.full((500, 1600, 3), CLOTH, np.uint8)
    image[200:300, 100:1500] = EIGHT[3]
    palette = [Colour("bar", "conductive", ((300.0, 250.0),)), Colour("table", "table", ((300.0, 80.0),))]
    labels = labels_of(Photo(image), palette)
    assert overlap(labels == 1, (image == EIGHT[3]).all(axis=2)) > 0.95


def test_a_tap_far_away_tells_its_colour_all_the_same() -> None:
    photo = photo_of([((200.0, 200.0), 80, EIGHT[0])], (700, 1500))
    near = Colour("red", "conductive", ((200, 200),))
    labels = labels_of(photo, [near, Colour("table", "table", ((1450.0, 650.0),))])
    assert overlap(labels == 1, disc(labels.shape, (200.0, 200.0), 80)) > 0.93


def test_invented_sculptures_are_seen() -> None:
    """Seeds below 1,000,000 were not learnt from; the floor is far below what is measured (0.96)."""
    found = []
    for seed in (31, 32, 33):
        table = table_colour(np.random.default_rng([seed, 3]))
        made = invent(seed, table=table)
        view = photograph(made, table, MM_PER_PX)
        bare = view.things == 0
        palette = []
        for i in range(len(made.doughs) + 1):
            room = cv2.distanceTransform(((view.labels == i) & bare).astype(np.uint8), cv2.DIST_L2, 5)
            y, x = np.unravel_index(int(room.argmax()), room.shape)
            if room.max() > 4:
                palette.append((i, Colour(f"d{i}", role_of(i, made), ((float(x), float(y)),))))
        labels = labels_of(Photo(view.photo), [c for _, c in palette])
        for label, (i, _) in enumerate([p for p in palette if p[0] > 0], start=1):
            found.append(overlap((labels == label) & bare, (view.labels == i) & bare))
    assert np.mean(found) > 0.85


def test_two_photos_at_a_time_are_seen_as_one_after_another() -> None:
    photos = [photo_of([((200.0, 200.0), r, EIGHT[0])], (400, 400 + r)) for r in (60, 110)]
    palette = [Colour("red", "conductive", ((200, 200),)), Colour("table", "table", ((30, 30),))]
    alone = [labels_of(photo, palette) for photo in photos]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda photo: labels_of(photo, palette), photos * 3))
    for i, labels in enumerate(together):
        assert np.array_equal(labels, alone[i % 2])


def test_a_tilted_photo_gets_its_labels_where_the_dough_is() -> None:
    flat = photo_of([((350.0, 350.0), 120, EIGHT[2])], (700, 700))
    tilt = np.array([[1.0, 0.08, 10], [0.02, 0.9, 20], [1e-4, 2.5e-4, 1]])
    image = cv2.warpPerspective(flat.pixels, tilt, (700, 700), borderMode=cv2.BORDER_REPLICATE)
    to_mm = np.diag([MM_PER_PX, MM_PER_PX, 1]) @ np.linalg.inv(tilt)
    view = TableView(MM_PER_PX, (0.0, 0.0), True, tuple((to_mm / to_mm[2, 2]).ravel().tolist()))

    def moved(x: float, y: float) -> Point:
        u, v, w = tilt @ np.array([x, y, 1.0])
        return (float(u / w), float(v / w))

    palette = [Colour("d", "conductive", (moved(350, 350),)), Colour("t", "table", (moved(60, 60),))]
    scene = read_scene(Photo(np.ascontiguousarray(image)), palette, [], view)
    true = cv2.warpPerspective(disc((700, 700), (350, 350), 120).astype(np.uint8), tilt, (700, 700)) > 0
    assert overlap(scene.labels == 1, true) > 0.93
    assert scene.pieces[0].area_mm2 == pytest.approx(np.pi * (120 * MM_PER_PX) ** 2, rel=0.04)


def test_what_burns_out_between_legs_hides_the_dough() -> None:
    shape = (100, 100)
    light = np.full(shape, np.log(1.2), np.float32)
    light[46:80, 40:60] = np.log(2.95)
    nothing = np.zeros((len(THINGS), *shape), np.float32)
    chance = np.stack([np.zeros(shape), np.ones(shape)]).astype(np.float32)
    seen = Seen(chance, nothing, light, SEEN_MM, view_from_mm_per_px(SEEN_MM))
    legs = [Mark("L1.long", "leg", (30, 45), (70, 45)), Mark("L1.short", "leg", (70, 45), (30, 45))]
    hidden = led_cover(seen, legs)
    assert hidden[46:78, 41:59].all() and not hidden[:, :30].any() and not hidden[92:].any()
    assert not led_cover(seen, []).any()
