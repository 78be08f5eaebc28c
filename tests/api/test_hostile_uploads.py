"""Uploads that mean ill: refused in one sentence, or kept as a clean picture; nothing else ever happens."""

import re
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import hostile_archives
import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from hostile_forms import attempts
from hostile_pictures import MAKERS, good
from hostile_verdicts import judged, judged_archive, surroundings

from api.app import create_app
from api.routes.parts import Tools
from api.settings import Settings

COUNT = 150
MOST_MB = 300
"""So much more memory when all is over: what decoders keep for the next time, and the bombs themselves."""

ZIP = {"content-type": "application/zip"}


@pytest.fixture
def app_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The data folder, with a place of its own to work in and for temporary files beside it."""
    monkeypatch.chdir(tmp_path)
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    return tmp_path / "data"


@pytest.fixture
def asked(app_folder: Path) -> Iterator[TestClient]:
    nothing = Tools(*([_none] * 6))
    settings = Settings(data_dir=app_folder, max_upload_mb=3)
    with at_laptop(create_app(settings, nothing)) as client:
        yield client


def _none(*told: object, **wishes: object) -> None:
    raise AssertionError("no engine is asked")  # type: ignore[return-value]


def memory_mb() -> float:
    """What this process has in memory now."""
    status = Path("/proc/self/status").read_text("utf-8")
    return int(re.findall(r"VmRSS:\s+(\d+)", status)[0]) / 1000


def test_each_is_refused_or_kept_clean(asked: TestClient, app_folder: Path) -> None:
    for photo in ("jpeg", "png", "webp", "heic"):
        assert asked.post("/photos", files={"photo": good(photo)}).status_code == 201
    before, memory, began = surroundings(app_folder.parent), memory_mb(), time.monotonic()
    verdicts: Counter[tuple[str, str]] = Counter()
    failures = []
    for number, one in enumerate(attempts(seed=1, count=COUNT)):
        answer = asked.post("/photos", content=one.body, headers={"content-type": one.kind})
        try:
            verdicts[one.name, judged(answer, asked.get)] += 1
        except (AssertionError, ValueError, KeyError) as error:
            failures.append((number, one.name, answer.status_code, answer.text[:200], str(error)[:200]))
    assert failures == []
    assert time.monotonic() - began < 60
    assert memory_mb() - memory < MOST_MB
    new = surroundings(app_folder.parent) - before
    assert [
        path for path in new if not re.search(r"/data/photos/[0-9a-f]{2}(/[0-9a-f]{64}\.jpg)?$", path)
    ] == []
    assert not Path("/tmp/doughsight-was-here.jpg").exists()
    names = {name for name, _ in verdicts}
    assert names >= {maker.__name__ for maker in MAKERS}
    assert sum(n for (_, verdict), n in verdicts.items() if verdict == "kept") > 10, "not all is refused"
    assert sum(n for (_, verdict), n in verdicts.items() if verdict == "refused") > 60


def test_the_server_goes_on_afterwards(asked: TestClient) -> None:
    for one in attempts(seed=2, count=20):
        asked.post("/photos", content=one.body, headers={"content-type": one.kind})
    assert asked.post("/photos", files={"photo": good("jpeg")}).status_code == 201
    assert asked.get("/health").status_code == 200


def test_archives_that_mean_ill_leave_nothing(asked: TestClient, app_folder: Path) -> None:
    """Each mutation three times; `tests/api/test_archives.py` tries what single lies come to."""
    good_one = asked.post("/workshops/import", content=hostile_archives.whole(), headers=ZIP)
    assert good_one.status_code == 201, good_one.text
    before, memory = surroundings(app_folder.parent), memory_mb()
    failures = []
    for name, data in hostile_archives.attempts(seed=1, count=3 * len(hostile_archives.MUTATIONS)):
        answer = asked.post("/workshops/import", content=data, headers=ZIP)
        try:
            if judged_archive(answer) == "kept":
                assert asked.delete(f"/workshops/{answer.json()['id']}").status_code < 300
        except (AssertionError, ValueError, KeyError) as error:
            failures.append((name, answer.status_code, answer.text[:200], str(error)[:200]))
    assert failures == []
    new = surroundings(app_folder.parent) - before
    assert [path for path in new if not re.search(r"/data/photos/[0-9a-f]{2}$", path)] == []
    assert not Path("/tmp/doughsight-was-here.jpg").exists()
    assert memory_mb() - memory < MOST_MB
