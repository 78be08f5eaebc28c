"""Whether this installation is well: `doughsight doctor`. It looks, and changes nothing.

It imports only what Python brings along, and all else inside its checks: it must speak where a library cannot
be loaded. Nothing of what is kept is told, only how many things there are.
"""

import contextlib
import importlib
import json
import os
import platform
import shutil
import socket
import stat
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from api.settings import Settings

State = Literal["ok", "watch", "wrong"]
SIGNS = {"ok": "o ok   ", "watch": "! watch", "wrong": "X WRONG"}
LEAST_PYTHON = (3, 11)
LIBRARIES = (
    ("cv2", "apt install libgl1 libglib2.0-0, or install opencv-python anew"),
    *((name, "install Doughsight anew") for name in ("numpy", "scipy", "skimage", "networkx", "PIL")),
    *((name, "install Doughsight anew") for name in ("pillow_heif", "resvg_py", "fastapi", "uvicorn")),
    *((name, "install Doughsight anew") for name in ("sqlalchemy", "alembic", "reportlab", "segno")),
)
LITTLE_ROOM, NO_ROOM = 1_000_000_000, 100_000_000
"""Bytes: room for an afternoon, 30 benches with 20 photos of 1 MB each; hardly for one bench (estimated)."""
FIRST_DAY = datetime(2026, 1, 1, tzinfo=UTC)
"""No clock that goes right shows a time before this program was written."""


@dataclass(frozen=True)
class Finding:
    """What a check found, and what to do about it; nothing is to be done where all is well."""

    name: str
    state: State
    says: str
    do: str = ""


def examine(settings: "Settings | None" = None, port: int = 8737) -> Iterator[Finding]:
    """All checks, one after the other; a check that breaks is itself a finding. Port 0: any."""
    yield _python()
    libraries = _libraries()
    yield libraries
    if libraries.state == "wrong":  # all other checks need them
        return
    try:
        if settings is None:
            from api.settings import Settings

            settings = Settings()
    except Exception as error:
        says = f"a variable that begins with DOUGHSIGHT_ cannot be used ({type(error).__name__})"
        yield Finding("settings", "wrong", says, "Correct it or take it away.")
        return
    from api import doctor_records as records

    folder = settings.data_dir
    checks: tuple[tuple[str, Callable[[], Finding]], ...] = (
        ("eyes", _eyes),
        ("fonts", _fonts),
        ("data folder", lambda: _folder(folder)),
        ("database", lambda: records.database(settings)),
        ("photos", lambda: records.photos(settings)),
        ("secret key", lambda: _secret(folder)),
        ("port", lambda: _port(port)),
        ("addresses", lambda: _addresses(port)),
        ("clock", lambda: _clock(records.newest(settings))),
        *((f"{name} (only for tests)", lambda name=name: _program(name)) for name in ("chromium", "ngspice")),
    )
    for name, check in checks:
        yield _tried(name, check)


def _tried(name: str, check: Callable[[], Finding]) -> Finding:
    try:
        return check()
    except Exception as error:  # whatever it is, the other checks go on, and the words may hold data
        return Finding(
            name, "wrong", f"cannot be looked at ({type(error).__name__})", "Install Doughsight anew."
        )


def report(findings: list[Finding]) -> str:
    """One line for each, with what to do."""
    width = max(len(one.name) for one in findings)
    lines = [f"{SIGNS[one.state]}  {one.name:<{width}}  {one.says}. {one.do}".rstrip() for one in findings]
    return "\n".join((*lines, _verdict(findings)))


def as_json(findings: list[Finding]) -> str:
    """The same for programs."""
    return json.dumps({"well": well(findings), "findings": [asdict(one) for one in findings]}, indent=1)


def well(findings: list[Finding]) -> bool:
    """Whether nothing is wrong."""
    return all(one.state != "wrong" for one in findings)


def _verdict(findings: list[Finding]) -> str:
    wrong = sum(one.state == "wrong" for one in findings)
    return "Doughsight is ready." if not wrong else f"Not ready: {wrong} of {len(findings)} to put right."


def _python() -> Finding:
    told = platform.python_version()
    if sys.version_info < LEAST_PYTHON:
        return Finding("Python", "wrong", f"{told} is too old", "Install Python 3.11 or newer.")
    return Finding("Python", "ok", told)


def _libraries() -> Finding:
    for name, do in LIBRARIES:
        try:
            importlib.import_module(name)
        except Exception as error:  # a library may break in many ways while it is loaded
            return Finding("libraries", "wrong", f"{name} cannot be loaded ({error})", f"{do.capitalize()}.")
    return Finding("libraries", "ok", f"all {len(LIBRARIES)} can be loaded")


