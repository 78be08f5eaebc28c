"""What the server writes of itself: a line for each request, and no word that came from outside."""

import io
import json
import logging
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image

from api.logs import configure, tell, what_broke

MARK = "Wombat"
"""In everything that is sent; no word of the code."""


@pytest.fixture
def lines(monkeypatch: pytest.MonkeyPatch) -> Iterator[io.StringIO]:
    """All that the process would write to stderr, on the lowest level."""
    root = logging.getLogger()
    before = root.handlers[:], root.level, sys.excepthook, sys.unraisablehook
    out = io.StringIO()
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stderr", out)
        configure("debug", "json")
    yield out
    root.handlers[:], root.level, sys.excepthook, sys.unraisablehook = before
    logging.captureWarnings(False)
    for name in ("api", "vision", "circuit"):
        logging.getLogger(name).setLevel(logging.NOTSET)


def told(out: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in out.getvalue().splitlines()]


def photo() -> bytes:
    exif = Image.Exif()
    exif[0x010E] = MARK
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (200, 30, 30)).save(out, "JPEG", exif=exif, comment=MARK.encode())
    return out.getvalue()


def test_no_word_that_comes_from_outside_is_in_the_log(
    client: TestClient, lines: io.StringIO, case: dict[str, Any]
) -> None:
    """Every route with every method it has, and what a workshop does, with a mark in all places."""
    client.headers["user-agent"] = client.headers["x-note"] = MARK
    client.cookies.set("note", MARK)
    for path, methods in client.get("/openapi.json").json()["paths"].items():
        address = path
        while "{" in address:
            address = address[: address.index("{")] + MARK + address[address.index("}") + 1 :]
        for method in methods:
            asked = {"name": MARK, "job": {MARK: 1}, "code": MARK}
            client.request(method, f"{address}?note={MARK}&token={MARK}", json=asked)
    client.get(f"/{MARK}/{MARK}?{MARK}")
    client.request(MARK.upper(), "/")
    client.post("/inspections", content=f'{{"{MARK}'.encode())
    client.post("/photos", files={"photo": (f"{MARK}.jpg", photo(), f"image/{MARK}")})
    client.post("/photos", files={"photo": (f"{MARK}.jpg", MARK.encode())})
    entries = [{**case["palette"][0], "name": name} for name in (MARK, f"{MARK} two")]  # type: ignore[index]
    client.post(f"/inspections?token={MARK}", json={**case, "palette": entries})
    client.post("/inspections", json={**case, "palette": [{**entries[0], "name": "boom"}]})
    made = client.post("/workshops", json={"name": MARK, "day": "2026-05-09", "place": MARK}).json()
    client.put(f"/workshops/{made.get('id')}", json={"name": MARK})
    client.post(f"/workshops/{made.get('id')}/calls", json={"bench": MARK})
    written = lines.getvalue()
    assert len(told(lines)) > 80
    assert {"/photos/{photo_id}", "/inspections"} <= {one.get("route") for one in told(lines)}
    assert MARK.lower() not in written.lower()
    assert "testclient" not in written  # the address that asked, as the test client tells it
    assert str(case["photo"]) not in written and str(made.get("id")) not in written


def test_an_error_is_told_by_its_kind_and_place_only(
    client: TestClient, lines: io.StringIO, case: dict[str, Any]
) -> None:
    broken = [{"name": "boom", "role": "conductive", "taps": [[5, 5]]}]
    assert client.post("/inspections", json={**case, "palette": broken}).status_code == 503
    line = next(one for one in told(lines) if one["event"] == "unexpected error")
    assert line["level"] == "error" and line["error"] == "RuntimeError"
    assert any(place.startswith("api.routes.inspections:") for place in line["at"])
    assert "secret" not in lines.getvalue()  # 'a secret detail at line 42' is what the error says
    asked = next(one for one in told(lines) if one.get("status") == 503)
    assert asked["request"] == line["request"]


def test_a_line_has_what_an_operator_needs(client: TestClient, lines: io.StringIO) -> None:
    assert client.get("/photos/unknown").status_code == 404
    (line,) = told(lines)
    assert set(line) == {"time", "level", "event", "request", "route", "method", "status", "duration_ms"}
    assert (line["route"], line["method"], line["status"]) == ("/photos/{photo_id}", "GET", 404)
    assert line["level"] == "info" and line["duration_ms"] > 0 and line["time"].endswith("+00:00")


def test_reads_that_went_well_are_left_out_above_debug(client: TestClient, lines: io.StringIO) -> None:
    logging.getLogger("api").setLevel(logging.INFO)
    client.get("/health")
    assert lines.getvalue() == ""
    client.get("/nowhere")
    assert told(lines)[0]["route"] == "-"


def test_what_other_libraries_and_threads_say_is_told_by_place(lines: io.StringIO) -> None:
    logging.getLogger("some.library").warning(f"a connection of {MARK} at %s", MARK)
    logging.getLogger("api.somewhere").warning("not kept: %s", MARK)
    sys.excepthook(ValueError, ValueError(MARK), None)
    kinds = [one["event"] for one in told(lines)]
    assert kinds[0].startswith("some.library line ")
    assert kinds[1:] == ["not kept: %s", "ended by an error"]
    assert told(lines)[2]["error"] == "ValueError"
    assert MARK not in lines.getvalue()


def test_the_plain_form_is_a_line_for_people(lines: io.StringIO, capsys: pytest.CaptureFixture[str]) -> None:
    configure("info", "plain")
    tell("started", route="-", status=200)
    assert capsys.readouterr().err[8:] == " info     started  route=-  status=200\n"


def test_what_broke_names_the_errors_before_it() -> None:
    try:
        try:
            Path("nowhere/at/all").read_bytes()
        except OSError as error:
            raise KeyError(MARK) from error
    except KeyError as error:
        told = what_broke(error)
    assert told["error"] == "KeyError from FileNotFoundError"
    assert told["at"] and MARK not in json.dumps(told)
