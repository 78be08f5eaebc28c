"""What is asked of an answer afterwards: words for another age, walks, flow; an underside that is gone."""

import io
import json
from collections.abc import Iterator
from typing import Any

import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from PIL import Image

import api.recent
import sample_images
from api.app import create_app
from api.schemas import Case, Report, SaidOut
from api.second_words import UNDERSIDE_GONE
from api.settings import Settings


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The app with its real engines."""
    with at_laptop(create_app(Settings(data_dir=tmp_path_factory.mktemp("data")))) as client:
        yield client


def looked_at(bench: TestClient, name: str, **told: Any) -> dict[str, Any]:
    """A sample that was inspected, its case changed by `told`."""
    case = bench.post(f"/samples/{name}").json()["case"]
    answer: dict[str, Any] = bench.post("/inspections", json={**case, **told}).json()
    return answer


@pytest.fixture
def no_photo(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever sees a photo again fails."""
    monkeypatch.setattr(api.recent, "inspect_case", lambda *_, **__: pytest.fail("the photo was seen again"))


@pytest.fixture(scope="module")
def lighthouse(bench: TestClient) -> dict[str, Any]:
    """A sculpture with a finding, a note, and a remedy."""
    return looked_at(bench, "lighthouse")


def test_all_is_said_anew_without_seeing_the_photo(
    bench: TestClient, lighthouse: dict[str, Any], no_photo: None
) -> None:
    where, before = f"/inspections/{lighthouse['id']}", lighthouse["report"]
    for age in ("6-8", "13+"):
        told = bench.put(f"{where}/age", json={"age": age})
        assert told.status_code == 200
        now = told.json()["report"]
        for kind in ("findings", "notes"):
            assert before[kind]
            for old, new in zip(before[kind], now[kind], strict=True):
                assert {key: new[key] for key in SaidOut.model_fields} == old["ages"][age]
                assert set(new["ages"]) == {"6-8", "9-12", "13+"} - {age}
        assert bench.get(where).json() == told.json()
        assert told.json()["case"]["age"] == age
    assert bench.put(f"{where}/age", json={"age": "9-12"}).json()["report"] == before


def test_a_dialogue_goes_on_in_other_words(bench: TestClient) -> None:
    dark = json.loads(sample_images.sample_path("snail.case.json").read_text("utf-8"))["leds"]
    dark[0]["seen"] = "off"
    asked = looked_at(bench, "snail", leds=dark)
    where, check = f"/inspections/{asked['id']}", asked["report"]["next_check"]
    given = {"action": check["action"], "parts": check["parts"], "answer": check["answers"][-1]["answer"]}
    bench.post(f"{where}/checks?after=0", json=given)
    older, young = (bench.put(f"{where}/age", json={"age": age}).json()["report"] for age in ("13+", "6-8"))
    assert len(young["checked"]) == len(older["checked"]) == 1
    assert young["suspects"][0]["probability"] == older["suspects"][0]["probability"]
    assert young["next_check"]["action"] == older["next_check"]["action"]
    assert young["next_check"]["do"] != older["next_check"]["do"]


def test_what_was_forgotten_is_looked_at_again(
    bench: TestClient, lighthouse: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(api.recent.RecentSculptures, "_recall", lambda *_: None)
    told = bench.put(f"/inspections/{lighthouse['id']}/age", json={"age": "6-8"}).json()["report"]
    assert told["findings"][0]["why"] == lighthouse["report"]["findings"][0]["ages"]["6-8"]["why"]
    bench.put(f"/inspections/{lighthouse['id']}/age", json={"age": "9-12"})


@pytest.mark.parametrize("told", [{"age": "7"}, {}, {"age": "6-8", "name": "x"}])
def test_what_is_no_age_is_refused(bench: TestClient, lighthouse: dict[str, Any], told: Any) -> None:
    answer = bench.put(f"/inspections/{lighthouse['id']}/age", json=told)
    assert answer.status_code == 422
    assert answer.json()["error"].endswith(".")
    assert bench.put("/inspections/nothing/age", json={"age": "6-8"}).status_code == 404


def test_the_flow_is_reckoned_when_it_is_asked_for(
    bench: TestClient, lighthouse: dict[str, Any], no_photo: None
) -> None:
    where = f"/inspections/{lighthouse['id']}"
    assert lighthouse["report"]["flow"] == []
    marks = bench.get(f"{where}/overlay.svg?layers=flow,leads").text
    assert marks.count('class="flow-line"') > 5
    hinted = bench.get(f"{where}/overlay.svg?layers=flow,leads&level=ask&finding=0").text
    assert "flow-line" not in hinted
    picture = bench.get(f"{where}/flow.png")
    assert Image.open(io.BytesIO(picture.content)).format == "PNG"


def test_a_walk_is_drawn_where_there_is_a_way(bench: TestClient, lighthouse: dict[str, Any]) -> None:
    where = f"/inspections/{lighthouse['id']}/overlay.svg?layers=trace"
    free_legs = [one["leg"] for one in lighthouse["report"]["traces"] if one["path"]]
    assert free_legs == ["L1.long", "L1.short", "L2.short", "L3.short"]
    free, stuck, nobody = (bench.get(where + led).text for led in ("&led=L1", "&led=L2", ""))
    assert free.count('class="walk"') == 2 and free.count('class="reach"') == 0
    assert "#mark-footstep-minus" in free and '#mark-footstep"' in free
    assert stuck.count('class="walk"') == 1 and stuck.count('class="reach"') >= 1
    assert "walk" not in nobody
    hinted = bench.get(f"{where}&led=L1&level=look&finding=0").text
    assert "walk" not in hinted


def test_an_underside_that_is_gone_is_told(client: TestClient, case: dict[str, Any]) -> None:
    told = client.post("/inspections", json={**case, "underside": {"photo": "gone"}})
    assert told.status_code == 201
    assert told.json()["report"]["photo"]["warnings"] == [UNDERSIDE_GONE]
    assert told.json()["case"]["underside"] is None


def test_no_case_points_to_a_deleted_underside(client: TestClient, case: dict[str, Any]) -> None:
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    below = client.post("/photos", files={"photo": _small_photo()}).json()["id"]
    other = client.post("/inspections", json=case).json()
    report = Report.model_validate(other["report"])
    kept = records.add_inspection(
        case["photo"], Case.model_validate({**case, "underside": {"photo": below}}), report
    )
    assert client.delete(f"/photos/{below}").status_code == 204
    told = client.get(f"/inspections/{kept.id}").json()
    assert told["case"]["underside"] is None
    assert told["report"]["photo"]["warnings"] == [UNDERSIDE_GONE]
    assert client.get(f"/inspections/{other['id']}").json() == other


def _small_photo() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()
