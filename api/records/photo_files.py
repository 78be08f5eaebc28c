"""Photos as files, named by their content: written whole or not at all."""

import contextlib
import hashlib
import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path

_OURS = re.compile(r"[0-9a-f]{64}\.(jpg|[0-9a-f]{8}\.half)")


@dataclass(frozen=True)
class Half:
    """A picture that is on the disk, but not yet in its place."""

    name: str
    file: Path

    def drop(self) -> None:
        """Delete it; nothing happens if it was put in its place."""
        self.file.unlink(missing_ok=True)


class PhotoFiles:
    """A folder of JPEGs. The same picture is kept once, however often it came.

    Whoever puts files in place or drops them holds `database.hold_photo_files` meanwhile, and has seen
    which rows there are. A file without a row is left when the power fails in between; `sweep` takes it
    away at the next start. A row never lacks its file: the file is there before its row is.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(parents=True, exist_ok=True)

    def write(self, jpeg: bytes) -> Half:
        """Write it beside its place. It is on the disk when this returns."""
        name = hashlib.sha256(jpeg).hexdigest()
        folder = self.file(name).parent
        if not folder.is_dir():
            folder.mkdir(exist_ok=True)
            settle(self._folder)
        half = Half(name, folder / f"{name}.{secrets.token_hex(4)}.half")
        try:
            with half.file.open("xb") as out:
                out.write(jpeg)
                out.flush()
                os.fsync(out.fileno())
        except BaseException:
            half.drop()
            raise
        return half

    def place(self, half: Half) -> None:
        """Put it in its place, where the same picture may be already."""
        target = self.file(half.name)
        half.file.replace(target)
        settle(target.parent)

    def keep(self, jpeg: bytes) -> str:
        """Write it and put it in its place; say its name, SHA-256 of its content."""
        half = self.write(jpeg)
        self.place(half)
        return half.name

    def read(self, name: str) -> bytes | None:
        """The picture, or None if it is not there any more."""
        with contextlib.suppress(FileNotFoundError):
            return self.file(name).read_bytes()
        return None

    def drop(self, name: str) -> None:
        """Delete it; nothing happens if it is gone."""
        self.file(name).unlink(missing_ok=True)

    def names(self) -> set[str]:
        """Which pictures there are."""
        return {file.stem for file in self._all() if file.suffix == ".jpg"}

    def sweep(self, kept: set[str]) -> int:
        """Delete halves, and pictures not among `kept`; how many there were. Other files are left alone."""
        loose = [file for file in self._all() if file.suffix == ".half" or file.stem not in kept]
        for file in loose:
            file.unlink(missing_ok=True)
        return len(loose)

    def file(self, name: str) -> Path:
        """Where the picture of this name lies, or would lie."""
        return self._folder / name[:2] / f"{name}.jpg"

    def _all(self) -> list[Path]:
        return [file for file in self._folder.glob("??/*") if _OURS.fullmatch(file.name)]


def settle(folder: Path) -> None:
    """See to it that a new name in this folder is on the disk as well."""
    with contextlib.suppress(OSError):  # Windows opens no folders, and does not need it
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
