"""Photos as files, named by their content: written whole or not at all."""

import contextlib
import hashlib
import os
import secrets
from pathlib import Path


class PhotoFiles:
    """A folder of JPEGs. The same picture is kept once, however often it came."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def keep(self, jpeg: bytes) -> str:
        """Write it, and say its name: SHA-256 of its content. It is on the disk when this returns."""
        name = hashlib.sha256(jpeg).hexdigest()
        target = self._file(name)
        if target.exists():
            return name
        target.parent.mkdir(exist_ok=True)
        half = target.with_name(f"{name}.{secrets.token_hex(4)}.half")
        with half.open("wb") as out:
            out.write(jpeg)
            out.flush()
            os.fsync(out.fileno())
        half.replace(target)
        return name

    def read(self, name: str) -> bytes | None:
        """The picture, or None if it is not there any more."""
        with contextlib.suppress(FileNotFoundError):
            return self._file(name).read_bytes()
        return None

    def drop(self, name: str) -> None:
        """Delete it; nothing happens if it is gone."""
        self._file(name).unlink(missing_ok=True)

    def _file(self, name: str) -> Path:
        return self._folder / name[:2] / f"{name}.jpg"
