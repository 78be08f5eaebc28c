"""The house in order: layers, top level, documentation that tells the truth."""

import importlib.metadata
import re
import subprocess
import sys
from pathlib import Path

import pytest

from api.schemas import Case, Report

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()


def test_imports_go_one_way() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command as c; c()"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_the_top_level_is_what_it_should_be() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True)
    if listed.returncode != 0:
        pytest.skip("not a git checkout, so there is no list of files to look at")
    top = {name.split("/")[0] for name in listed.stdout.split("\n") if name}
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "vision",
        "circuit",
        "api",
        "tests",
        "sample_images",
    }
    assert {name for name in top if not name.startswith(".")} == allowed


def test_every_module_stands_in_the_contributors_guide() -> None:
    for package in ("vision", "circuit", "api"):
        for path in (ROOT / package).glob("*.py"):
            if path.name != "__init__.py":
                assert f"`{path.name}`" in DEVELOPERS or f"`{path.stem}`" in DEVELOPERS, (
                    f"{package}/{path.name}"
                )


def test_every_field_of_a_case_stands_in_the_readme() -> None:
    for name, field in Case.model_fields.items():
        assert f"`{field.alias or name}" in README or (field.alias or name) == "schema", name
    for name in ("findings", "remedies", "otherwise", "suspects", "next_check", "lumps", "entries"):
        assert name in Report.model_fields and f"`{name}`" in README


def test_the_python_example_of_the_readme_runs() -> None:
    code = re.findall(r"```python\n(.*?)```", README, re.DOTALL)[0]
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip().endswith(".")


def test_the_licence_is_declared() -> None:
    assert importlib.metadata.metadata("doughsight")["License-Expression"] == "MIT"
    assert "MIT License" in README
