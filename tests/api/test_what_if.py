"""What-ifs over HTTP: on a sample with its real photo, remembered or not, and with any nonsense."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import sample_images
from api import recent
from api.app import create_app
from api.settings import Settings

SAMPLES = Path(sample_images.__file__).parent
Changes = list[dict[str, Any]]
Kept = tuple[TestClient, str, dict[str, Any]]


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    """The sample `snail` as an app keeps it: three lights side by side, all bright."""
    app = create_app(Settings(data_dir=tmp_path_factory.mktemp("data")))
    with at_laptop(app, raise_server_exceptions=False) as client:
        photo = client.post("/photos", files={"photo": (SAMPLES / "snail.jpg").read_bytes()}).json()
        case = json.loads((SAMPLES / "snail.case.json").read_text())
        kept = client.post("/inspections", json={**case, "photo": photo["id"]}).json()
        yield client, kept["id"], kept


def tried(kept: Kept, changes: Changes) -> dict[str, Any]:
    client, case_id, _ = kept
    answer = client.post(f"/inspections/{case_id}/what-if", json={"changes": changes})
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def looks(found: dict[str, Any], when: str = "then") -> dict[str, str]:
    return {led["id"]: led[when]["state"] for led in found["leds"]}


def middle(kept: Kept, lead: str) -> list[float]:
    spot: list[float] = kept[2]["case"]["pack"][lead]
    return spot


def test_without_changes_it_stands_as_the_report_says(kept: Kept) -> None:
    found, report = tried(kept, []), kept[2]["report"]
    for when in ("now", "then"):
        assert {led["id"]: led[when]["current_mA"] for led in found["leds"]} == {
            led["id"]: led["current_mA"] for led in report["leds"]
        }
        assert found["pack"][when] == report["pack"]
    assert found["out"] == [] and found["free"] == [] and found["hazards"] == []


def test_turned_or_pulled_out_one_goes_off_and_the_others_stay(kept: Kept) -> None:
    before = looks(tried(kept, []))
    led = next(iter(before))
    for do in ("turn", "pull-out"):
        found = tried(kept, [{"do": do, "part": led}])
        assert looks(found, "now") == before
        assert looks(found) == {**before, led: "off"}
        assert {one["id"]: one["out"] for one in found["leds"]}[led] == (do == "pull-out")
    back = tried(kept, [{"do": "pull-out", "part": led}, {"do": "put-back", "part": led}])
    assert looks(back) == before


def test_other_cells_change_the_light_and_the_pack(kept: Kept) -> None:
    found = tried(kept, [{"do": "cells", "count": 2}])
    assert found["pack"]["cells"] == 2
    assert found["pack"]["then"]["current_mA"] < found["pack"]["now"]["current_mA"]
    for led in found["leds"]:
        assert led["then"]["glow"] < led["now"]["glow"]


def test_a_lead_moved_into_the_other_lump_is_a_hazard_in_words_for_all_ages(kept: Kept) -> None:
    minus = middle(kept, "minus")
    found = tried(kept, [{"do": "move", "entry": "pack.plus", "to": [minus[0] + 12, minus[1]]}])
    codes = [one["code"] for one in found["hazards"]]
    assert "leads-in-one-lump" in codes
    said = found["hazards"][codes.index("leads-in-one-lump")]
    assert said["level"] == "stop" and "Unplug" in said["do"] and set(said["ages"]) == {"6-8", "13+"}


def test_a_leg_on_the_table_hangs_free_and_is_said_so(kept: Kept) -> None:
    led = next(iter(looks(tried(kept, []))))
    found = tried(kept, [{"do": "move", "entry": f"{led}.long", "to": [3, 3]}])
    assert looks(found)[led] == "off"
    assert [(one["parts"], one["code"]) for one in found["free"]] == [([f"{led}.long"], "leg-out")]
    assert found["free"][0]["why"] == f"The long leg of {led} misses the dough."
    assert found["free"][0]["at"] == [3.0, 3.0]


def test_a_cut_across_everything_puts_a_light_out(kept: Kept) -> None:
    plus = middle(kept, "plus")
    around = [(-60, -60), (60, -60), (60, 60), (-60, 60), (-60, -60)]
    ring = [[plus[0] + x, plus[1] + y] for x, y in around]
    found = tried(kept, [{"do": "cut", "points": ring}])
    assert looks(found) != looks(found, "now")


def test_nothing_is_kept(kept: Kept) -> None:
    client, case_id, before = kept
    tried(kept, [{"do": "cells", "count": 1}])
    assert client.get(f"/inspections/{case_id}").json() == before


def test_a_forgotten_sculpture_is_seen_again_only_once(
    kept: Kept, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server that has been started anew has its records, but remembers no sculpture."""
    _, _, old = kept
    seen = []
    real = recent.inspect_case
    monkeypatch.setattr(recent, "inspect_case", lambda *a, **k: seen.append(1) or real(*a, **k))
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as first:
        new = first.post("/photos", files={"photo": (SAMPLES / "snail.jpg").read_bytes()}).json()
        case_id = first.post("/inspections", json={**old["case"], "photo": new["id"]}).json()["id"]
    assert len(seen) == 1
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as later:
        for count in (3, 4):
            answer = later.post(
                f"/inspections/{case_id}/what-if", json={"changes": [{"do": "cells", "count": count}]}
            )
            assert answer.status_code == 200
    assert len(seen) == 2


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ([{"do": "turn", "part": "L9"}], "L9"),
        ([{"do": "turn"}], "part"),
        ([{"do": "fly", "part": "L1"}], "fly"),
        ([{"part": "L1"}], "do"),
        ([{"do": "turn", "part": "L1", "how": 2}], "how"),
        ([{"do": "put-back", "part": "L1"}], "L1"),
        ([{"do": "cells", "count": 0}], "count"),
        ([{"do": "cells", "count": 7}], "count"),
        ([{"do": "cells", "count": "many"}], "count"),
        ([{"do": "cut", "points": []}], "cut"),
        ([{"do": "cut", "points": [[9, 9]]}], "cut"),
        ([{"do": "cut", "points": [[1, 1], [4, 4]]}], "cut"),
        ([{"do": "cut", "points": [[-5, 9], [9, 9]]}], "-5, 9"),
        ([{"do": "move", "entry": "L1.middle", "to": [9, 9]}], "L1.middle"),
        ([{"do": "move", "entry": "L1", "to": [9, 9]}], "L1"),
        ([{"do": "move", "entry": "L1.long", "to": [1e30, 9]}], "1e+30"),
        ([{"do": "move", "entry": "L1.long"}], "to"),
        ("nothing", "changes"),
        ([{"do": "cells", "count": 3}] * 61, "changes"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(kept: Kept, changes: Any, named: str) -> None:
    client, case_id, _ = kept
    answer = client.post(f"/inspections/{case_id}/what-if", json={"changes": changes})
    assert answer.status_code == 422
    told = answer.json()
    said = told["error"]
    assert named in said and said.endswith(".") and said[0].isupper()


def test_an_inspection_that_is_not_there_is_not_found(kept: Kept) -> None:
    client, _, _ = kept
    answer = client.post("/inspections/nowhere/what-if", json={"changes": []})
    assert answer.status_code == 404 and answer.json()["error"].endswith(".")


def test_not_a_number_never_breaks_it(kept: Kept) -> None:
    client, case_id, _ = kept
    for text in ("NaN", "Infinity", "1e999", "null", '"x"', "[]"):
        body = f'{{"changes": [{{"do": "move", "entry": "L1.long", "to": [{text}, 3]}}]}}'
        answer = client.post(
            f"/inspections/{case_id}/what-if", content=body, headers={"content-type": "application/json"}
        )
        assert answer.status_code == 422 and answer.json()["error"].endswith(".")


NUMBER = st.one_of(st.integers(-10, 2000), st.floats(-10, 2000), st.just(None), st.text(max_size=3))
PLACE = st.one_of(st.tuples(NUMBER, NUMBER), st.lists(NUMBER, max_size=3))
CHANGE = st.fixed_dictionaries(
    {"do": st.sampled_from(["turn", "pull-out", "put-back", "move", "cut", "cells", "x"])},
    optional={
        "part": st.sampled_from(["L1", "L2", "pack", "", "L1.long"]),
        "entry": st.sampled_from(["L1.long", "pack.plus", "pack.minus", "L3.short", "L1", ""]),
        "to": PLACE,
        "points": st.lists(PLACE, max_size=6),
        "count": NUMBER,
    },
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(changes=st.lists(CHANGE, max_size=4))
def test_any_nonsense_gets_an_answer_or_a_sentence(kept: Kept, changes: Changes) -> None:
    client, case_id, _ = kept
    answer = client.post(f"/inspections/{case_id}/what-if", json={"changes": changes})
    assert answer.status_code in (200, 422)
    if answer.status_code == 422:
        assert answer.json()["error"].endswith(".")
