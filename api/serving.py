"""The server process: one for each data folder, and a calm end."""

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Timer
from typing import IO

import uvicorn
from fastapi import FastAPI

from api.errors import InputError
from api.logs import tell
from api.memory import stay_small

STOP_S = 8
"""So long what runs may go on after SIGTERM; container tools kill after 10 s (their documented default)."""
KILL_S = 4
"""And so long the process may then take to end."""
KEEP_S = 30
"""How long a connection that nobody uses stays open: phones tap and ask every few seconds (estimated)."""
LOCK = "serving.lock"


@contextmanager
def only_server(folder: Path) -> Iterator[None]:
    """Hold the data folder: two servers over one would not tell each other their news.

    Raises InputError where another process holds it. However this process ends, the system lets go of it.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        held = (folder / LOCK).open("ab")
    except OSError as error:
        raise InputError(
            "{folder} cannot be written ({why}): set DOUGHSIGHT_DATA_DIR to another folder.",
            folder=folder,
            why=error.strerror,
        ) from error
    with held:
        try:
            _lock(held)
        except OSError as error:
            raise InputError(
                "Another Doughsight serves {folder} already: stop that one, or set DOUGHSIGHT_DATA_DIR to "
                "another folder.",
                folder=folder,
            ) from error
        yield


def _lock(held: IO[bytes]) -> None:
    """Raises OSError where another process holds the file."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(held.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)


class _Server(uvicorn.Server):
    """uvicorn's server, which tells those who wait before it waits for them."""

    async def shutdown(self, sockets: list[object] | None = None) -> None:  # type: ignore[override]
        """No new requests; streams end, what runs may go on for a while, what waits is sent away."""
        tell("stopping")
        has = self.config.app.state.parts  # type: ignore[union-attr]
        has.live.close()
        has.turn.close()
        await super().shutdown(sockets)  # type: ignore[arg-type]


def told_to_serve(
    app: FastAPI, host: str, port: int, certificate: Path | None = None, key: Path | None = None
) -> uvicorn.Config:
    """How the app is served."""
    return uvicorn.Config(
        app,
        host=host,
        port=port,
        log_config=None,  # `api/logs.py` has set up the log of the whole process
        access_log=False,
        server_header=False,
        proxy_headers=False,  # who asks is told by its address, never by a header
        ws="none",
        ssl_certfile=certificate,
        ssl_keyfile=key,
        timeout_graceful_shutdown=STOP_S,
        timeout_keep_alive=KEEP_S,
    )


def serve_app(config: uvicorn.Config) -> None:
    """Serve until SIGTERM or Ctrl+C; the process may then end with status 0."""
    for asked in (signal.SIGTERM, signal.SIGINT):
        # uvicorn raises the signal once more after its end, for whoever was there before it.
        signal.signal(asked, lambda *_told: None)
    stay_small()
    tell("started")
    _Server(config).run()
    tell("stopped")
    end = Timer(KILL_S, os._exit, [1])  # a thread that reckons cannot be stopped, and Python waits for it
    end.daemon = True
    end.start()
