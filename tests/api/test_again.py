"""Second photos: the underside in a case, and the same sculpture again. Drawn, and once as real photos.

What lights when lumps are cut or joined is common practice, no published source.
"""

import json
import math
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from askers import at_laptop
from numpy.typing import NDArray
from pydantic import ValidationError

from api import again as again_module
from api import commands
from api.again import inspect_again
from api.app import create_app
from api.errors import USER_ERRORS, InputError, sentence
from api.pipeline import Result, inspect_case
from api.recent import RecentSculptures
from api.schemas import Case
from api.second_words import SAYS
from api.settings import Settings
from api.wording.sentences import Age
from sample_images import sample_path

Labels = NDArray[np.uint8]
PX_MM = 0.5
SAMPLE = "caterpillar"


def labels() -> Labels:
    """Two lumps with a wall between, and an arm so that it fits one way round; 100 x 80 mm."""
    raster = np.zeros((160, 200), np.uint8)
    raster[40:76, 40:160] = 1
    raster[76:84, 40:160] = 2
    raster[84:120, 40:160] = 1
    raster[20:40, 45:70] = 1
    return raster


def case(**changes: Any) -> dict[str, Any]:
    plain = {
        "schema": "doughsight-case/1",
        "labels": "owl.labels.png",
        "palette": [
            {"name": "teal", "role": "conductive", "taps": [[60, 60]]},
            {"name": "amber", "role": "insulating", "taps": [[80, 80]]},
        ],
        "scale": {"mm_per_px": PX_MM},
        "pack": {"plus": [60, 50], "minus": [60, 110]},
        "leds": [
            {"id": "L1", "colour": "red", "long_leg": [90, 66], "short_leg": [90, 94], "seen": "bright"},
            {"id": "L2", "colour": "red", "long_leg": [130, 66], "short_leg": [130, 94]},
        ],
    }
    return {**plain, **changes}


def png(raster: Labels) -> bytes:
    done, data = cv2.imencode(".png", raster)
    assert done
    return data.tobytes()


def turned(raster: Labels) -> Labels:
    return np.ascontiguousarray(raster[::-1, ::-1])


def again(new: Labels, **changes: Any) -> Result:
    told = Case.model_validate(case(**changes))
    return inspect_again(told, None, png(turned(new)), name="new.png", labels=png(labels()))


def beneath(strip: bool, **changes: Any) -> Result:
    below = labels()
    if strip:
        below[64:98, 66:81] = 1
    told = {"labels": "below.png", "scale": {"mm_per_px": PX_MM}}
    one = Case.model_validate(case(underside=told, **changes))
    return inspect_case(one, labels=png(labels()), below=png(np.ascontiguousarray(below[:, ::-1])))


# ------------------------------------------------------------------ the underside


def test_the_short_underneath_is_seen_by_the_sums() -> None:
    report = beneath(strip=True).report
    assert report.underside is not None
    assert len(report.underside.joins) == 1
    assert math.dist(report.underside.joins[0].at, (73, 80)) * PX_MM < 5
    assert report.underside.rim_mm < 1
    assert report.entries["pack.plus"] == report.entries["pack.minus"]
    assert report.findings[0].code.startswith("short")
    assert {led.state for led in report.leds} == {"off"}
    assert [piece.below for piece in report.pieces].count(True) == 1
    assert any(contact.below for contact in report.contacts)


def test_an_underside_like_the_top_changes_nothing() -> None:
    report = beneath(strip=False).report
    plain = inspect_case(Case.model_validate(case()), labels=png(labels())).report
    assert report.underside is not None and report.underside.joins == []
    assert report.model_copy(update={"underside": None}) == plain


def test_an_underside_of_something_else_is_refused() -> None:
    told = Case.model_validate(case(underside={"labels": "b.png", "scale": {"mm_per_px": PX_MM}}))
    other = np.zeros((160, 200), np.uint8)
    cv2.circle(other, (100, 80), 70, 1, 12)
    with pytest.raises(USER_ERRORS, match="same sculpture"):
        inspect_case(told, labels=png(labels()), below=png(other))


