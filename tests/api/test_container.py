"""The container file, tried without a container: what it copies, sets and starts exists."""

import json
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

from fastapi.testclient import TestClient
from typer.testing import CliRunner

from api.commands import app
from api.door import DEFAULT_PORT
from api.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
FILE = ROOT / ".container" / "Containerfile"


def steps() -> list[tuple[str, str]]:
    """Its instructions, lines that go on put together."""
    text = re.sub(r"\\\n", " ", "\n".join(re.findall(r"^(?!#).+$", FILE.read_text("utf-8"), re.MULTILINE)))
    return [(line.split()[0], line.split(maxsplit=1)[1]) for line in text.splitlines()]


def told(name: str) -> list[str]:
    return [rest for kind, rest in steps() if kind == name]


def test_all_that_is_copied_is_there_and_enough_to_install() -> None:
    copied = {source for rest in told("COPY") for source in rest.split()[:-1]}
    assert all((ROOT / source).exists() for source in copied)
    build = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    packages = build["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    assert copied == {*packages, "pyproject.toml", build["project"]["readme"]}
    assert "postgresql" in build["project"]["optional-dependencies"]


def test_it_starts_a_command_that_exists() -> None:
    (command,) = (json.loads(rest) for rest in told("CMD"))
    scripts = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["scripts"]
    assert command[0] in scripts
    helped = CliRunner().invoke(app, [command[1], "--help"], env={"COLUMNS": "200", "NO_COLOR": "1"})
    assert helped.exit_code == 0 and all(option in helped.output for option in command[2:])
    assert told("EXPOSE") == [str(DEFAULT_PORT)]


def test_settings_are_those_that_there_are() -> None:
    set_to = dict(pair.split("=", 1) for rest in told("ENV") for pair in shlex.split(rest))
    ours = {name for name in set_to if name.startswith("DOUGHSIGHT_")}
    assert ours and {name.removeprefix("DOUGHSIGHT_").lower() for name in ours} <= set(Settings.model_fields)
    assert told("VOLUME") == [set_to["DOUGHSIGHT_DATA_DIR"]]
    assert told("STOPSIGNAL") == ["SIGTERM"]


def test_it_runs_as_nobody_special_and_comes_from_no_named_registry() -> None:
    assert told("USER")[-1] not in ("root", "0")
    order = [kind for kind, _ in steps()]
    assert order.index("USER") < order.index("CMD") and "RUN" not in order[order.index("USER") :]
    (base,) = told("FROM")
    assert "/" not in base and ":" in base


def test_its_health_check_asks_what_is_answered(client: TestClient) -> None:
    (check,) = (json.loads(rest[rest.index("[") :]) for rest in told("HEALTHCHECK"))
    assert check[:2] == ["python", "-c"]
    compile(check[2], "check", "exec")
    port, path = re.findall(r"http://127\.0\.0\.1:(\d+)(/\w+)", check[2])[0]
    assert int(port) == DEFAULT_PORT
    assert client.get(path).json() == {"status": "ok"}
    closed = check[2].replace(port, "1")  # nothing listens there: the check must fail
    assert subprocess.run([sys.executable, "-c", closed], capture_output=True, timeout=60).returncode != 0
