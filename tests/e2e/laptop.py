"""A server of one's own, for tests that stop it or that need one that has seen nothing yet."""

import socket
import sqlite3
import threading
import time
from contextlib import closing
from pathlib import Path

import uvicorn

from api.app import create_app
from api.door import Door
from api.settings import Settings


class Laptop:
    """The app with the real engines on a free port, over one folder; it can be stopped and started again.

    With `network` it is as `serve --network` starts it, though it listens to this machine only.
    """

    def __init__(self, folder: Path, network: bool = False) -> None:
        self.folder = folder
        self._network = network
        self.port = 0  # any that is free; the same again from then on
        self.start()
        self.address = f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        door = socket.create_server(("127.0.0.1", self.port))
        self.port = int(door.getsockname()[1])
        self._app = create_app(
            Settings(data_dir=self.folder), door=Door(network=self._network, port=self.port)
        )
        config = uvicorn.Config(self._app, log_level="error", ws="none", timeout_graceful_shutdown=1)
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [door]}, daemon=True)
        self._thread.start()
        until = time.monotonic() + 60
        while not self._server.started and time.monotonic() < until:
            time.sleep(0.05)
        assert self._server.started

    def stop(self) -> None:
        self._app.state.parts.live.close()  # streams end, as `serve` has them end
        self._server.should_exit = True
        self._thread.join(timeout=60)
        assert not self._thread.is_alive()

    def close(self) -> None:
        if self._thread.is_alive():
            self.stop()
        # A photo may still be looked at: the process must not end in the middle of that.
        until = time.monotonic() + 60
        while self._app.state.parts.turn.running and time.monotonic() < until:
            time.sleep(0.05)

    def count(self, table: str) -> int:
        with closing(sqlite3.connect(self.folder / "doughsight.db")) as data:
            return int(data.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
