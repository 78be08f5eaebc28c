"""Runs the tests of size, corrections and the doughs of the day with Node's own runner."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest


@pytest.mark.parametrize("file", ["test_corrections.mjs", "test_workshop.mjs"])
def test_in_node(file: str) -> None:
    node = shutil.which("node")
    if node is None:
        if os.environ.get("CI"):
            pytest.fail("there is no node on the path, and CI must test the browser code")
        pytest.skip("there is no node on the path")
    done = subprocess.run(
        [node, "--test", str(Path(__file__).with_name(file))],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
