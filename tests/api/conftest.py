"""An app over an empty folder, with stand-ins for the engines so that only the web half is tested."""

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from askers import Club, at_laptop
from fastapi.testclient import TestClient
from PIL import Image

from api.app import create_app
from api.check_schemas import CheckedOut
from api.door import Door
from api.routes.parts import OnStage, Tools
from api.schemas import Case, FindingOut, LedOut, PhotoOut, PieceOut, Report
from api.settings import Settings
from vision.errors import PaletteError
from vision.photo import open_photo


@dataclass(frozen=True)
class FakeResult:
    report: Report


def fake_inspect(case: Case, photo: bytes | None = None, *, on_stage: OnStage) -> FakeResult:
    """A triangle of dough; a colour named `boom` breaks, one named `sulky` is refused."""
    on_stage("photo")
    names = [entry.name for entry in case.palette]
    if "boom" in names:
        raise RuntimeError("a secret detail at line 42")
    if "sulky" in names:
        raise PaletteError("The colour sulky cannot be used: tap another spot.")
    assert photo is not None
    shown = open_photo(photo)
    piece = PieceOut(
        id=1, colour=names[0], role="conductive", area_mm2=1.0, outline=[(1.0, 1.0), (9.0, 1.0), (5.0, 9.0)]
    )
    finding = FindingOut(
        code="leg-out",
        level="fix",
        parts=["L1"],
        at=(5.0, 5.0),
        path=[],
        cut=None,
        cut_mm=None,
        why="A leg is out.",
        ask="Are all legs in?",
        look="Look at L1.",
        do="Press it in.",
    )
    report = Report(
        photo=PhotoOut(
            width=shown.width, height=shown.height, mm_per_px=1.0, true_scale=False, labels="l.png"
        ),
        pieces=[piece],
        contacts=[],
        leds=[LedOut(id=led.id, current_mA=1.0, state="off") for led in case.leds],
        findings=[finding] if case.pack else [],
    )
    return FakeResult(report)


def fake_overlay(report: Report, case: Case, **wishes: object) -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg"><text>{wishes}</text></svg>'


def fake_picture(pixels: np.ndarray, report: Report, case: Case, *told: object, **how: object) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


def fake_seeing(case: Case, photo: bytes, width: float) -> bytes:
    return fake_picture(open_photo(photo).pixels, None, case)  # type: ignore[arg-type]


def fake_answer(case: Case, report: Report, photo: Callable[[], bytes]) -> Report:
    """The checks of the case, noted."""
    told = [CheckedOut(**check.model_dump(), says="Done.") for check in case.checks]
    return report.model_copy(update={"checked": told})


@pytest.fixture(scope="session")
def tools() -> Tools:
    return Tools(fake_inspect, fake_overlay, fake_picture, fake_seeing, fake_picture, fake_answer)


@pytest.fixture(scope="module")
def club_house(tmp_path_factory: pytest.TempPathFactory, tools: Tools) -> Iterator[Club]:
    settings = Settings(data_dir=tmp_path_factory.mktemp("club"), max_upload_mb=0.5)
    club = Club(create_app(settings, tools, Door(network=True, port=80)))
    with club.open:
        yield club


@pytest.fixture
def club(club_house: Club) -> Club:
    """Two workshops in which nobody is yet, in an app that all tests of a file share."""
    club_house.begin()
    return club_house


@pytest.fixture
def client(tmp_path: Path, tools: Tools) -> Iterator[TestClient]:
    settings = Settings(data_dir=tmp_path, max_upload_mb=0.5)
    with at_laptop(create_app(settings, tools)) as client:
        yield client


@pytest.fixture
def photo_id(client: TestClient) -> str:
    answer = client.post("/photos", files={"photo": jpeg(400, 300)})
    return str(answer.json()["id"])


@pytest.fixture
def case(photo_id: str) -> dict[str, object]:
    return {
        "schema": "doughsight-case/1",
        "photo": photo_id,
        "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}],
        "pack": {"plus": [1, 1], "minus": [20, 20]},
        "leds": [{"id": "L1", "long_leg": [3, 3], "short_leg": [6, 6]}],
    }


def jpeg(width: int, height: int, exif: Image.Exif | None = None) -> bytes:
    """A photo, red at the left and blue at the right."""
    image = Image.new("RGB", (width, height), (200, 30, 30))
    image.paste((30, 30, 200), (width // 2, 0, width, height))
    out = io.BytesIO()
    if exif is None:
        image.save(out, "JPEG")
    else:
        image.save(out, "JPEG", exif=exif)
    return out.getvalue()
