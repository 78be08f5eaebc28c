"""Drafts: what was told so far is kept, bounded, never lost between two phones, and goes with its photo."""

import io
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from PIL import Image

from api import draft_schemas
from api.app import create_app
from api.records import Records
from api.routes.drafts import MOST_JOB_CHARS
from api.settings import Settings

HALF_TAPPED: dict[str, Any] = {
    "palette": [
        {"id": "pink", "name": "rose", "role": "conductive", "taps": [[5, 5]], "rgb": [220, 90, 120]}
    ],
    "size": {"points": [[1, 2]], "mm": None},
    "plus": [1, 1],
    "minus": None,
    "leds": [{"id": "L1", "colour": "red", "long_leg": [3, 3], "short_leg": None, "seen": None}],
    "parts": [{"id": "S1", "kind": "switch", "a": [7, 7], "b": None, "closed": True}],
    "strokes": [{"as": "rose", "points": [[1, 1], [2, 2]], "width_mm": 3}],
    "cuts": [{"points": [[1, 1], [2, 2]]}],
    "joins": [{"points": []}],
    "rotation": 90,
    "base": {"thickness_mm": 12, "materials": {}},
}


@pytest.fixture
def draft(client: TestClient, photo_id: str) -> dict[str, Any]:
    made = client.post("/drafts", json={"photo": photo_id, "job": HALF_TAPPED})
    assert made.status_code == 201, made.text
    told: dict[str, Any] = made.json()
    return told


def test_half_tapped_job_comes_back_as_it_was_sent(
    client: TestClient, photo_id: str, draft: dict[str, Any]
) -> None:
    told = client.get(f"/drafts/{draft['id']}").json()
    assert told["job"] == HALF_TAPPED
    assert told["photo"] == {"id": photo_id, "width": 400, "height": 300}
    assert (told["revision"], told["inspection"]) == (1, None)
    assert len(draft["id"]) >= 20


def test_every_field_of_the_page_may_be_kept() -> None:
    code = (Path(draft_schemas.__file__).parent / "static" / "js" / "job.js").read_text("utf-8")
    told = code[: code.index("*/")].replace("\n *", " ")
    kinds = {
        "Size": draft_schemas.DraftSize,
        "Stroke": draft_schemas.StrokeEntry,
        "Line": draft_schemas.LineEntry,
        "Dough": draft_schemas.DraftDough,
        "Led": draft_schemas.DraftLed,
        "Part": draft_schemas.DraftPart,
        "Job": draft_schemas.DraftJob,
    }
    for name, kind in kinds.items():
        shape = re.search(rf"@typedef {{{{([^@]*)}}}} {name}\b", told)
        assert shape, name
        fields = set(re.findall(r"(\w+)\??:", shape[1]))
        known = {field.alias or key for key, field in kind.model_fields.items()}
        assert len(fields) >= 1
        assert fields <= known, (name, fields - known)


def test_nothing_new_has_no_body(client: TestClient, draft: dict[str, Any]) -> None:
    where = f"/drafts/{draft['id']}"
    idle = client.get(f"{where}?after=1")
    assert (idle.status_code, idle.content) == (204, b"")
    assert client.put(f"{where}?after=1", json={"job": {}}).json()["revision"] == 2
    assert client.get(f"{where}?after=1").json()["job"] == {}


def test_who_was_slower_gets_the_other_ones_job(client: TestClient, draft: dict[str, Any]) -> None:
    where = f"/drafts/{draft['id']}?after=1"
    mine, theirs = {"plus": [9, 9]}, {"minus": [4, 4]}
    assert client.put(where, json={"job": theirs}).status_code == 200
    late = client.put(where, json={"job": mine})
    assert late.status_code == 409
    assert late.json()["error"].startswith("Another phone")
    assert late.json()["draft"]["revision"] == 2
    assert late.json()["draft"]["job"] == theirs
    assert client.get(f"/drafts/{draft['id']}").json()["job"] == theirs


def test_of_many_at_once_one_gets_through(client: TestClient, draft: dict[str, Any]) -> None:
    def put(n: int) -> int:
        return client.put(f"/drafts/{draft['id']}?after=1", json={"job": {"plus": [n, n]}}).status_code

    with ThreadPoolExecutor(6) as pool:
        got = sorted(pool.map(put, range(6)))
    assert got == [200] + 5 * [409]
    assert client.get(f"/drafts/{draft['id']}").json()["revision"] == 2


