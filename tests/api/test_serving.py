"""A real server process: it ends calmly, holds its data folder, and lets go of it whatever happens."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Event

import httpx2
import pytest

from api.errors import InputError
from api.serving import only_server

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals as POSIX has them")
START = "import sys; from api.commands import main; sys.argv = ['doughsight', *sys.argv[1:]]; main()"


@contextmanager
def started(folder: Path, port: int) -> Iterator[subprocess.Popen[str]]:
    """`doughsight serve` over a folder, ended at last."""
    told = [sys.executable, "-c", START, "serve", "--port", str(port)]
    environment = {**os.environ, "DOUGHSIGHT_DATA_DIR": str(folder), "DOUGHSIGHT_LOG": "info"}
    server = subprocess.Popen(
        told, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield server
    finally:
        server.kill()
        server.wait(60)
        server.communicate()


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


def until_it_answers(client: httpx2.Client, server: subprocess.Popen[str]) -> None:
    last = time.monotonic() + 60
    while server.poll() is None and time.monotonic() < last:
        try:
            client.get("/health")
        except httpx2.TransportError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the server does not answer")


def until_it_looks(client: httpx2.Client, token: str) -> None:
    """Until the inspection with this token has begun."""
    last = time.monotonic() + 60
    while client.get(f"/stages/{token}").json()["stage"] == "":
        assert time.monotonic() < last
        time.sleep(0.02)


def hear_out(stream: str, heard: Event) -> None:
    """Notes that something is told; an end is the server's, and one in the midst of it is an error."""
    with httpx2.stream("GET", stream, timeout=60) as answer:
        for line in answer.iter_lines():
            if line.startswith("data:"):
                heard.set()


def test_it_ends_calmly_and_one_alone_serves_a_folder(tmp_path: Path) -> None:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    with started(tmp_path, port) as server, httpx2.Client(base_url=address, timeout=60) as client:
        until_it_answers(client, server)
        with pytest.raises(InputError, match="Another Doughsight serves"), only_server(tmp_path):
            pass
        case = client.post("/samples/caterpillar").json()["case"]
        told = {"name": "An afternoon", "day": "2026-05-09"}
        news = f"{address}/workshops/{client.post('/workshops', json=told).json()['id']}/events"
        with ThreadPoolExecutor(4) as other:
            heard = [Event() for _ in range(3)]
            watching = [other.submit(hear_out, news, one) for one in heard]
            assert all(one.wait(60) for one in heard)
            asked = other.submit(httpx2.post, f"{address}/inspections?token=one", json=case, timeout=60)
            until_it_looks(client, "one")
            server.send_signal(signal.SIGTERM)
            answer = asked.result(60)
            for one in watching:
                one.result(60)
        assert answer.status_code == 201 and answer.json()["report"]["pieces"]
        assert server.wait(60) == 0
        written = server.communicate()[1]
    assert '"stopping"' in written and '"stopped"' in written and "Traceback" not in written
    assert (
        '"error"' not in written and '"warning"' not in written
    )  # nobody is alarmed by an end that was asked for
    assert not (tmp_path / "doughsight.db-wal").exists()  # all of it is in the one file


def test_the_folder_is_free_after_a_kill(tmp_path: Path) -> None:
    hold = "import sys, time; from pathlib import Path; from api.serving import only_server\n"
    hold += "with only_server(Path(sys.argv[1])): print('held', flush=True); time.sleep(60)"
    holder = subprocess.Popen([sys.executable, "-c", hold, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    with pytest.raises(InputError, match="Another Doughsight serves"), only_server(tmp_path):
        pass
    holder.kill()
    holder.communicate(timeout=60)
    with only_server(tmp_path):
        pass


def test_a_folder_that_cannot_be_made_is_told_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(InputError, match="cannot be written"), only_server(tmp_path / "file" / "data"):
        pass
