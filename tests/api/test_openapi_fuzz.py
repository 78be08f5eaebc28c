"""Every route of the API's description, asked with what fits it and what does not: no 5xx, all as declared.

    DOUGHSIGHT_FUZZ_EXAMPLES=200 uv run pytest tests/api/test_openapi_fuzz.py

asks longer; DOUGHSIGHT_FUZZ_ONLY is part of a route's name. Ids in paths, queries and bodies are often real
ones, so that routes are asked beyond their 404.
"""

import os
from collections.abc import Iterator
from typing import Any

import httpx2
import pytest
import schemathesis
from askers import at_laptop
from fastapi.testclient import TestClient
from hostile_pictures import good
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.app import create_app
from api.routes.parts import Tools
from api.settings import Settings

ONLY = os.environ.get("DOUGHSIGHT_FUZZ_ONLY", "")
FEW = 2
"""The same every time; whoever asks for more gets others every time."""
EXAMPLES = int(os.environ.get("DOUGHSIGHT_FUZZ_EXAMPLES", FEW))
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
ELSEWHERE = {
    "GET /workshops/{workshop_id}/events": "a stream that goes on: test_queue_live.py reads it",
    "POST /workshops/import": "takes a zip: test_archives.py and test_hostile_uploads.py make them",
}
PHOTO = good("jpeg")
CASE = {
    "schema": "doughsight-case/1",
    "palette": [{"name": "pink", "role": "conductive", "taps": [[5, 5]]}],
    "pack": {"plus": [1, 1], "minus": [20, 20]},
    "leds": [{"id": "L1", "long_leg": [3, 3], "short_leg": [6, 6]}],
}


class World:
    """The app, asked as the laptop that serves, with one of everything in it."""

    def __init__(self, client: TestClient) -> None:
        self.client = client
        app: Any = client.app
        self.schema = schemathesis.openapi.from_dict(app.openapi())
        self.operations = {found.ok().label: found.ok() for found in self.schema.get_all_operations()}

    def ids(self) -> dict[str, str]:
        """New things to ask about, by the names that paths, queries and bodies have for their ids."""
        workshop = self._made("/workshops", {"name": "Owls", "day": "2026-11-24"})
        sculpture = self._made(f"/workshops/{workshop}/sculptures", {"bench": "7"})
        photo = str(self._sent(f"/photos?sculpture={sculpture}"))
        case = {**CASE, "photo": photo}
        looked = self._made("/inspections", case)
        draft = self._made("/drafts", {"photo": photo, "job": {}, "inspection": looked})
        join = self._made(f"/workshops/{workshop}/joins", {"role": "helper"})
        call = self._made(f"/workshops/{workshop}/calls", {"bench": "7"})
        return {
            "workshop_id": workshop,
            "sculpture_id": sculpture,
            "sculpture": sculpture,
            "photo_id": photo,
            "photo": photo,
            "case_id": looked,
            "inspection": looked,
            "before_id": looked,
            "after_id": looked,
            "draft_id": draft,
            "join_id": join,
            "call_id": call,
            "workshop": workshop,
            "id": workshop,
            "name": "owl",
        }

    def _made(self, path: str, told: dict[str, Any]) -> str:
        answer = self.client.post(path, json=told)
        assert answer.status_code in (200, 201), (path, answer.text)
        return str(answer.json()["id"])

    def _sent(self, path: str) -> str:
        answer = self.client.post(path, files={"photo": PHOTO})
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def ask(self, case: Any) -> httpx2.Response:
        """Send a case as it is; files and forms as the client wants them."""
        told = case.as_transport_kwargs(base_url="http://127.0.0.1")
        answer = self.client.request(
            told["method"],
            told["url"],
            params=told.get("params"),
            headers=told.get("headers"),
            json=told.get("json"),
            files=told.get("files") and [(name, _as_bytes(part)) for name, part in told["files"]],
            content=told.get("data"),
        )
        answer.request.read()  # for what a failed check tells
        return answer


def _as_bytes(part: tuple[Any, ...]) -> tuple[Any, ...]:
    """A part of a form, whatever stands where its bytes should be."""
    name, value, *more = part
    return (name, value if isinstance(value, bytes | str) else str(value), *more)


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory, tools: Tools) -> Iterator[World]:
    told = Settings(data_dir=tmp_path_factory.mktemp("fuzz"), max_upload_mb=0.5, max_archive_mb=1)
    with at_laptop(create_app(told, tools), raise_server_exceptions=True) as client:
        yield World(client)


def truthful(draw: Any, case: Any, ids: dict[str, str]) -> Any:
    """The case with real ids here and there."""
    for place in (case.path_parameters, case.query, case.body):
        for name in list(place) if isinstance(place, dict) else []:
            if name in ids and draw(st.integers(0, 3)) > 0:
                place[name] = ids[name]
    return case


def asked_of(world: World, label: str) -> None:
    """Some examples of one route."""
    ids = world.ids()
    operation = world.operations[label]
    fitting = operation.as_strategy(generation_mode=GenerationMode.POSITIVE)
    cases = fitting | operation.as_strategy(generation_mode=GenerationMode.NEGATIVE)

    @given(st.data())
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        derandomize=EXAMPLES == FEW,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    def ask(data: st.DataObject) -> None:
        case = truthful(data.draw, data.draw(cases), ids)
        case.validate_response(world.ask(case), checks=CHECKS)

    ask()


def test_no_route_breaks_and_all_answer_as_they_say(world: World) -> None:
    failures = {}
    assert set(world.operations) >= set(ELSEWHERE)
    for label in sorted(set(world.operations) - set(ELSEWHERE)):
        if ONLY not in label:
            continue
        try:
            asked_of(world, label)
        except BaseExceptionGroup as error:
            failures[label] = "\n".join(str(one) for one in error.exceptions)
        except Exception as error:
            failures[label] = f"{type(error).__name__}: {error}"
    assert not failures, "\n\n".join(f"{label}\n{what}" for label, what in failures.items())
