"""The routes: what they answer, what they refuse, and that nothing they are sent is answered with 500."""

import io
import json
from pathlib import Path
from typing import Any

import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from sqlalchemy.exc import IntegrityError

from api import uploads
from api.app import create_app
from api.guard import HEADERS
from api.routes.parts import Tools
from api.settings import Settings

HOSTILE = Path(__file__).resolve().parents[2] / ".." / "shared" / "photos" / "hostile"


def photo(width: int = 400, height: int = 300, **save: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (200, 30, 30)).save(out, "JPEG", **save)
    return out.getvalue()


def assert_one_sentence(answer: Any, *statuses: int) -> str:
    assert answer.status_code in statuses, (answer.status_code, answer.text)
    told = answer.json()
    assert set(told) == {"error"}
    text = told["error"]
    assert isinstance(text, str)
    assert len(text) < 300
    assert text[0].isupper()
    assert text.endswith(".")
    assert "Traceback" not in text
    return text


def test_page_and_all_it_needs_are_served(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert '<html lang="en" dir="ltr">' in page.text
    assert " style=" not in page.text
    for path in ("js/app.js", "js/words.js", "css/tokens.css", "icon.svg"):
        assert client.get(f"/static/{path}").status_code == 200


def test_nothing_on_the_page_points_elsewhere() -> None:
    api = Path(__file__).resolve().parents[2] / "api"
    files = [*(api / "static").rglob("*.*"), *(api / "templates").rglob("*.*")]
    assert len(files) > 10
    for file in files:
        text = file.read_text("utf-8").replace("http://www.w3.org/", "")
        assert "http://" not in text, file
        assert "https://" not in text, file


def test_health(client: TestClient) -> None:
    assert client.get("/health").json() == {"status": "ok"}


def test_every_answer_has_the_security_headers(client: TestClient) -> None:
    for answer in (client.get("/"), client.get("/nowhere"), client.post("/inspections", content=b"{")):
        for name, value in HEADERS.items():
            assert answer.headers[name] == value
    policy = HEADERS["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


def test_photo_is_upright_and_without_metadata(client: TestClient) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turn by 90 degrees, JEITA CP-3451
    exif[0x010E] = "a child's full name"
    exif.get_ifd(0x8825)[1] = "N"
    sent = photo(400, 300, exif=exif, comment=b"secret")
    told = client.post("/photos", files={"photo": sent}).json()
    assert (told["width"], told["height"]) == (300, 400)
    kept = client.get(f"/photos/{told['id']}")
    assert kept.headers["content-type"] == "image/jpeg"
    image = Image.open(io.BytesIO(kept.content))
    assert image.size == (300, 400)
    assert not image.getexif()
    assert b"child" not in kept.content
    assert b"secret" not in kept.content


def test_large_photo_is_bounded(tmp_path: Path) -> None:
    from api.app import create_app
    from api.routes.parts import Tools
    from api.settings import Settings

    unused: Any = None
    nothing = Tools(unused, unused, unused, unused, unused, unused)
    app = create_app(Settings(data_dir=tmp_path, max_photo_side_px=640), nothing)
    with at_laptop(app) as client:
        told = client.post("/photos", files={"photo": photo(2000, 1000)}).json()
    assert (told["width"], told["height"]) == (640, 320)


def test_inspection_is_kept_and_drawn(client: TestClient, case: dict[str, Any]) -> None:
    made = client.post("/inspections?token=abc", json=case)
    assert made.status_code == 201
    told = made.json()
    assert told["report"]["schema"] == "doughsight-report/1"
    assert told["report"]["findings"][0]["code"] == "leg-out"
    where = f"/inspections/{told['id']}"
    assert client.get(where).json() == told
    assert client.get("/stages/abc").json() == {"stage": "photo"}
    assert client.get("/stages/unknown").json() == {"stage": ""}
    svg = client.get(f"{where}/overlay.svg?finding=0&layers=walk,cut&px_per_mark=1.5&frame=0,0,80.5,60")
    assert svg.headers["content-type"].startswith("image/svg+xml")
    assert "walk" in svg.text
    png = client.get(f"{where}/picture.png")
    assert Image.open(io.BytesIO(png.content)).size == (400, 300)


def test_preview_needs_no_pack_and_keeps_nothing(client: TestClient, photo_id: str) -> None:
    wish = {"photo": photo_id, "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}]}
    told = client.post("/preview", json=wish).json()
    assert told["pieces"][0]["colour"] == "pink"
    assert told["findings"] == []


def test_deleting_a_photo_deletes_its_inspections(client: TestClient, case: dict[str, Any]) -> None:
    made = client.post("/inspections", json=case).json()
    assert client.delete(f"/photos/{case['photo']}").status_code == 204
    assert_one_sentence(client.get(f"/photos/{case['photo']}"), 404)
    assert_one_sentence(client.get(f"/inspections/{made['id']}"), 404)
    assert_one_sentence(client.delete(f"/photos/{case['photo']}"), 404)


def test_deleting_an_inspection_keeps_the_photo(client: TestClient, case: dict[str, Any]) -> None:
    made = client.post("/inspections", json=case).json()
    assert client.delete(f"/inspections/{made['id']}").status_code == 204
    assert_one_sentence(client.get(f"/inspections/{made['id']}"), 404)
    assert client.get(f"/photos/{case['photo']}").status_code == 200


def test_deleted_photo_leaves_no_bytes_in_any_file(client: TestClient, tmp_path: Path) -> None:
    made = client.post("/photos", files={"photo": photo()}).json()
    kept = client.get(f"/photos/{made['id']}").content
    other = client.post("/photos", files={"photo": photo(500, 400)}).json()
    picture, name = kept[-60:], made["id"].encode()

    def found(piece: bytes) -> list[str]:
        files = [file for file in tmp_path.rglob("*") if file.is_file()]
        return [file.name for file in files if piece in file.read_bytes()]

    assert len(found(picture)) == 1
    assert found(name)
    client.delete(f"/photos/{made['id']}")
    tail = client.get(f"/photos/{other['id']}").content[-60:]
    assert (found(picture), found(name), len(found(tail))) == ([], [], 1)


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/nowhere", 404),
        ("GET", "/static/nowhere.js", 404),
        ("GET", "/static/../app.py", 404),
        ("GET", "/photos/none", 404),
        ("GET", "/inspections/none", 404),
        ("GET", "/inspections/none/overlay.svg", 404),
        ("GET", "/inspections/none/picture.png", 404),
        ("DELETE", "/inspections/none", 404),
        ("POST", "/samples/..%2f..%2fsecret", 404),
        ("POST", "/samples/none", 404),
        ("PUT", "/photos", 405),
        ("POST", "/", 405),
        ("POST", "/photos", 422),
        ("POST", "/preview", 422),
    ],
)
def test_wrong_addresses_and_methods(client: TestClient, method: str, path: str, status: int) -> None:
    assert_one_sentence(client.request(method, path), status)


@pytest.mark.parametrize("data", [b"", b"hello", b"GIF89a" + bytes(50), photo()[:300], photo(300, 200)])
def test_what_is_no_photo(client: TestClient, data: bytes) -> None:
    assert_one_sentence(client.post("/photos", files={"photo": data}), 422)


def test_photo_as_text_or_under_another_name(client: TestClient) -> None:
    assert_one_sentence(client.post("/photos", data={"photo": "hello"}), 422)
    assert "photo" in assert_one_sentence(client.post("/photos", files={"picture": photo()}), 422)
    broken = {"content-type": "multipart/form-data; boundary=x"}
    assert_one_sentence(client.post("/photos", content=b"--y\r\nnonsense", headers=broken), 400, 422)


def test_hostile_photos_never_break(client: TestClient) -> None:
    if not HOSTILE.is_dir():
        pytest.skip("the folder of hostile photos is not beside this checkout")
    for file in sorted(HOSTILE.iterdir()):
        answer = client.post("/photos", files={"photo": file.read_bytes()})
        if answer.status_code != 201:
            assert_one_sentence(answer, 413, 422)


def test_too_large_by_header_and_by_stream(client: TestClient) -> None:
    large = bytes(600_000)
    assert "0.5 MB" in assert_one_sentence(client.post("/photos", files={"photo": large}), 413)
    for path in ("/photos", "/inspections"):
        chunks = (large[i : i + 50_000] for i in range(0, len(large), 50_000))
        headers = {
            "content-type": "multipart/form-data; boundary=x" if path == "/photos" else "application/json"
        }
        assert_one_sentence(client.post(path, content=chunks, headers=headers), 413)


@pytest.mark.parametrize(
    ("headers", "allowed"),
    [
        ({"sec-fetch-site": "cross-site"}, False),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "same-origin"}, True),
        ({"sec-fetch-site": "none"}, True),
        ({"origin": "http://elsewhere.example"}, False),
        ({"origin": "null"}, False),
        ({"origin": "http://127.0.0.1"}, True),
        ({}, True),
    ],
)
def test_only_the_page_itself_may_change_things(
    client: TestClient, photo_id: str, headers: dict[str, str], allowed: bool
) -> None:
    answer = client.delete(f"/photos/{photo_id}", headers=headers)
    if allowed:
        assert answer.status_code == 204
    else:
        assert_one_sentence(answer, 403)
        assert client.get(f"/photos/{photo_id}").status_code == 200


