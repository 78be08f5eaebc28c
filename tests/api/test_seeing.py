"""The picture of the seeing: doughs by hatch and number, doubts dotted, gaps in mm, readable on a phone."""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from fastapi.testclient import TestClient
from numpy.typing import NDArray
from typer.testing import CliRunner

from api.commands import app
from api.reporting import seen_report
from api.schemas import Case
from api.seeing import seeing_png, seeing_svg
from vision.model import Colour, Scene, Wall
from vision.scene import scene_from_labels
from vision.table_view import view_from_mm_per_px

SVG = "{http://www.w3.org/2000/svg}"
PALETTE = (
    Colour("rose", "conductive", ()),
    Colour("coral", "insulating", ()),
    Colour("moss", "conductive", ()),
)
CASE = Case.model_validate(
    {
        "schema": "doughsight-case/1",
        "labels": "labels.png",
        "palette": [{"name": colour.name, "role": colour.role} for colour in PALETTE],
        "scale": {"mm_per_px": 0.25},
    }
)


def labels() -> NDArray[np.uint8]:
    """Rose left and right with a gap of 3 mm; coral wall above moss; something laid over the rose."""
    out = np.zeros((300, 400), np.uint8)
    out[40:120, 40:180], out[40:120, 192:360] = 1, 1
    out[160:170, 40:360], out[170:240, 40:360] = 2, 3
    out[70:90, 90:120] = 255
    return out


def scene() -> Scene:
    return scene_from_labels(labels(), PALETTE, (), view_from_mm_per_px(0.25))


def drawn(seen: Scene) -> ET.Element:
    return ET.fromstring(seeing_svg(seen, seen_report(CASE, seen), CASE, 0.5))


def classes(root: ET.Element) -> list[str]:
    return [element.get("class", "") for element in root.iter()]


def said(root: ET.Element) -> set[str]:
    return {text.text or "" for text in root.iter(f"{SVG}text")}


def test_each_dough_has_its_own_hatch_its_rim_and_its_number() -> None:
    root = drawn(scene())
    assert classes(root).count("dough conductive") == 2 and classes(root).count("dough insulating") == 1
    tiles = [tile for tile in root.iter(f"{SVG}pattern") if tile.get("id", "").startswith("dough-")]
    assert len({tile.get("patternTransform") for tile in tiles}) == len(tiles) == 3
    assert {"1", "2", "3"} <= said(root)
    wall = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "dough insulating")
    assert any(path.get("stroke-dasharray") for path in wall.findall(f"{SVG}path"))


def test_a_gap_is_told_in_mm_and_a_guess_is_dotted() -> None:
    root = drawn(scene())
    assert "contact gap" in " ".join(classes(root)) and "3" in said(root)
    guess = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "guessed")
    assert guess.findall(f"{SVG}path")[-1].get("stroke-dasharray", "").startswith("0.")


def test_what_is_not_sure_is_dotted_and_only_then() -> None:
    seen = scene()
    assert "not-sure" not in classes(drawn(seen))
    sure = np.ones(seen.grid.shape, np.float32)
    assert "not-sure" not in classes(drawn(replace(seen, confidence=sure)))
    sure[10:40, 10:40] = 0.4
    assert "not-sure" in classes(drawn(replace(seen, confidence=sure)))


def test_the_thinnest_place_of_a_wall_is_named() -> None:
    at = tuple((50.0 + 5 * i, 165.0) for i in range(60))
    wall = Wall(3, (1, 4), tuple(1.4 if i == 30 else 2.6 for i in range(60)), at, 1.4, at[30])
    root = drawn(replace(scene(), walls=(wall,)))
    assert "wall 1.4 mm" in said(root)
    line = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "wall-middle")
    _, thin, bold = line.findall(f"{SVG}path")
    assert float(thin.get("stroke-width", "9")) < float(bold.get("stroke-width", "0"))
    assert bold.get("d", "").count("M") == 2  # the two strokes that end where it is thin


def test_the_lines_of_the_helper_are_shown() -> None:
    told = {"cuts": [{"points": [[50, 50], [50, 110]]}], "joins": [{"points": [[170, 80], [200, 80]]}]}
    case = Case.model_validate({**CASE.model_dump(by_alias=True), **told})
    seen = scene()
    root = ET.fromstring(seeing_svg(seen, seen_report(case, seen), case, 0.5))
    assert {"drawn cut", "drawn join"} <= set(classes(root))


def test_every_mark_is_cased_and_no_word_is_under_14() -> None:
    root = drawn(scene())
    scale = 0.5
    for text in root.iter(f"{SVG}text"):
        assert float(text.get("font-size", "0")) >= 13
    for group in root.iter(f"{SVG}g"):
        if group.get("class", "").startswith("dough"):
            rims = [p for p in group.findall(f"{SVG}path") if p.get("stroke")]
            wide, narrow = (float(p.get("stroke-width", "0")) for p in rims)
            assert rims[0].get("stroke") == "#FFFDF5" and wide - narrow >= 3 * scale


@pytest.mark.parametrize("units", [360, 740])
def test_the_picture_fits_a_phone_and_a_laptop(units: float) -> None:
    pixels = np.full((300, 400, 3), 180, np.uint8)
    png = seeing_png(pixels, scene(), CASE, units_across=units)
    image = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    assert image is not None
    assert image.shape[1] >= 2 * units and max(image.shape) <= 2400


def test_the_command_line_writes_it(tmp_path: Path) -> None:
    cv2.imwrite(str(tmp_path / "labels.png"), labels())
    (tmp_path / "one.case.json").write_text(json.dumps(CASE.model_dump(by_alias=True, mode="json")))
    wish = ["inspect", str(tmp_path / "one.case.json"), "--out", str(tmp_path / "out")]
    done = CliRunner().invoke(app, [*wish, "--seeing", str(tmp_path / "seeing.png")])
    assert done.exit_code == 0, done.output
    assert (tmp_path / "seeing.png").read_bytes().startswith(b"\x89PNG")


def test_the_page_can_ask_for_it(client: TestClient, case: dict[str, object]) -> None:
    made = client.post("/inspections", json=case).json()
    picture = client.get(f"/inspections/{made['id']}/seeing.png?width=360")
    assert picture.status_code == 200 and picture.headers["content-type"] == "image/png"
    assert client.get("/inspections/none/seeing.png").status_code == 404
    for width in ("0", "nan", "1e9"):
        answer = client.get(f"/inspections/{made['id']}/seeing.png?width={width}")
        assert answer.status_code == 422 and re.search(r"\.$", answer.json()["error"])
