"""Runs the tests of the browser code with Node's own runner, and checks the catalogue of words."""

import os
import re
import shutil
import subprocess
from collections.abc import Iterable
from pathlib import Path

import pytest

from api.language.page_words import ALL, page_words

HERE = Path(__file__).parent
JS = HERE.parents[1] / "api" / "static" / "js"


@pytest.mark.parametrize("file", sorted(HERE.glob("*.mjs")), ids=lambda file: file.name)
def test_node_runner(file: Path) -> None:
    node = shutil.which("node")
    if node is None:
        if os.environ.get("CI"):
            pytest.fail("there is no node on the path, and CI must test the browser code")
        pytest.skip("there is no node on the path")
    done = subprocess.run(
        [node, "--test", str(file)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def asked_in(files: Iterable[Path]) -> set[str]:
    return {key for file in files for key in re.findall(r'say\("(\w+)"', file.read_text("utf-8"))}


def test_every_word_asked_for_is_in_the_catalogue() -> None:
    rooms = {*(JS / "rooms").glob("*.js"), JS / "names.js"}
    asked = asked_in(set(JS.rglob("*.js")) - rooms)
    assert len(asked) > 60
    assert asked <= set(page_words())
    assert asked_in(rooms) <= set(page_words(files=ALL))


def test_every_import_names_a_file_that_is_there() -> None:
    for file in JS.rglob("*.js"):
        for name in re.findall(r'from "(\./[^"]+|\.\./[^"]+)"', file.read_text("utf-8")):
            assert name.endswith(".js"), (file, name)
            assert (file.parent / name).is_file(), (file, name)
