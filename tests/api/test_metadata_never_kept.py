"""A photo tells in a dozen places where it was taken; a real server keeps and passes on no byte of it."""

import io
import json
import re
import zipfile
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import hostile_archives
import pypdfium2
import pytest
from hostile_archives import TIME
from marked_photos import KINDS, TRACES, found_in, jpeg
from PIL import Image
from served import Served
from starlette.formparsers import MultiPartParser

import sample_images
from api.settings import Settings
from api.uploads import _InMemory

CHUNKS = {b"IHDR", b"IDAT", b"IEND", b"pHYs", b"sRGB", b"gAMA", b"PLTE", b"tRNS"}
"""Of a PNG that holds a picture and nothing else (W3C PNG, chapter 11)."""
DATES = ("CreationDate", "ModDate")
"""A PDF tells when it was made."""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A server; what it has printed at its end does not tell it either, nor what lies there then."""
    served = Served(tmp_path_factory.mktemp("served"))
    yield served
    printed = served.stop()
    assert found_in(printed.encode()) == []
    assert traces_on_disk(served) == []


def test_the_photos_do_tell_it() -> None:
    """Or the tests below would find nothing, whatever is kept."""
    for name, make in KINDS.items():
        assert len(found_in(make())) > 20, name
    everywhere = set(found_in(jpeg())) | set(found_in(KINDS["png"]()))
    assert {name.split(" from ")[0] for name in everywhere} >= {"note", "tail", "thumbnail", "packed text"}
    assert {name.split(" as ")[0] for name in TRACES if name in everywhere} >= {"12.345678", "98.765432"}


def test_nothing_of_it_is_kept_or_passed_on(served: Served) -> None:
    ids = []
    for name, make in KINDS.items():
        answer = served.send(make())
        assert answer.status_code == 201, (name, answer.text)
        ids.append(answer.json()["id"])
        kept = served.ask.get(f"/photos/{ids[-1]}").content
        assert found_in(kept) == [], name
        assert set(markers(kept)) <= {0xDB, 0xC0, 0xC4, 0xDA, 0xE0}, "tables, frame, scan, and JFIF's head"
    traces = traces_on_disk(served)
    assert traces == []
    assert_written_only_there(served)
    for photo_id in ids:
        assert served.ask.delete(f"/photos/{photo_id}").status_code == 204
    assert traces_on_disk(served) == []


def test_no_picture_that_is_made_of_it_tells_it(served: Served) -> None:
    made = served.ask.post("/inspections", json=looked_at(served, jpeg(owl()))).json()
    assert found_in(json.dumps(made).encode()) == []
    where = f"/inspections/{made['id']}"
    for name in ("picture.png?level=do", "seeing.png?width=360", "flow.png", "remedy.png?rank=1"):
        answer = served.ask.get(f"{where}/{name}")
        if answer.status_code == 404 and name.startswith("remedy"):
            continue  # the owl needs none
        assert answer.status_code == 200, (name, answer.text)
        assert found_in(answer.content) == []
        assert set(chunks(answer.content)) <= CHUNKS, name
    for name in ("", "/overlay.svg", "/flow"):
        assert found_in(served.ask.get(f"{where}{name}").content) == []
    assert traces_on_disk(served) == []
    assert_written_only_there(served)


def test_a_workshop_brought_in_and_handed_out_tells_it_neither(served: Served) -> None:
    """An archive made by hand, with photos as they were taken; and all that is given to take home."""
    told = hostile_archives.told()
    told["photos"] = [{**told["photos"][0], "width": 1600, "height": 1200, "sculpture": 1}]
    sculpture = {"bench": "7", "title": "", "maker": "Mo", "learned": "", "before": None, "after": None}
    told["sculptures"] = [{**sculpture, "overlay": True, "started": TIME, "finished": TIME}]
    brought = hostile_archives.packed(hostile_archives.files(told, jpeg()))
    assert found_in(brought) != []
    made = served.ask.post("/workshops/import", content=brought, headers={"content-type": "application/zip"})
    assert made.status_code == 201, made.text
    assert traces_on_disk(served) == []
    workshop = f"/workshops/{made.json()['id']}"
    one = served.ask.get(f"{workshop}/sculptures").json()[0]["id"]
    zips = [served.ask.get(f"{workshop}/archive.zip"), served.ask.get(f"/sculptures/{one}/parents.zip")]
    papers = [served.ask.get(f"{workshop}/class.pdf"), served.ask.get(f"/sculptures/{one}/sheet.pdf")]
    for answer in (*zips, *papers):
        assert answer.status_code == 200, answer.text
        assert found_in(answer.content) == []
        assert found_in(json.dumps(dict(answer.headers)).encode()) == []
    for answer in zips:
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            pictures = [name for name in archive.namelist() if name.endswith(".jpg")]
            assert pictures
            for name in archive.namelist():
                assert found_in(archive.read(name)) == [], name
    for answer in papers:
        with closing(pypdfium2.PdfDocument(answer.content)) as paper:
            about = {name: value for name, value in paper.get_metadata_dict().items() if value}
            assert about.keys() <= {"Title", "Subject", "Author", "Creator", "Producer", *DATES}
            assert {"Mo", "7"}.isdisjoint(about.values())
    assert served.ask.delete(workshop).status_code == 204
    assert traces_on_disk(served) == []


def owl() -> Image.Image:
    return Image.open(sample_images.sample_path("owl.jpg")).convert("RGB")


def looked_at(served: Served, photo: bytes) -> dict[str, Any]:
    """The owl's case, about this photo of it."""
    told: dict[str, Any] = json.loads(sample_images.sample_path("owl.case.json").read_text("utf-8"))
    return {**told, "photo": served.send(photo).json()["id"], "labels": None}


def traces_on_disk(served: Served) -> list[tuple[str, str]]:
    """Traces in any file of the data folder or the temporary one, and in their names."""
    files = [
        file for folder in (served.data, served.temporary) for file in folder.rglob("*") if file.is_file()
    ]
    assert any(file.suffix == ".db" for file in files)
    names = found_in("\n".join(str(file) for file in files).encode())
    return [("names", one) for one in names] + [
        (str(file), one) for file in files for one in found_in(file.read_bytes())
    ]


def assert_written_only_there(served: Served) -> None:
    """No file was opened to write but in the data folder, not even one that has no name.

    But for the face that pictures are written with, and Python's own try whether the folder can be written.
    """
    own = re.compile(
        rf"{served.temporary}/(doughsight-\w+/face\.ttf|[a-z0-9_]{{8}})|/dev/.*|{served.data}/.*"
    )
    assert [path for path in served.opened() if not own.fullmatch(path)] == []
    assert [name for name in served.seen if not re.match(r"doughsight-|[a-z0-9_]{8}$", name)] == []


def markers(data: bytes) -> list[int]:
    """Of a JPEG, up to its scan (ITU-T T.81, annex B)."""
    found, at = [], 2
    while data[at + 1] != 0xDA:
        found.append(data[at + 1])
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return [*found, 0xDA]


def chunks(data: bytes) -> list[bytes]:
    """Of a PNG."""
    found, at = [], 8
    while at < len(data):
        found.append(data[at + 4 : at + 8])
        at += 12 + int.from_bytes(data[at : at + 4], "big")
    assert Image.open(io.BytesIO(data)).info.keys() <= {"dpi", "srgb", "gamma"}
    return found


def test_a_form_stays_in_memory_however_large_it_is() -> None:
    """Starlette's own reader moves a file to the disk from 1 MB on."""
    assert MultiPartParser.spool_max_size < len(jpeg())
    assert _InMemory.spool_max_size > Settings().max_upload_bytes
