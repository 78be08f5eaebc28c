"""A workshop goes out as an archive and comes in elsewhere as the same; hostile ones leave nothing behind."""

import io
import json
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from askers import at_laptop, one_sentence
from fastapi.testclient import TestClient
from PIL import Image

from api import archive_schemas
from api.app import create_app
from api.archive import TOO_MANY, write_archive
from api.archive_schemas import SCHEMA
from api.records import Records
from api.routes.parts import Tools
from api.settings import Settings

TIME = "2026-03-04T10:00:00Z"
Files = dict[str, bytes]


def laptop(folder: Path, tools: Tools) -> TestClient:
    settings = Settings(data_dir=folder, max_upload_mb=0.5, max_archive_mb=3)
    return at_laptop(create_app(settings, tools))


def jpeg(width: int, height: int, exif: Image.Exif | None = None) -> bytes:
    """A photo, lighter at the right."""
    out = io.BytesIO()
    shade = np.linspace(40, 200, width).astype(np.uint8)
    image = Image.fromarray(np.broadcast_to(shade[:, None], (height, width, 3)).copy())
    image.save(out, "JPEG", exif=exif or Image.Exif())
    return out.getvalue()


@pytest.fixture
def elsewhere(tmp_path: Path, tools: Tools) -> Iterator[TestClient]:
    """Another installation."""
    with laptop(tmp_path / "elsewhere", tools) as client:
        yield client


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory, tools: Tools) -> Iterator[TestClient]:
    """The installation from which archives come."""
    with laptop(tmp_path_factory.mktemp("home"), tools) as client:
        yield client


@pytest.fixture(scope="module")
def full(client: TestClient) -> str:
    """A workshop with two sculptures, three photos, two inspections and a call."""
    told = {
        "name": "Owls",
        "day": "2026-03-04",
        "place": "the green room",
        "kit": {"cells": 4, "leds": [{"colour": "red", "count": 30}]},
        "challenge": {
            "title": "Eyes",
            "rules": [{"rule": "dough-volume", "dough": "pink", "at_most_cm3": 0.3}],
        },
    }
    workshop = client.post("/workshops", json=told).json()["id"]
    one, other = (
        client.post(f"/workshops/{workshop}/sculptures", json={"bench": bench}).json()["id"]
        for bench in ("7", "Beetle")
    )
    photos = [_sent(client, where, size) for where, size in ((one, 400), (one, 420), (other, 440))]
    looks = [_looked_at(client, photo) for photo in photos[:2]]
    put = {"title": "Night owl", "maker": "Mo", "learned": "legs", "before_id": looks[0], "finished": True}
    assert client.put(f"/sculptures/{one}", params={"after": 1}, json=put).status_code == 200
    records: Records = client.app.state.parts.records  # type: ignore[attr-defined]
    records.calls.ask(workshop, other)
    client.post(f"/workshops/{workshop}/end")
    return str(workshop)


def _sent(client: TestClient, sculpture: str, width: int) -> str:
    answer = client.post("/photos", params={"sculpture": sculpture}, files={"photo": jpeg(width, 300)})
    return str(answer.json()["id"])


def _looked_at(client: TestClient, photo: str) -> str:
    case = {
        "schema": "doughsight-case/1",
        "photo": photo,
        "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}],
        "pack": {"plus": [1, 1], "minus": [20, 20]},
        "leds": [{"id": "L1", "long_leg": [3, 3], "short_leg": [6, 6]}],
    }
    answer = client.post("/inspections", json=case)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def exported(client: TestClient, workshop: str) -> bytes:
    answer = client.get(f"/workshops/{workshop}/archive.zip")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/zip"
    return answer.content


def imported(client: TestClient, archive: bytes) -> Any:
    return client.post("/workshops/import", content=archive)


def unpacked(archive: bytes) -> Files:
    with zipfile.ZipFile(io.BytesIO(archive)) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def packed(files: Files) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            how = zipfile.ZIP_STORED if name.endswith(".jpg") else zipfile.ZIP_DEFLATED
            archive.writestr(name, data, how)
    return out.getvalue()


def kept_in(folder: Path) -> list[str]:
    """Whatever lies in a data folder beside the database itself."""
    return sorted(
        one.name for one in folder.rglob("*") if one.is_file() and one.suffix in (".jpg", ".half", ".zip")
    )


