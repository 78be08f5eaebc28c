"""The work mat as it is printed: size, geometry, words."""

import numpy as np
import pypdfium2
import pytest
from numpy.typing import NDArray

from api.mat_sheet import CAUTIONS, mat_pdf
from vision.mat_layout import (
    MARKER_MM,
    MODULES,
    PAD_RADIUS_MM,
    PAPERS,
    PATCH_MM,
    Paper,
    marker_modules,
    mat_layout,
)

PRINT_MM = 0.1
LEAST_MARGIN_MM = 8.0


def page(paper: Paper) -> NDArray[np.uint8]:
    """The page in sRGB at PRINT_MM a pixel."""
    found = pypdfium2.PdfDocument(mat_pdf(paper))[0].render(scale=25.4 / 72 / PRINT_MM).to_numpy()
    return np.asarray(found[..., 2::-1], np.uint8)


def cut(picture: NDArray[np.uint8], x: float, y: float, wide: float, high: float) -> NDArray[np.uint8]:
    return picture[
        round(y / PRINT_MM) : round((y + high) / PRINT_MM), round(x / PRINT_MM) : round((x + wide) / PRINT_MM)
    ]


@pytest.mark.parametrize("paper", list(PAPERS))
def test_the_page_is_the_paper_and_its_margin_is_blank(paper: Paper) -> None:
    document = pypdfium2.PdfDocument(mat_pdf(paper))
    assert len(document) == 1
    width, height = (v * 25.4 / 72 for v in document[0].get_size())
    # ISO 216: A4 is 210 x 297 mm; Letter is 8.5 x 11 inches (from memory).
    assert (width, height) == pytest.approx(
        (297, 210) if paper == "a4" else (11 * 25.4, 8.5 * 25.4), abs=0.01
    )
    picture, rim = page(paper), round(LEAST_MARGIN_MM / PRINT_MM)
    inner = picture[rim:-rim, rim:-rim]
    assert (inner < 255).sum() == (picture < 255).sum()  # all ink lies inside


@pytest.mark.parametrize("paper", list(PAPERS))
def test_everything_stands_where_the_layout_says(paper: Paper) -> None:
    picture, layout = page(paper), mat_layout(paper)
    side = MARKER_MM / MODULES
    for number, (x, y) in layout.markers.items():
        for (row, col), black in np.ndenumerate(marker_modules(number)):
            module = cut(picture, x + (col + 0.2) * side, y + (row + 0.2) * side, 0.6 * side, 0.6 * side)
            assert (module == (0 if black else 255)).all()
        # A blank rim of one module, without which a marker is not found.
        around = cut(picture, x - side, y - side, MARKER_MM + 2 * side, MARKER_MM + 2 * side).astype(int)
        mark = cut(picture, x - 0.1, y - 0.1, MARKER_MM + 0.2, MARKER_MM + 0.2)
        assert (255 - around).sum() == (255 - mark.astype(int)).sum()
    for (x, y), grey in layout.patches:
        patch = cut(picture, x + 0.2, y + 0.2, PATCH_MM - 0.4, PATCH_MM - 0.4)
        assert np.abs(patch - 255 * grey).max() <= 1  # neutral: the same in all channels
    for pad in layout.pads:
        x, y = pad.at
        reach = 0.6 * PAD_RADIUS_MM
        assert (cut(picture, x - reach, y - reach, 2 * reach, 2 * reach) == 255).all()
        ring = [
            picture[
                round((y + PAD_RADIUS_MM * np.sin(a)) / PRINT_MM),
                round((x + PAD_RADIUS_MM * np.cos(a)) / PRINT_MM),
            ]
            for a in np.linspace(0, 2 * np.pi, 360)
        ]
        inked = np.mean(np.min(ring, axis=1) < 200)
        assert inked > 0.97 if pad.role == "conductive" else 0.3 < inked < 0.75  # whole or dashed
    left, top, right, bottom = layout.work
    assert (cut(picture, left + 1, top + 4, right - left - 2, bottom - top - 8) == 255).mean() > 0.9995


def test_the_ruler_is_100_mm_long() -> None:
    picture = page("a4")
    left = mat_layout("a4").work[0]
    y = round((210 - 9 - 4.6 - 3.4) / PRINT_MM)  # through the long marks, one every 10 mm
    dark = np.nonzero(
        picture[y, round((left - 2) / PRINT_MM) : round((left + 102) / PRINT_MM)].max(axis=1) < 200
    )[0]
    marks = [group.mean() * PRINT_MM for group in np.split(dark, np.nonzero(np.diff(dark) > 1)[0] + 1)]
    assert np.diff(marks) == pytest.approx(np.full(10, 10.0), abs=0.15)
    assert marks[-1] - marks[0] == pytest.approx(100, abs=0.1)


@pytest.mark.parametrize("paper", list(PAPERS))
def test_the_words_are_there_and_the_file_is_the_same_every_time(paper: Paper) -> None:
    assert mat_pdf(paper) == mat_pdf(paper)
    said = pypdfium2.PdfDocument(mat_pdf(paper))[0].get_textpage().get_text_range()
    for words in (
        *CAUTIONS,
        "Print at 100 %",
        "100 mm",
        "conductive",
        "insulating",
        "A4" if paper == "a4" else "Letter",
    ):
        assert words in said