def test_user_errors_of_the_engines_are_told(client: TestClient, case: dict[str, Any]) -> None:
    case["palette"] = [{"name": "sulky", "role": "conductive", "taps": [[1, 1]]}]
    assert assert_one_sentence(client.post("/inspections", json=case), 422).startswith("The colour sulky")


def test_an_unexpected_error_is_503_without_detail(client: TestClient, case: dict[str, Any]) -> None:
    case["palette"] = [{"name": "boom", "role": "conductive", "taps": [[1, 1]]}]
    text = assert_one_sentence(client.post("/inspections", json=case), 503)
    assert "42" not in text
    assert client.get("/health").status_code == 200


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"photo": None}, "photo"),
        ({"photo": "none"}, "photo"),
        ({"labels": "x.png"}, "labels"),
        ({"schema": "other/9"}, "schema"),
        ({"palette": []}, "palette"),
        ({"palette": [{"name": "pink", "role": "tasty", "taps": []}]}, "role"),
        ({"thickness_mm": -1}, "thickness_mm"),
        ({"surprise": 1}, "surprise"),
        ({"leds": [{"id": "pack", "long_leg": [1, 1], "short_leg": [2, 2]}]}, "pack"),
        ({"scale": {"points": [[1, 1], [2, 2]]}}, "mm"),
    ],
)
def test_wrong_cases(client: TestClient, case: dict[str, Any], change: dict[str, Any], word: str) -> None:
    answer = client.post("/inspections", json={**case, **change})
    assert word in assert_one_sentence(answer, 404, 422)