def test_an_underside_without_its_picture_is_refused() -> None:
    told = Case.model_validate(case(underside={"labels": "b.png"}))
    with pytest.raises(InputError, match=r"picture|missing"):
        inspect_case(told, labels=png(labels()))


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({}, "photo or labels"),
        ({"photo": "a.jpg", "labels": "b.png"}, "photo or labels"),
        ({"photo": "a.jpg", "palette": [{"name": "teal", "taps": []}]}, "taps"),
        ({"photo": "a.jpg", "surprise": 1}, "surprise"),
    ],
)
def test_nonsense_about_the_underside_is_one_sentence(told: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Case.model_validate(case(underside=told))
    message = sentence(caught.value)
    assert says in message and "\n" not in message


# ------------------------------------------------------------------ the same sculpture again


def test_entries_are_carried_over_and_nothing_changed() -> None:
    result = again(labels())
    told = result.case
    assert told.labels == "new.png" and told.pack is not None
    assert math.dist(told.pack.plus, (140, 110)) * PX_MM < 1
    assert math.dist(told.leds[1].short_leg, (70, 66)) * PX_MM < 1
    assert told.leds[0].seen is None  # it was seen on the first photo
    assert result.scene.view.mm_per_px == pytest.approx(PX_MM, rel=0.02)
    assert [change.kind for change in result.report.changes] == ["nothing"]
    assert Case.model_validate_json(told.model_dump_json(by_alias=True, exclude_unset=True)) == told


def test_a_join_puts_the_lights_out_and_both_are_told() -> None:
    new = labels()
    new[76:84, 68:80] = 1
    changes = again(new).report.changes
    assert [(c.kind, c.parts) for c in changes] == [("joined", ["A"]), ("light", ["L1"]), ("light", ["L2"])]
    assert changes[0].at is not None and math.dist(changes[0].at, (200 - 74, 160 - 80)) * PX_MM < 5
    assert changes[1].says == "L1 was bright, is off now, by the sums."


def test_a_cut_puts_one_light_out() -> None:
    new = labels()
    new[84:120, 108:112] = 0
    changes = again(new).report.changes
    assert [c.kind for c in changes] == ["cut", "light"]
    assert changes[1].parts == ["L2"]


def test_a_leg_whose_dough_is_gone_is_doubtful_and_stays() -> None:
    new = labels()
    new[84:120, 120:] = 0
    result = again(new)
    doubts = {part: c for c in result.report.changes if c.kind == "doubtful" for part in c.parts}
    assert "L2.short" in doubts and "L1.short" not in doubts
    assert math.dist(result.case.leds[1].short_leg, (70, 66)) * PX_MM < 1
    assert doubts["L2.short"].says.startswith("The short leg of L2 was in dough")


def test_strokes_cuts_and_measured_values_are_carried_over() -> None:
    more: dict[str, Any] = {
        "strokes": [{"as": "amber", "points": [[100, 90], [100, 118]], "width_mm": 3}],
        "cuts": [{"points": [[50, 30], [60, 30]]}],
        "materials": {"teal": {"resistivity_ohm_m": 0.3}},
        "checks": [{"action": "turn", "parts": ["L1"], "answer": "same"}],
    }
    told = again(labels(), **more).case
    assert math.dist(told.strokes[0].points[0], (100, 70)) * PX_MM < 1
    assert math.dist(told.cuts[0].points[0], (150, 130)) * PX_MM < 1
    assert told.materials["teal"].resistivity_ohm_m == 0.3
    assert told.checks == ()


def test_every_sentence_keeps_to_its_length() -> None:
    most: dict[Age, int] = {"6-8": 9, "9-12": 14, "13+": 20}
    for kind, ages in SAYS.items():
        assert set(ages) == set(most), kind
        for age, text in ages.items():
            said = text.format(
                part="teal" if kind.startswith("colour") else "the long leg of L1",
                a="lump A",
                b="lump B",
                size="12",
                was="off",
                now="on",
            )
            longest = max(len(one.split()) for one in said.replace(": ", ". ").split(". "))
            assert longest <= most[age], (kind, age, said)
            assert said[-1] in ".?" and "!" not in said


def test_the_command_writes_a_case_that_can_be_inspected(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "owl.case.json").write_text(json.dumps(case()))
    (tmp_path / "owl.labels.png").write_bytes(png(labels()))
    new = labels()
    new[84:120, 108:112] = 0
    (tmp_path / "second.png").write_bytes(png(turned(new)))
    out = tmp_path / "after"
    words = ["again", str(tmp_path / "owl.case.json"), str(tmp_path / "second.png"), "--out", str(out)]
    monkeypatch.setattr("sys.argv", ["doughsight", *words])
    with pytest.raises(SystemExit) as ended:
        commands.main()
    assert ended.value.code == 1
    assert sorted(p.name for p in out.iterdir()) == [
        "case.json",
        "labels.png",
        "picture.png",
        "report.json",
        "second.png",
    ]
    told, _, raster = commands.load(out / "case.json")
    assert inspect_case(told, labels=raster).report.entries["L2.short"] is not None
    report = json.loads((out / "report.json").read_text())
    assert [c["kind"] for c in report["changes"]] == ["cut", "light"]


# ------------------------------------------------------------------ real photos


@cache
def sample() -> tuple[Case, bytes, NDArray[np.uint8]]:
    told = Case.model_validate_json(sample_path(f"{SAMPLE}.case.json").read_text())
    data = sample_path(f"{SAMPLE}.jpg").read_bytes()
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert picture is not None
    return told, data, np.asarray(picture, np.uint8)


def jpeg(picture: NDArray[np.uint8]) -> bytes:
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 90])
    assert done
    return data.tobytes()


