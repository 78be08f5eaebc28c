"""Modules are compiled once for all processes of a run, even where Python is told not to keep that.

Dozens of tests start a server or a command of their own, and each would compile a thousand modules anew.
"""

import os
import shutil
import sys
import tempfile

import pytest

TOLD = "PYTHONDONTWRITEBYTECODE"


def pytest_configure(config: pytest.Config) -> None:
    """Keep what is compiled in a folder of this run; workers and all that they start inherit it."""
    if not sys.dont_write_bytecode or hasattr(config, "workerinput"):
        return
    folder = tempfile.mkdtemp(prefix="doughsight-compiled-")
    config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))
    os.environ.pop(TOLD, None)
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix = folder
    sys.dont_write_bytecode = False
