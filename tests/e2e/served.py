"""The server as a process of its own, as a helper starts it, with a note of every file it opens to write."""

import os
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import httpx2

RUN = """
import os, sys
told = os.open(os.environ["OPENED"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT
def note(event, args):
    if event == "open" and isinstance(args[2], int) and args[2] & WRITES:
        path = "/dev/fd" if isinstance(args[0], int) else os.path.abspath(os.fspath(args[0]))
        os.write(told, os.fsencode(path) + b"\\n")
sys.addaudithook(note)
sys.dont_write_bytecode = True
sys.argv = ["doughsight", "serve", "--port", os.environ["PORT"]]
from api.commands import main
main()
"""


class Served:
    """`doughsight serve` over a folder of its own, with a temporary folder of its own.

    `opened` lists what Python opened to write; `seen` what anybody put into the temporary folder meanwhile.
    """

    def __init__(self, folder: Path) -> None:
        self.data, self.temporary = folder / "data", folder / "temporary"
        self._note = folder / "opened.txt"
        for one in (self.data, self.temporary):
            one.mkdir()
        with socket.create_server(("127.0.0.1", 0)) as door:
            port = door.getsockname()[1]
        told = {
            "DOUGHSIGHT_DATA_DIR": self.data,
            "TMPDIR": self.temporary,
            "OPENED": self._note,
        }
        env = {**os.environ, **{name: str(value) for name, value in told.items()}, "PORT": str(port)}
        self._out = (folder / "out.txt").open("wb")
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUN],
            env=env,
            stdout=self._out,
            stderr=subprocess.STDOUT,
            cwd=Path(__file__).parents[2],
        )
        self.address = f"http://127.0.0.1:{port}"
        self.ask = httpx2.Client(base_url=self.address, timeout=60)
        self.seen: set[str] = set()
        self._ends = threading.Event()
        self._watcher = threading.Thread(target=self._watch, daemon=True)
        self._watcher.start()
        self._wait(folder / "out.txt")

    def _wait(self, out: Path) -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until and self.process.poll() is None:
            try:
                if self.ask.get("/health").status_code == 200:
                    return
            except httpx2.TransportError:
                time.sleep(0.05)
        raise AssertionError(out.read_text("utf-8", "replace"))

    def _watch(self) -> None:
        while not self._ends.wait(0.002):
            self.seen.update(one.name for one in self.temporary.iterdir())

    def opened(self) -> list[str]:
        """Paths opened to write so far, as Python tells them; the folder itself for a file without a name."""
        return self._note.read_text("utf-8", "surrogateescape").split("\n")[:-1]

    def memory_kb(self) -> int:
        """What the process has in memory now."""
        status = Path(f"/proc/{self.process.pid}/status").read_text("utf-8")
        return int(status.split("VmRSS:")[1].split()[0])

    def send(self, photo: bytes, **told: Any) -> httpx2.Response:
        """Send a photo by the form."""
        return self.ask.post("/photos", files={"photo": ("photo", photo)}, **told)

    def stop(self) -> str:
        """End it calmly; what it has printed."""
        self._ends.set()
        self._watcher.join()
        self.ask.close()
        self.process.terminate()
        self.process.wait(timeout=60)
        self._out.close()
        return Path(self._out.name).read_text("utf-8", "replace")