def _eyes() -> Finding:
    """The network looks at a picture of two colours and must tell them apart."""
    import numpy as np

    from vision.eyes import look
    from vision.model import Colour, Photo, TableView

    pixels = np.full((96, 96, 3), 230, np.uint8)
    pixels[24:72, 24:72] = (200, 40, 60)
    view = TableView(0.4, (0.0, 0.0), true_scale=True)
    palette = [Colour("red", "conductive", ((48.0, 48.0),)), Colour("table", "table", ((8.0, 8.0),))]
    seen, _ = look(Photo(pixels), palette, [], view)
    rows, cols = seen.chance.shape[1:]
    middle, corner = seen.chance[1, rows // 2, cols // 2], seen.chance[1, 2, 2]
    if not middle > 0.5 > corner:
        return Finding("eyes", "wrong", "eyes.onnx takes dough for table", "Install Doughsight anew.")
    return Finding("eyes", "ok", "eyes.onnx tells dough from table")


def _fonts() -> Finding:
    from api.fonts import drawable
    from api.language.languages import languages

    lacking = [one.code for one in languages().values() if not drawable(one.name)]
    if lacking:
        do = "Install fonts for them (Debian: fonts-noto-core), or leave it: pictures are in English then."
        return Finding("fonts", "watch", f"none here has the letters of {', '.join(lacking)}", do)
    return Finding("fonts", "ok", f"letters of {', '.join(languages())}")


def _folder(folder: Path) -> Finding:
    there = next(one for one in (folder, *folder.parents) if one.exists())
    told = shown(folder)
    if not there.is_dir() or not os.access(there, os.W_OK | os.X_OK):
        do = "Let this account write there, or set DOUGHSIGHT_DATA_DIR to another folder."
        return Finding("data folder", "wrong", f"{told} cannot be written", do)
    free = shutil.disk_usage(there).free
    says = f"{told}, {free / 1e9:.1f} GB free" + ("" if folder.exists() else ", made at the first start")
    if free < LITTLE_ROOM:
        state: State = "wrong" if free < NO_ROOM else "watch"
        return Finding("data folder", state, says, "Make room, or set DOUGHSIGHT_DATA_DIR to another disk.")
    return Finding("data folder", "ok", says)


def shown(path: Path) -> str:
    """The path as it may be told: the home folder, whose name is often a person's, as ~."""
    with contextlib.suppress(ValueError, RuntimeError):
        return str(Path("~") / path.resolve().relative_to(Path.home().resolve()))
    return str(path)


def _secret(folder: Path) -> Finding:
    from api.records.secret_key import NAME

    file = folder / NAME
    if not file.exists():
        return Finding("secret key", "ok", "made at the first start")
    mode = stat.S_IMODE(file.stat().st_mode)
    if os.name == "posix" and mode & 0o077:
        do = f"chmod 600 {shown(file)}; whoever read it can sign in: delete it to be sure, and all join anew."
        return Finding("secret key", "wrong", f"others on this machine may read it (mode {mode:o})", do)
    return Finding("secret key", "ok", "only this account may read it")


def _port(port: int) -> Finding:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("0.0.0.0", port))
        except OSError as error:
            do = "Doughsight runs already, or take another port: --port."
            return Finding("port", "watch", f"{port} is taken ({error.strerror})", do)
    return Finding("port", "ok", f"{port} is free")


def _addresses(port: int) -> Finding:
    from api.door import own_address

    address = own_address()
    if address.startswith("127."):
        return Finding(
            "addresses", "watch", "this machine is on no network", "Phones need one: join or open a Wi-Fi."
        )
    return Finding("addresses", "ok", f"phones of the same network find http://{address}:{port}")


def _clock(newest: datetime | None) -> Finding:
    now = datetime.now(UTC)
    told = now.astimezone().strftime("%Y-%m-%d %H:%M %Z")
    do = "Set the clock: codes expire and photos are deleted by it."
    if now < FIRST_DAY:
        return Finding("clock", "wrong", f"it shows {told}", do)
    if newest is not None and newest > now + timedelta(minutes=5):
        return Finding("clock", "wrong", f"it shows {told}, and what is kept is newer than that", do)
    return Finding("clock", "ok", told)


def _program(name: str) -> Finding:
    told = f"{name} (only for tests)"
    if shutil.which(name) or (name == "chromium" and shutil.which("chromium-browser")):
        return Finding(told, "ok", "installed")
    return Finding(told, "ok", "not installed; tests that need it are skipped")


if __name__ == "__main__":
    told = list(examine())
    print(report(told))
    sys.exit(0 if well(told) else 1)
