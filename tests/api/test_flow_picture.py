"""The picture of the flow: lines on the photo and a key, from a sample."""

import io
from importlib.resources import files
from xml.etree import ElementTree

import pytest
from PIL import Image

from api.flow_picture import LAYERS, flow_png, summary
from api.overlay import overlay_svg
from api.pipeline import Result, inspect_case
from api.schemas import Case

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def snail() -> Result:
    folder = files("sample_images")
    case = Case.model_validate_json((folder / "snail.case.json").read_text())
    return inspect_case(case, (folder / str(case.photo)).read_bytes(), flow=True)


def test_lines_are_told_in_photo_pixels_with_their_currents(snail: Result) -> None:
    report = snail.report
    leds = {led.id: led.current_mA for led in report.leds}
    for led, current in leds.items():
        share = sum(line.current_mA for line in report.flow if line.end == f"{led}.long")
        assert share == pytest.approx(current, rel=0.35)
    for line in report.flow:
        for x, y in line.points:
            assert 0 <= x <= report.photo.width and 0 <= y <= report.photo.height


def test_without_being_asked_no_flow_is_told() -> None:
    folder = files("sample_images")
    case = Case.model_validate_json((folder / "snail.case.json").read_text())
    report = inspect_case(case, (folder / str(case.photo)).read_bytes()).report
    assert report.flow == []


def test_each_line_is_cased_and_dashed_and_thicker_for_more(snail: Result) -> None:
    root = ElementTree.fromstring(overlay_svg(snail.report, snail.case, layers=LAYERS, finding=None))
    lines = [g.find(f"{SVG}path") for g in root.iter(f"{SVG}g") if g.get("class") == "flow-line"]
    assert len(lines) == len(snail.report.flow)
    widths = {}
    for path, line in zip(lines, snail.report.flow, strict=True):
        assert path is not None and path.get("stroke-dasharray")
        widths[line.current_mA] = float(path.get("stroke-width", "0"))
    ordered = [widths[mA] for mA in sorted(widths)]
    assert ordered == sorted(ordered) and ordered[0] > 1
    heads = [g for g in root.iter(f"{SVG}g") if "flow-head" in (g.get("class") or "")]
    assert 2 <= len(heads) <= len(lines)


def test_the_picture_is_a_photo_with_a_key(snail: Result) -> None:
    image = Image.open(io.BytesIO(flow_png(snail.pixels, snail.report, snail.case)))
    assert image.format == "PNG" and image.width == 1600
    assert image.getpixel((4, image.height - 4)) == (250, 251, 246)  # paper of the key


def test_the_words_say_how_much_or_that_nothing_flows(snail: Result) -> None:
    assert "28" in summary(snail.report)
    dark = snail.report.model_copy(update={"flow": []})
    assert "no way" in summary(dark)
