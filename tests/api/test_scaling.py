"""What a case may say of scale, and how the mat fills in taps."""

import json
from typing import Any

import cv2
import numpy as np
import pypdfium2
import pytest
from pydantic import ValidationError

from api import scaling
from api.errors import InputError, sentence
from api.mat_sheet import mat_pdf
from api.pipeline import inspect_case
from api.schemas import Case
from vision.errors import ScaleError
from vision.mat import Mat
from vision.mat_colours import FilledPad
from vision.mat_layout import mat_layout
from vision.table_view import view_from_mm_per_px

SIZE = (1000, 800)
SQUARE = [[100, 100], [900, 100], [900, 700], [100, 700]]
PALETTE = [
    {"name": "teal", "role": "conductive", "taps": [[300, 300]]},
    {"name": "amber", "role": "insulating", "taps": [[500, 300]]},
]


def case(scale: dict[str, Any] | None, palette: list[dict[str, Any]] = PALETTE, **more: Any) -> Case:
    told = {"schema": "doughsight-case/1", "photo": "owl.jpg", "palette": palette, "scale": scale, **more}
    return Case.model_validate_json(json.dumps(told))


@pytest.mark.parametrize(
    ("scale", "mm_per_px"),
    [
        ({"points": [[0, 0], [300, 400]], "mm": 50}, 0.1),
        ({"mm_per_px": 0.2}, 0.2),
        ({"card": [[0, 0], [856, 0]]}, 0.1),
        ({"card": [[0, 0], [856, 0], [856, 539.8], [0, 539.8]]}, 0.1),
        ({"corners": SQUARE, "sides_mm": [120, 90]}, 0.15),
        ({"coin": [[0, 0], [0, 100]], "mm": 24}, 0.24),
        ({"coin": [[0, 50], [20, 10], [50, 0], [80, 10], [100, 50], [50, 100]], "mm": 25}, 0.25),
    ],
)
def test_every_kind_of_scale(scale: dict[str, Any], mm_per_px: float) -> None:
    view = scaling.view_of(case(scale).scale, SIZE)
    assert view.mm_per_px == pytest.approx(mm_per_px, rel=1e-6)
    assert view.true_scale


def test_no_scale_is_a_relative_one() -> None:
    assert not scaling.view_of(None, SIZE).true_scale


@pytest.mark.parametrize(
    ("scale", "words"),
    [
        ({}, "two points with their mm, mm_per_px, mat, card"),
        ({"mat": False}, "mat, card"),
        ({"mm": 5}, "two points with their mm"),
        ({"points": [[0, 0], [9, 9]]}, "both: points, and the mm between them"),
        ({"coin": [[0, 0], [9, 9]]}, "both: coin, and mm across the coin"),
        ({"mat": True, "mm": 3}, "told by mat, so mm means nothing"),
        ({"mat": True, "mm_per_px": 0.1}, "told by mm_per_px and by mat"),
        ({"corners": SQUARE}, "both: corners of a rectangle, and its sides_mm"),
        ({"card": SQUARE, "sides_mm": [1, 2]}, "both: corners of a rectangle"),
        ({"corners": SQUARE, "sides_mm": [1, -2]}, "sides_mm"),
        ({"corners": SQUARE[:3], "sides_mm": [1, 2]}, "corners"),
        ({"card": [*SQUARE, [1, 1]]}, "card"),
    ],
)
def test_what_is_no_scale_gets_one_sentence(scale: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError) as found:
        case(scale)
    said = sentence(found.value)
    assert words in said and said.endswith(".") and said.count("\n") == 0


def plain(role: str, name: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "role": role, **more}


def mat(*pads: tuple[int, str]) -> Mat:
    """A mat with dough on these pads; tap k of pad n lies at (n, k)."""
    filled = tuple(
        FilledPad(
            n,
            "conductive" if role == "c" else "insulating",
            tuple((float(n), float(k)) for k in range(3)),
            (9, 9, 9),
        )
        for n, role in pads
    )
    blank = tuple((float(x), 50.0) for x in range(0, 1000, 50))
    work = ((0.0, 0.0), (1000.0, 0.0), (1000.0, 800.0), (0.0, 800.0))
    return Mat("a4", view_from_mm_per_px(0.3), 10, 0.2, 0.001, None, filled, blank, work, (0, 0, 300, 240))


def taps_of(found: Case) -> dict[str, list[int]]:
    """Which pads the taps of each dough come from."""
    return {e.name: sorted({round(x) for x, _ in e.taps}) for e in found.palette if e.role != "table"}


def test_doughs_take_the_filled_pads_of_their_role_in_order() -> None:
    palette = [plain("insulating", "sky"), plain("conductive", "teal"), plain("conductive", "rose")]
    found = scaling.with_taps(case({"mat": True}, palette), mat((1, "c"), (3, "c"), (4, "i")))
    assert taps_of(found) == {"sky": [4], "teal": [1], "rose": [3]}
    assert found.palette[-1].role == "table"


