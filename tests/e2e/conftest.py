"""The app on a free port with the real engines, and Debian's Chromium to look at it."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright

from api.app import create_app
from api.settings import Settings

ARGS = [
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-gpu",
    "--disable-quic",
]


@pytest.fixture(scope="session")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder: Path = tmp_path_factory.mktemp("data")
    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    port = door.getsockname()[1]
    app = create_app(Settings(data_dir=folder))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started and time.monotonic() < until:
        time.sleep(0.05)
    assert server.started
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(timeout=10)
    door.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        if os.environ.get("CI"):
            pytest.fail("there is no chromium on the path, and CI must try the page")
        pytest.skip("there is no chromium on the path")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=ARGS)
        yield browser
        browser.close()