def test_only_photos_may_be_large(tmp_path: Path, tools: Tools) -> None:
    """Tens of megabytes of brackets are read for seconds, and nobody else is answered meanwhile."""
    with at_laptop(create_app(Settings(data_dir=tmp_path), tools)) as client:
        brackets = b'{"photo":"x","palette":[' + b"[]," * 1_000_000 + b"[]]}"
        for path in ("/preview", "/inspections", "/drafts"):
            headers = {"content-type": "application/json"}
            told = assert_one_sentence(client.post(path, content=brackets, headers=headers), 413)
            assert "2 MB" in told
        assert client.post("/photos", files={"photo": photo() + bytes(3_000_000)}).status_code == 201


def test_photos_that_would_fill_the_memory_wait(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    for most, status in ((1000, 503), (1_000_000, 201), (1_000_000, 201)):
        monkeypatch.setattr("api.uploads.MOST_COMING_BYTES", most)
        assert client.post("/photos", files={"photo": photo()}).status_code == status
        assert uploads._coming.bytes == 0, "nothing is on its way any more"


def test_who_reads_slowly_keeps_nobody_waiting(client: TestClient, case: dict[str, Any]) -> None:
    app: Any = client.app
    rows = [app.state.parts.turn.row, app.state.parts.turn.later.row]
    held: list[int] = []

    async def slow(scope: Any, receive: Any, send: Any) -> None:
        async def sent(message: Any) -> None:
            held.append(sum(row.borrowed_tokens for row in rows))
            await send(message)

        await app(scope, receive, sent)

    made = client.post("/inspections", json=case).json()
    reader = at_laptop(slow)  # type: ignore[arg-type]
    reader.portal = client.portal
    assert reader.get(f"/inspections/{made['id']}/picture.png").status_code == 200
    assert held
    assert not any(held)


def test_half_a_letter_is_refused_wherever_it_stands(client: TestClient, case: dict[str, Any]) -> None:
    for path, body in [
        ("/preview", {"photo": "\ud800", "palette": case["palette"]}),
        ("/preview", {"photo": case["photo"], "palette": case["palette"], "\ud800": 1}),
        ("/inspections", {**case, "photo": "\ud800"}),
        ("/inspections", {**case, "underside": {"photo": "\ud800"}}),
    ]:
        headers = {"content-type": "application/json"}
        assert_one_sentence(client.post(path, content=json.dumps(body), headers=headers), 404, 422)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"NaN",
        b'"x"',
        b"\xff\xfe",
        b"[" * 5000,
        b'{"photo": 1e999}',
        b'{"a": "\\ud800"}',
    ],
)
def test_bodies_that_are_no_case(client: TestClient, body: bytes) -> None:
    for path in ("/inspections", "/preview"):
        headers = {"content-type": "application/json"}
        assert_one_sentence(client.post(path, content=body, headers=headers), 400, 422)