# ---------------------------------------------------------------- out and in again


def test_the_same_workshop_gives_the_same_bytes(client: TestClient, full: str) -> None:
    assert exported(client, full) == exported(client, full)


def test_nothing_in_it_leads_back_to_a_device_or_an_id(client: TestClient, full: str) -> None:
    archive = exported(client, full)
    files = unpacked(archive)
    assert list(files) == [
        "workshop.json",
        "photos/0001.jpg",
        "photos/0002.jpg",
        "photos/0003.jpg",
        "cases/0001/case.json",
        "cases/0001/report.json",
        "cases/0002/case.json",
        "cases/0002/report.json",
    ]
    sculptures = client.get(f"/workshops/{full}/sculptures").json()
    for one in [full, *(one["id"] for one in sculptures)]:
        assert all(one.encode() not in data for data in files.values())
    assert json.loads(files["cases/0001/case.json"])["photo"] == "../../photos/0001.jpg"


def test_out_in_and_out_again_it_is_the_same(client: TestClient, full: str, elsewhere: TestClient) -> None:
    archive = exported(client, full)
    answer = imported(elsewhere, archive)
    assert answer.status_code == 201, answer.text
    here, there = client.get(f"/workshops/{full}").json(), answer.json()
    assert there["id"] != here["id"]
    assert (there["entry"], there["ended"]) == (here["entry"], here["ended"])
    before, after = unpacked(archive), unpacked(exported(elsewhere, there["id"]))
    assert list(before) == list(after)
    for name, data in before.items():
        if name.endswith(".json"):
            assert data == after[name]
        else:
            assert _difference(data, after[name]) < 2, "written as JPEG once more, and no worse"


def _difference(one: bytes, other: bytes) -> float:
    pictures = [np.asarray(Image.open(io.BytesIO(data)), dtype=float) for data in (one, other)]
    return float(np.abs(pictures[0] - pictures[1]).mean())


def test_what_came_in_is_shown_like_what_was_made_here(
    client: TestClient, full: str, elsewhere: TestClient
) -> None:
    new = imported(elsewhere, exported(client, full)).json()["id"]
    sculptures = elsewhere.get(f"/workshops/{new}/sculptures").json()
    assert [(one["bench"], one["title"], one["maker"]) for one in sculptures] == [
        ("7", "Night owl", "Mo"),
        ("Beetle", "", ""),
    ]
    look = elsewhere.get(f"/inspections/{sculptures[0]['before_id']}").json()
    assert elsewhere.get(f"/photos/{look['case']['photo']}").status_code == 200
    assert elsewhere.get(f"/sculptures/{sculptures[0]['id']}/record").status_code == 200


def test_the_same_archive_twice_makes_two_workshops_and_deleted_they_leave_nothing(
    client: TestClient, full: str, elsewhere: TestClient, tmp_path: Path
) -> None:
    archive = exported(client, full)
    one, other = (imported(elsewhere, archive).json()["id"] for _ in range(2))
    assert one != other
    pictures = kept_in(tmp_path)
    assert elsewhere.delete(f"/workshops/{one}").status_code == 204
    assert kept_in(tmp_path) == pictures, "the other one still shows the same pictures"
    assert elsewhere.delete(f"/workshops/{other}").status_code == 204
    assert len(pictures) == 3 and kept_in(tmp_path) == []


def test_a_photo_brought_in_is_stripped_as_one_that_is_sent(
    client: TestClient, full: str, elsewhere: TestClient, tmp_path: Path
) -> None:
    exif = Image.Exif()
    exif[0x010E] = "a secret place"
    files = unpacked(exported(client, full)) | {"photos/0001.jpg": jpeg(400, 300, exif)}
    assert b"a secret place" in packed(files)
    assert imported(elsewhere, packed(files)).status_code == 201
    for one in (tmp_path / "elsewhere").rglob("*"):
        assert one.is_dir() or b"a secret place" not in one.read_bytes()


# ---------------------------------------------------------------- archives that mean ill


def minimal(**other: object) -> Files:
    told = {
        "schema": SCHEMA,
        "workshop": {"name": "Owls", "day": "2026-03-04"},
        "ended": None,
        "sculptures": [],
        "photos": [],
        "cases": [],
        "calls": [],
        **other,
    }
    return {"workshop.json": json.dumps(told).encode()}