def warmer(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The same in a lamp's light: a tenth less blue, a little more red."""
    return np.clip(picture * np.array([0.88, 0.97, 1.04]), 0, 255).astype(np.uint8)


def test_a_photo_turned_round_in_other_light_over_http(tmp_path: Path) -> None:
    told, data, picture = sample()
    new = jpeg(warmer(turned(picture)))
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as client:
        ids = [client.post("/photos", files={"photo": one}).json() for one in (data, new)]
        wish = told.model_dump(by_alias=True, exclude_unset=True) | {"photo": ids[0]["id"]}
        wish.pop("labels", None)
        made = client.post("/inspections", json=json.loads(json.dumps(wish))).json()
        answer = client.post(f"/inspections/{made['id']}/again", json={"photo": ids[1]["id"]})
        assert answer.status_code == 201, answer.text
        kept = client.get(f"/inspections/{answer.json()['id']}").json()
        missing = client.post(f"/inspections/{made['id']}/again", json={"photo": "none"})
    assert missing.status_code == 404
    assert kept["case"]["photo"] == ids[1]["id"]
    high, wide = picture.shape[:2]
    mm = made["report"]["photo"]["mm_per_px"]
    for old, led in zip(made["case"]["leds"], kept["case"]["leds"], strict=True):
        for leg in ("long_leg", "short_leg"):
            x, y = old[leg]
            assert math.dist(led[leg], (wide - x, high - y)) * mm < 2
    assert not [c for c in kept["report"]["changes"] if c["kind"] in ("cut", "joined")]
    assert kept["report"]["entries"] == made["report"]["entries"]


def test_a_photo_of_the_underside_without_any_tap() -> None:
    told, data, picture = sample()
    flipped = jpeg(warmer(np.ascontiguousarray(picture[:, ::-1])))
    wish = told.model_dump(by_alias=True, exclude_unset=True) | {"underside": {"photo": "below.jpg"}}
    report = inspect_case(Case.model_validate(wish), data, below=flipped).report
    assert report.underside is not None
    assert report.underside.rim_mm < 1.5
    assert report.underside.joins == []


def test_a_sculpture_looked_at_last_is_not_looked_at_again(monkeypatch: pytest.MonkeyPatch) -> None:
    told, data, picture = sample()
    new = jpeg(warmer(picture))
    afresh = inspect_again(told, data, new, name="second")
    recent = RecentSculptures()
    recent.inspect(told, data, on_stage=lambda _: None)
    seen = []
    real = again_module.inspect_case
    monkeypatch.setattr(
        again_module, "inspect_case", lambda *told, **more: (seen.append(told[1]), real(*told, **more))[1]
    )
    found = recent.again(told, data, new, name="second", on_stage=lambda _: None)
    assert seen == [new]
    assert found.report == afresh.report
    assert found.case == afresh.case
    recent.again(found.case, new, data, name="third", on_stage=lambda _: None)
    assert seen == [new, data]
