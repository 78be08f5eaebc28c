"""The command line as a user meets it: exit status, one sentence for bad input, nothing half-written."""

import io
import json
import struct
import subprocess
import sys
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import networkx as nx
import numpy as np
import pytest

from api import commands

# Two salty lumps with a sugary wall between, 2 px per mm.
WIDTH, HEIGHT = 160, 120


def labels() -> np.ndarray:
    raster = np.zeros((HEIGHT, WIDTH), np.uint8)
    raster[20:56, 20:140] = 1
    raster[56:64, 20:140] = 2
    raster[64:100, 20:140] = 1
    return raster


def case(**changes: Any) -> dict[str, Any]:
    plain = {
        "schema": "doughsight-case/1",
        "labels": "owl.labels.png",
        "palette": [
            {"name": "teal", "role": "conductive", "taps": [[60, 40]]},
            {"name": "amber", "role": "insulating", "taps": [[80, 60]]},
            {"name": "table", "role": "table", "taps": [[5, 5]]},
        ],
        "scale": {"mm_per_px": 0.5},
        "pack": {"plus": [40, 30], "minus": [40, 90]},
        "leds": [
            {"id": "L1", "colour": "red", "long_leg": [70, 46], "short_leg": [70, 74]},
            {"id": "L2", "colour": "red", "long_leg": [110, 46], "short_leg": [110, 74]},
        ],
    }
    return {**plain, **changes}


@dataclass(frozen=True)
class Done:
    returncode: int
    stdout: str
    stderr: str


def run(folder: Path, *words: str) -> Done:
    """The command line in this process: the same entry point, quicker than starting Python anew."""
    out, err = io.StringIO(), io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("COLUMNS", "200")
        patch.setattr(sys, "argv", ["doughsight", *words])
        patch.setattr(sys, "stdout", out)
        patch.setattr(sys, "stderr", err)
        with pytest.raises(SystemExit) as end:
            commands.main()
    return Done(int(end.value.code or 0), out.getvalue(), err.getvalue())


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    cv2.imwrite(str(tmp_path / "owl.labels.png"), labels())
    return tmp_path


def put(folder: Path, value: dict[str, Any]) -> str:
    (folder / "owl.case.json").write_text(json.dumps(value))
    return "owl.case.json"


def test_a_good_sculpture_ends_with_0_and_writes_three_files(folder: Path) -> None:
    done = run(folder, "inspect", put(folder, case()), "--out", "out")
    assert done.returncode == 0, done.stderr
    assert "Every light is on." in done.stdout
    assert sorted(p.name for p in (folder / "out").iterdir()) == ["labels.png", "picture.png", "report.json"]
    report = json.loads((folder / "out" / "report.json").read_text())
    assert report["schema"] == "doughsight-report/1"
    assert [led["state"] for led in report["leds"]] == ["bright", "bright"]
    assert (cv2.imread(str(folder / "out" / "labels.png"), cv2.IMREAD_UNCHANGED) == labels()).all()


def test_something_to_fix_ends_with_1_and_says_what(folder: Path) -> None:
    value = case()
    led = value["leds"][1]
    led["long_leg"], led["short_leg"] = led["short_leg"], led["long_leg"]
    done = run(folder, "inspect", put(folder, value))
    assert done.returncode == 1, done.stderr
    assert "Turn L2 round" in done.stdout
    assert (folder / "owl-report" / "report.json").exists()