SCULPTURE = {
    "bench": "7",
    "title": "",
    "maker": "",
    "learned": "",
    "before": None,
    "after": None,
    "overlay": True,
    "started": TIME,
    "finished": None,
}
PHOTO = {"width": 400, "height": 300, "sent": TIME, "sculpture": None, "frame": None}
CALL = {"sculpture": 1, "state": "waiting", "asked": TIME, "changed": TIME, "helper": "", "kind": ""}


def with_file(name: str, data: bytes = b"x", about: Callable[[zipfile.ZipInfo], None] | None = None) -> bytes:
    """The smallest archive with one file more, whatever its name."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("workshop.json", minimal()["workshop.json"])
        info = zipfile.ZipInfo(name)
        if about is not None:
            about(info)
        archive.writestr(info, data)
    return out.getvalue()


def loose(told: bytes) -> bytes:
    """An archive whose only file is not made smaller, so that it is no bomb."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("workshop.json", told)
    return out.getvalue()


def twice(name: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr(name, minimal()["workshop.json"])
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr(name, minimal()["workshop.json"])
    return out.getvalue()


def as_link(info: zipfile.ZipInfo) -> None:
    info.external_attr = 0o120777 << 16


def as_folder(info: zipfile.ZipInfo) -> None:
    info.external_attr = 0x10


def as_bzip2(info: zipfile.ZipInfo) -> None:
    info.compress_type = zipfile.ZIP_BZIP2


def patched(archive: bytes, sign: bytes, at: int, value: bytes) -> bytes:
    """With other bytes at a distance from the first sign."""
    place = archive.index(sign) + at
    return archive[:place] + value + archive[place + len(value) :]


LOCAL, LISTED, END = b"PK\3\4", b"PK\1\2", b"PK\5\6"
GOOD = packed(minimal())
NUL = with_file("photos/0001.jpgZ").replace(b"photos/0001.jpgZ", b"photos/0001.jpg\0")


def claiming(count: int) -> bytes:
    """An end that tells of so many files."""
    return patched(patched(GOOD, END, 8, struct.pack("<H", count)), END, 10, struct.pack("<H", count))


# Records of a zip: PKWARE APPNOTE 6.3.10. What is tried: CWE-22 paths, CWE-59 links, CWE-409 bombs, CWE-434
# other kinds of files (numbers from memory).
HOSTILE: dict[str, bytes] = {
    "nothing": b"",
    "no zip": b"a photo of a cat" * 99,
    "a picture": jpeg(400, 300),
    "a picture that is a zip, too": jpeg(400, 300) + GOOD,
    "cut short": GOOD[:-30],
    "cut in the middle": GOOD[: len(GOOD) // 2],
    "more behind it": GOOD + b"more",
    "a comment": GOOD[:-2] + struct.pack("<H", 4) + b"more",
    "only an end": b"PK\5\6" + bytes(18),
    "empty": packed({}),
    "sixty thousand files told": claiming(60_000),
    "fewer files told than there are": claiming(0),
    "the large kind of zip": GOOD[:-22] + b"PK\6\7" + bytes(16) + GOOD[-22:],
    "a list that begins elsewhere": patched(GOOD, END, 16, struct.pack("<L", 1)),
    "damaged data": patched(GOOD, LOCAL, 50, b"\xff\xff\xff\xff"),
    "another name in front of the data": patched(GOOD, b"workshop.json", 0, b"workshop.jsox"),
    "locked": patched(patched(GOOD, LOCAL, 6, b"\1\0"), LISTED, 8, b"\1\0"),
    "packed otherwise": with_file("photos/0001.jpg", about=as_bzip2),
    "a size that is a lie": patched(GOOD, LISTED, 24, struct.pack("<L", 7)),
    "a huge size": patched(GOOD, LISTED, 24, struct.pack("<L", 0xFFFFFFF0)),
    "out of the folder": with_file("../photos/0001.jpg"),
    "far out of the folder": with_file("photos/../../../../etc/passwd"),
    "from the root": with_file("/photos/0001.jpg"),
    "with a drive": with_file("C:\\photos\\0001.jpg"),
    "with backslashes": with_file("..\\..\\photos\\0001.jpg"),
    "a zero byte in the name": NUL,
    "letters that look like figures": with_file("photos/\u0660\u0660\u0660\u0661.jpg"),
    "a name that turns its direction": with_file("photos/0001\u202egpj.jpg"),
    "a program": with_file("photos/0001.exe"),
    "a folder": with_file("photos/"),
    "a file that is called a folder": with_file("photos/0001.jpg", about=as_folder),
    "a link": with_file("photos/0001.jpg", b"/etc/passwd", as_link),
    "the same file twice": twice("workshop.json"),
    "a file nobody tells of": with_file("photos/0001.jpg"),
    "thin as a bomb": packed({"workshop.json": b" " * 5_000_000}),
    "too much in all": with_file("photos/0001.jpg", bytes(range(256)) * 16_000),
    "no JSON": packed({"workshop.json": b"Owls"}),
    "no UTF-8": packed({"workshop.json": b'{"schema": "\xff\xfe"}'}),
    "JSON of another kind": packed({"workshop.json": b"[]"}),
    "deep JSON": loose(b"[" * 20_000 + b"1" + b"]" * 20_000),
    "no number": packed({"workshop.json": b'{"schema": NaN}'}),
    "a long number": loose(b'{"schema": 1' + b"0123456789" * 1000 + b"}"),
    "an endless number": loose(b'{"schema": 1e999}'),
    "another schema": packed(minimal(schema="doughsight-workshop/2")),
    "a field too many": packed(minimal(owner="nobody")),
    "a name that is too long": packed(minimal(workshop={"name": "x" * 61, "day": "2026-03-04"})),
    "a zero byte in a text": packed(minimal(workshop={"name": "a\0b", "day": "2026-03-04"})),
    "half a letter": packed({"workshop.json": b'{"schema": "\\ud800"}'}),
    "a year before all": packed(minimal(ended="0001-01-01T00:00:00+14:00")),
    "a time without a zone": packed(minimal(ended="2026-03-04T10:00:00")),
    "a photo that is lacking": packed(minimal(photos=[PHOTO])),
    "a photo that is text": packed(minimal(photos=[PHOTO]) | {"photos/0001.jpg": b"cat" * 300}),
    "a photo of another size": packed(minimal(photos=[PHOTO]) | {"photos/0001.jpg": jpeg(420, 300)}),
    "a photo that is cut short": packed(minimal(photos=[PHOTO]) | {"photos/0001.jpg": jpeg(400, 300)[:900]}),
    "a tiny photo": packed(minimal(photos=[PHOTO]) | {"photos/0001.jpg": jpeg(40, 30)}),
    "a part outside of its photo": packed(
        minimal(photos=[PHOTO | {"frame": [0, 0, 401, 300]}]) | {"photos/0001.jpg": jpeg(400, 300)}
    ),
    "a sculpture that is lacking": packed(
        minimal(photos=[PHOTO | {"sculpture": 1}]) | {"photos/0001.jpg": jpeg(400, 300)}
    ),
    "a bench twice": packed(
        minimal(sculptures=[SCULPTURE | {"bench": "Owl"}, SCULPTURE | {"bench": "owl "}])
    ),
    "a call of nobody": packed(minimal(calls=[CALL])),
    "a bench that calls twice": packed(minimal(sculptures=[SCULPTURE], calls=[CALL, CALL])),
    "a state nobody knows": packed(minimal(sculptures=[SCULPTURE], calls=[CALL | {"state": "lost"}])),
    "a case that is lacking": packed(minimal(cases=[{"photo": 1, "made": TIME}])),
}


@pytest.mark.parametrize("archive", HOSTILE.values(), ids=HOSTILE.keys())
def test_a_hostile_archive_is_refused_in_a_sentence(
    shared_elsewhere: TestClient, shared_folder: Path, archive: bytes
) -> None:
    answer = imported(shared_elsewhere, archive)
    assert answer.status_code in (413, 422), answer.text
    said = answer.json()["error"]
    assert said.endswith(".") and len(said) < 250
    assert "Traceback" not in said and "zipfile" not in said
    assert shared_elsewhere.get("/workshops").json() == []
    assert kept_in(shared_folder.parent) == []


@pytest.fixture(scope="module")
def shared_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("around") / "data"


@pytest.fixture(scope="module")
def shared_elsewhere(shared_folder: Path, tools: Tools) -> Iterator[TestClient]:
    with laptop(shared_folder, tools) as client:
        yield client


def test_the_smallest_archive_is_taken(elsewhere: TestClient) -> None:
    """All of those above differ from it by what is wrong with them."""
    assert imported(elsewhere, GOOD).status_code == 201
    sculptures = packed(minimal(sculptures=[SCULPTURE], calls=[CALL]))
    assert imported(elsewhere, sculptures).status_code == 201


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("cases/0001/case.json", lambda case: case | {"photo": "../../photos/0002.jpg"}),
        ("cases/0001/case.json", lambda case: case | {"photo": "/etc/passwd"}),
        ("cases/0001/case.json", lambda case: case | {"labels": "labels.png"}),
        ("cases/0001/case.json", lambda case: case | {"underside": {"photo": "../../photos/0009.jpg"}}),
        ("cases/0001/case.json", lambda case: case | {"palette": []}),
        ("cases/0001/case.json", lambda case: case | {"thickness_mm": 1e300}),
        ("cases/0001/report.json", lambda report: report | {"schema": "doughsight-report/9"}),
        ("cases/0001/report.json", lambda report: report | {"photo": report["photo"] | {"width": 9}}),
        ("cases/0001/report.json", lambda report: {}),
        ("workshop.json", lambda told: told | {"cases": [told["cases"][1], told["cases"][0]]}),
        ("workshop.json", lambda told: told | {"sculptures": [told["sculptures"][1], told["sculptures"][0]]}),
        ("workshop.json", lambda told: told | {"cases": told["cases"][:1]}),
    ],
)
def test_what_does_not_fit_together_is_refused_and_leaves_nothing(
    client: TestClient,
    full: str,
    shared_elsewhere: TestClient,
    shared_folder: Path,
    name: str,
    change: Callable[[Any], Any],
) -> None:
    files = unpacked(exported(client, full))
    told = change(json.loads(files[name]))
    answer = imported(shared_elsewhere, packed(files | {name: json.dumps(told).encode()}))
    assert answer.status_code == 422, answer.text
    assert answer.json()["error"].endswith(".")
    assert shared_elsewhere.get("/workshops").json() == []
    assert kept_in(shared_folder.parent) == []