def test_inspection_is_named_and_must_be_of_the_same_photo(client: TestClient, case: dict[str, Any]) -> None:
    found = client.post("/inspections", json=case).json()["id"]
    made = client.post("/drafts", json={"photo": case["photo"], "job": {}, "inspection": found}).json()
    where = f"/drafts/{made['id']}"
    assert client.get(where).json()["inspection"] == found
    other = client.post("/photos", files={"photo": _jpeg()}).json()["id"]
    refused = client.post("/drafts", json={"photo": other, "job": {}, "inspection": found})
    assert refused.status_code == 422
    assert "another photo" in refused.json()["error"]
    assert client.put(f"{where}?after=1", json={"job": {}, "inspection": "nothing"}).status_code == 404
    client.delete(f"/inspections/{found}")
    assert client.get(where).json()["inspection"] is None


def test_draft_goes_with_its_photo(client: TestClient, photo_id: str, draft: dict[str, Any]) -> None:
    assert client.delete(f"/photos/{photo_id}").status_code == 204
    for gone in (
        client.get(f"/drafts/{draft['id']}"),
        client.get(f"/drafts/{draft['id']}?after=1"),
        client.put(f"/drafts/{draft['id']}?after=1", json={"job": {}}),
        client.post("/drafts", json={"photo": photo_id, "job": {}}),
    ):
        assert gone.status_code == 404
        assert gone.json()["error"].endswith(".")


@pytest.mark.parametrize(
    "job",
    [
        {"unknown": 1},
        {"leds": [{"id": "L1", "surname": "Doe"}]},
        {"leds": [{"id": f"L{n}"} for n in range(61)]},
        {"palette": [{"name": "x" * 41, "role": "table"}]},
        {"palette": [{"name": "x", "role": "table", "rgb": [0, 0, 256]}]},
        {"base": {"unknown": 1}},
        {"base": {"cuts": [{"points": [[1, 1]]}] * 61}},
        {"rotation": 1e9},
        {"strokes": [{"as": "x", "points": [[1, 1]] * 501}]},
    ],
)
def test_what_is_no_job_is_refused_in_one_sentence(client: TestClient, photo_id: str, job: Any) -> None:
    refused = client.post("/drafts", json={"photo": photo_id, "job": job})
    assert refused.status_code == 422
    assert refused.json()["error"].endswith(".")


def test_numbers_that_are_none_are_refused(client: TestClient, photo_id: str) -> None:
    text = f'{{"photo": "{photo_id}", "job": {{"plus": [NaN, 1]}}}}'
    refused = client.post("/drafts", content=text, headers={"content-type": "application/json"})
    assert refused.status_code == 422


def test_too_long_a_job_is_refused(tmp_path: Path) -> None:
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as client:
        photo_id = client.post("/photos", files={"photo": _jpeg()}).json()["id"]
        taps = [[0.123456789012345, 0.123456789012345]] * (MOST_JOB_CHARS // 38)
        base = {"palette": [{"name": "pink", "role": "conductive", "taps": taps}]}
        refused = client.post("/drafts", json={"photo": photo_id, "job": {"base": base}})
    assert refused.status_code == 422
    assert "characters" in refused.json()["error"]


def test_same_photo_sent_twice_with_one_token_is_kept_once(client: TestClient) -> None:
    token = "k3" * 10
    first, second = (client.post(f"/photos?token={token}", files={"photo": _jpeg()}) for _ in range(2))
    assert (first.status_code, first.json()) == (201, second.json())
    other = client.post(f"/photos?token={'k4' * 10}", files={"photo": _jpeg()}).json()["id"]
    assert other != first.json()["id"]
    client.delete(f"/photos/{first.json()['id']}")
    again = client.post(f"/photos?token={token}", files={"photo": _jpeg()}).json()["id"]
    assert client.get(f"/photos/{again}").status_code == 200


def test_same_photo_on_its_way_twice_at_once_is_kept_once(tmp_path: Path) -> None:
    records = Records(tmp_path)
    with ThreadPoolExecutor(6) as pool:
        kept = list(pool.map(lambda _: records.add_photo(b"jpeg", 4, 3, "t" * 20).id, range(6)))
    records.close()
    assert len(set(kept)) == 1


def test_drafts_outlive_the_server(tmp_path: Path, photo_id: str) -> None:
    # The fixture's app has the same folder: both look at one file, as after a restart.
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as later:
        made = later.post("/drafts", json={"photo": photo_id, "job": HALF_TAPPED}).json()
    with at_laptop(create_app(Settings(data_dir=tmp_path))) as latest:
        assert latest.get(f"/drafts/{made['id']}").json()["job"] == HALF_TAPPED


def _jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 90, 120)).save(out, "JPEG")
    return out.getvalue()
