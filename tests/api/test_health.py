"""Health: one word for everybody, figures for the owner, and 503 where nothing can be kept."""

from pathlib import Path
from threading import Thread
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api import health
from api.app import create_app
from api.door import Door
from api.routes.parts import Tools
from api.settings import Settings


def test_the_owner_is_told_figures(client: TestClient, case: dict[str, Any]) -> None:
    told = client.get("/health/details").json()
    assert told["well"] and told["database_writes"]
    assert (told["inspecting"], told["waiting"]) == (0, 0)
    assert told["disk_free_MB"] > 0 and told["up_s"] >= 0 and told["version"]
    if Path("/proc/self/statm").exists():
        assert 20 < told["memory_MB"] < 20_000
    assert str(case["photo"]) not in str(told)


def test_a_stranger_is_told_one_word(tmp_path: Path, tools: Tools) -> None:
    app = create_app(Settings(data_dir=tmp_path), tools, Door(network=True, port=80))
    stranger = {"base_url": "http://192.0.2.7", "client": ("192.0.2.9", 50000)}
    with TestClient(app, **stranger) as client:  # type: ignore[arg-type]
        client.headers["host"] = "127.0.0.1"
        assert client.get("/health").json() == {"status": "ok"}
        assert client.get("/health/details").status_code in (401, 403)


def test_where_nothing_can_be_kept_it_is_not_well(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(health, "FRESH_S", -1.0)
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    monkeypatch.setattr(type(records), "takes_writes", lambda _self: False)
    sick = client.get("/health")
    assert (sick.status_code, sick.json()) == (503, {"status": "not well"})
    assert client.get("/health/details").json()["database_writes"] is False


def test_a_full_disk_is_not_well(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = health.shutil.disk_usage("/")
    monkeypatch.setattr(health.shutil, "disk_usage", lambda _path: usage._replace(free=1_000_000))
    assert client.get("/health").status_code == 503


def test_it_looks_at_most_every_few_seconds(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    looks = []
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    monkeypatch.setattr(type(records), "takes_writes", lambda _self: looks.append(1) or True)
    for _ in range(5):
        assert client.get("/health").status_code == 200
    assert len(looks) == 1


def test_a_database_that_refuses_is_found_out(client: TestClient, tmp_path: Path) -> None:
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    assert records.takes_writes()
    records.close()
    (tmp_path / "doughsight.db").write_bytes(b"no database at all" * 1000)
    assert not records.takes_writes()


def test_while_one_looks_the_others_are_told_at_once(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    doctor = client.app.state.parts.doctor  # type: ignore[attr-defined]
    first, told = doctor.health(), []
    monkeypatch.setattr(health, "FRESH_S", -1.0)

    def hangs(_self: object) -> bool:
        other = Thread(target=lambda: told.append(doctor.health()), daemon=True)
        other.start()
        other.join(10)
        return True

    monkeypatch.setattr(type(doctor._records), "takes_writes", hangs)
    doctor.health()
    assert told == [first]