def test_an_archive_that_is_too_large_is_refused_before_it_is_kept(shared_elsewhere: TestClient) -> None:
    answer = imported(shared_elsewhere, bytes(3_000_001))
    assert answer.status_code == 413
    assert "3 MB" in answer.json()["error"]
    photo = shared_elsewhere.post("/photos", files={"photo": bytes(600_000)})
    assert photo.status_code == 413, "photos have a limit of their own"


def test_only_the_laptop_may(client: TestClient, full: str) -> None:
    from dataclasses import replace

    from api.routes.parts import parts
    from api.who import Who

    app: Any = client.app
    app.dependency_overrides[parts] = lambda: replace(app.state.parts, who=Who("helper", full, "d1"))
    assert client.get(f"/workshops/{full}/archive.zip").status_code == 403
    assert imported(client, GOOD).status_code == 403
    app.dependency_overrides.clear()


@pytest.mark.parametrize("name", list(TOO_MANY))
def test_too_much_for_an_archive_is_refused_in_a_sentence(
    client: TestClient, full: str, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setitem(TOO_MANY, name, (0, TOO_MANY[name][1]))
    refused = client.get(f"/workshops/{full}/archive.zip")
    assert "takes 0: delete some" in one_sentence(refused, 422)
    limits = {
        name.removeprefix("MOST_").lower() for name in vars(archive_schemas) if name.startswith("MOST_")
    }
    assert limits == TOO_MANY.keys()


def test_the_name_of_a_helpers_phone_stays_here(client: TestClient, full: str) -> None:
    records: Records = client.app.state.parts.records  # type: ignore[attr-defined]
    whole = records.wholes.get(full)
    assert whole is not None
    whole.calls[0].helper = "Quetzal"
    out = io.BytesIO()
    write_archive(whole, records.wholes.picture, out)
    assert b"Quetzal" not in unpacked(out.getvalue())["workshop.json"]