@pytest.mark.parametrize(
    "query",
    [
        "finding=9",
        "finding=-1",
        "finding=x",
        "px_per_mark=nan",
        "px_per_mark=0",
        "frame=1,2,3",
        "frame=9,9,1,1",
        "frame=a,b,c,d",
    ],
)
def test_wrong_wishes_for_the_overlay(client: TestClient, case: dict[str, Any], query: str) -> None:
    made = client.post("/inspections", json=case).json()
    assert_one_sentence(client.get(f"/inspections/{made['id']}/overlay.svg?{query}"), 404, 422)


scraps = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)
FIELDS = (
    "palette",
    "scale",
    "pack",
    "leds",
    "thickness_mm",
    "materials",
    "electrode",
    "brightness_mA",
    "photo",
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(field=st.sampled_from(FIELDS), value=scraps)
def test_no_case_is_answered_with_500(
    client: TestClient, case: dict[str, Any], field: str, value: object
) -> None:
    body = json.dumps({**case, field: value})
    answer = client.post("/inspections", content=body, headers={"content-type": "application/json"})
    if answer.status_code != 201:
        assert_one_sentence(answer, 400, 404, 422)


def test_openapi_tells_every_route(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    expected = {"/photos", "/photos/{photo_id}", "/preview", "/inspections", "/samples", "/health"}
    assert expected <= set(paths)


def test_what_belongs_to_something_that_is_gone_is_refused_in_a_sentence(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_told: object) -> None:
        raise IntegrityError("INSERT", {}, Exception("FOREIGN KEY constraint failed"))

    app: Any = client.app
    monkeypatch.setattr(app.state.parts.records, "photo_sent", gone)
    sent = client.post("/photos", params={"token": "t" * 20}, files={"photo": photo()})
    assert (sent.status_code, "This belongs to something" in sent.json()["error"]) == (404, True)


def test_each_kind_of_answer_has_a_name_of_its_own(client: TestClient) -> None:
    app: Any = client.app
    assert [name for name in app.openapi()["components"]["schemas"] if "__" in name] == []