def huge_png() -> bytes:
    """A PNG of 200 megapixels in its header, a few bytes long."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 20000, 10000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def photo_bytes(width: int = 400, height: int = 300, blur_px: float = 0.0, light: float = 1.0) -> bytes:
    """Squares of many colours, blurred or darkened."""
    colours = np.random.default_rng(5).integers(0, 255, (height // 20, width // 20, 3), dtype=np.uint8)
    picture = np.kron(colours, np.ones((20, 20, 1), np.uint8))
    picture = cv2.GaussianBlur(picture, (0, 0), blur_px) if blur_px else picture
    return cv2.imencode(".jpg", picture * light)[1].tobytes()


PHOTO_CASE = {"labels": None, "photo": "owl.jpg"}
BOTH_LEGS = [{"id": "L1", "long_leg": [70, 46], "short_leg": [70, 46]}]
ONE_NAME = [
    {"id": "L1", "long_leg": [70, 46], "short_leg": [70, 74]},
    {"id": "L1", "long_leg": [110, 46], "short_leg": [110, 74]},
]
NO_SALT = [{"name": "amber", "role": "insulating", "taps": [[80, 60]]}]


@pytest.mark.parametrize(
    ("changes", "photo", "said"),
    [
        (PHOTO_CASE, None, "There is no photo"),
        (PHOTO_CASE, b"", "empty"),
        (PHOTO_CASE, photo_bytes()[: len(photo_bytes()) // 2], "damaged"),
        (PHOTO_CASE, photo_bytes(WIDTH, HEIGHT), "only 160 x 120 pixels"),
        (PHOTO_CASE, photo_bytes(blur_px=4), "blurred"),
        (PHOTO_CASE, photo_bytes(light=0.05), "too dark"),
        (PHOTO_CASE, huge_png(), "megapixel"),
        (PHOTO_CASE, b"this is text, not a picture " * 20, "photo"),
        ({"colour": "red"}, None, "colour"),
        ({"leds": [{"id": "L1", "long_leg": [900, 46], "short_leg": [70, 74]}]}, None, "L1.long"),
        ({"palette": NO_SALT}, None, "conductive"),
        ({"leds": BOTH_LEGS}, None, "both legs"),
        ({"leds": ONE_NAME}, None, "L1"),
        ({"scale": {"points": [[5, 5], [5, 5]], "mm": 10}}, None, "scale"),
        ({"schema": "something-else/9"}, None, "schema"),
    ],
)
def test_bad_input_gets_one_sentence_and_status_2(
    folder: Path, changes: dict[str, Any], photo: bytes | None, said: str
) -> None:
    if photo is not None:
        (folder / "owl.jpg").write_bytes(photo)
    done = run(folder, "inspect", put(folder, case(**changes)), "--out", "out")
    assert done.returncode == 2, done.stdout + done.stderr
    message = done.stderr.strip()
    assert said in message
    assert "\n" not in message and "Traceback" not in message and message.endswith(".")
    assert not (folder / "out").exists()


def test_a_case_that_is_not_there_or_no_json(folder: Path) -> None:
    missing = run(folder, "inspect", "nothing.json")
    assert missing.returncode == 2 and "There is no case nothing.json" in missing.stderr
    (folder / "owl.case.json").write_text("{ not json")
    broken = run(folder, "inspect", "owl.case.json")
    assert broken.returncode == 2 and "not valid JSON" in broken.stderr


def test_an_out_folder_that_is_a_file_is_left_alone(folder: Path) -> None:
    (folder / "out").write_text("mine")
    done = run(folder, "inspect", put(folder, case()), "--out", "out")
    assert done.returncode == 2 and "out is a file" in done.stderr
    assert (folder / "out").read_text() == "mine"


def test_the_netlist_names_the_parts(folder: Path) -> None:
    done = run(folder, "netlist", put(folder, case()))
    assert done.returncode == 0, done.stderr
    assert ".end" in done.stdout.lower()
    assert "L1" in done.stdout and "L2" in done.stdout


def test_the_netlist_can_be_a_graph(folder: Path) -> None:
    done = run(folder, "netlist", put(folder, case()), "--as", "graphml")
    assert done.returncode == 0, done.stderr
    graph = nx.parse_graphml(done.stdout, force_multigraph=True)
    assert {"pack.plus", "L1.long", "L2.short"} <= set(graph)
    wrong = run(folder, "netlist", put(folder, case()), "--as", "poem")
    assert wrong.returncode == 2 and "poem" in wrong.stderr


def test_the_installed_command_says_it_in_one_line(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from api.commands import main; main()", "inspect", "nothing.json"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 2
    assert done.stderr == "There is no case nothing.json: check the name.\n"


def test_the_mat_is_written_as_a_pdf(tmp_path: Path) -> None:
    done = run(tmp_path, "mat")
    assert done.returncode == 0 and "mat-a4.pdf" in done.stdout and "100 %" in done.stdout
    assert (tmp_path / "mat-a4.pdf").read_bytes().startswith(b"%PDF-")
    assert run(tmp_path, "mat", "--paper", "letter", "-o", "ours.pdf").returncode == 0
    assert (tmp_path / "ours.pdf").read_bytes() != (tmp_path / "mat-a4.pdf").read_bytes()


def test_a_mat_that_cannot_be_made_gets_one_sentence(tmp_path: Path) -> None:
    nowhere = run(tmp_path, "mat", "-o", "nowhere/mat.pdf")
    assert nowhere.returncode == 2 and "nowhere/mat.pdf cannot be written" in nowhere.stderr
    unknown = run(tmp_path, "mat", "--paper", "a3")
    assert unknown.returncode == 2 and "a4" in unknown.stderr