def test_named_pads_and_own_taps_come_first() -> None:
    palette = [
        plain("conductive", "teal"),
        plain("conductive", "rose", pad=1),
        plain("conductive", "mint", taps=[[77, 7]]),
        plain("insulating", "sky", pad=3),
    ]
    found = scaling.with_taps(case({"mat": True}, palette), mat((1, "c"), (2, "c"), (3, "c")))
    assert taps_of(found) == {"teal": [2], "rose": [1], "mint": [77], "sky": [3]}


def test_the_table_is_the_paper_nearest_to_the_sculpture() -> None:
    palette = [plain("conductive", "teal"), plain("table", "mat")]
    pack = {"plus": [300, 50], "minus": [320, 50]}
    found = scaling.with_taps(case({"mat": True}, palette, pack=pack), mat((1, "c")))
    assert [e.name for e in found.palette] == ["teal", "mat"]
    assert sorted(x for x, _ in found.palette[1].taps) == [200, 250, 300, 350, 400, 450]


@pytest.mark.parametrize(
    ("palette", "words"),
    [
        ([plain("conductive", "teal", pad=2)], "pad 2, which teal names"),
        (
            [plain("conductive", "teal"), plain("conductive", "rose")],
            "rose has no tap, and no conductive pad",
        ),
        ([plain("conductive", "teal"), plain("insulating", "sky")], "sky has no tap, and no insulating pad"),
    ],
)
def test_a_dough_that_is_nowhere_is_said(palette: list[dict[str, Any]], words: str) -> None:
    with pytest.raises(InputError, match=words):
        scaling.with_taps(case({"mat": True}, palette), mat((1, "c")))


def test_two_doughs_on_one_pad_are_refused() -> None:
    with pytest.raises(ValidationError, match="name pad 1"):
        case({"mat": True}, [plain("conductive", "teal", pad=1), plain("insulating", "sky", pad=1)])


def test_without_the_mat_every_colour_needs_a_tap() -> None:
    with pytest.raises(ValidationError, match="teal has no tap"):
        case({"mm_per_px": 0.1}, [plain("conductive", "teal", pad=1)])


def photo_of_a_mat() -> bytes:
    """A printed mat from straight above, 0.2 mm a pixel, with two doughs and a pinch of each."""
    page = pypdfium2.PdfDocument(mat_pdf("a4"))[0].render(scale=25.4 / 72 / 0.2).to_numpy()[..., 2::-1]
    paper = (0.9 * page).astype(np.uint8)
    rng, pads = np.random.default_rng(0), mat_layout("a4").pads
    for (x, y), radius, colour in (
        (pads[0].at, 5, (200, 80, 110)),
        (pads[3].at, 5, (70, 130, 200)),
        ((120, 100), 20, (200, 80, 110)),
        ((170, 100), 20, (70, 130, 200)),
    ):
        cv2.circle(paper, (round(x / 0.2), round(y / 0.2)), round(radius / 0.2), colour, -1, cv2.LINE_AA)
    noisy = paper + rng.normal(0, 3, paper.shape)
    done, data = cv2.imencode(".jpg", noisy.clip(0, 255).astype(np.uint8)[..., ::-1])
    assert done
    return data.tobytes()


def test_a_photo_of_the_mat_needs_no_tap_at_all() -> None:
    palette = [plain("conductive", "rose"), plain("insulating", "sky")]
    report = inspect_case(case({"mat": True}, palette), photo_of_a_mat()).report
    assert report.photo.true_scale
    assert len(report.pieces) == 2  # the pinches on the pads are no part of the sculpture
    assert report.photo.mm_per_px == pytest.approx(0.2, rel=0.01)
    for name, at in (("rose", (600, 500)), ("sky", (850, 500))):
        outlines = [np.array(p.outline, np.float32) for p in report.pieces if p.colour == name]
        around = [p for p in outlines if cv2.pointPolygonTest(p.reshape(-1, 1, 2), at, False) > 0]
        assert len(around) == 1
        # A disc of 40 mm: its outline is 200 px wide.
        assert np.ptp(around[0], axis=0) == pytest.approx((200, 200), abs=6)


def test_a_photo_without_the_mat_says_what_to_do() -> None:
    empty = np.random.default_rng(1).integers(60, 200, (600, 800, 3), dtype=np.uint8)
    _, data = cv2.imencode(".png", empty)
    with pytest.raises(ScaleError, match=r"No mat can be seen .* two points"):
        inspect_case(case({"mat": True}), data.tobytes())
    labels = case({"mat": True}, labels="owl.labels.png").model_copy(update={"photo": None})
    with pytest.raises(ScaleError, match="send the photo too"):
        inspect_case(labels, None, b"")
