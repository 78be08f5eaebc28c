"""Runs the tests of what is tried on the picture with Node's own runner."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest


def test_what_if_in_node() -> None:
    node = shutil.which("node")
    if node is None:
        if os.environ.get("CI"):
            pytest.fail("there is no node on the path, and CI must test the browser code")
        pytest.skip("there is no node on the path")
    done = subprocess.run(
        [node, "--test", str(Path(__file__).with_name("test_what_if.mjs"))],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
