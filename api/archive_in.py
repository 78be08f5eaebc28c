"""An archive of another installation, checked to the last byte before anything of it is kept.

Whoever made it may mean ill: sizes, counts, names, numbers and pictures are all looked at, and what is not
exactly an archive is refused in one sentence.
"""

import json
import re
import stat
import struct
import zlib
from dataclasses import dataclass
from typing import BinaryIO, TypeVar
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from pydantic import BaseModel, ValidationError

from api.archive_schemas import (
    MOST_CASES,
    MOST_PHOTOS,
    WORKSHOP_FILE,
    Archive,
    case_file,
    photo_file,
    photo_seen_from_case,
    report_file,
)
from api.errors import InputError
from api.language.speech import N_
from api.schemas import Case, Report

MOST_FILES = 1 + MOST_PHOTOS + 2 * MOST_CASES
MOST_JSON_BYTES = 5_000_000
"""A report has some 100,000 bytes, 2,000 calls as many (measured on samples)."""
MOST_RATIO = 100
"""Reports shrink to a tenth (measured on samples); what shrinks to less than a hundredth holds nothing."""
MOST_JSON_IN_ALL_BYTES = 100_000_000
MOST_NUMBER = 1e12
MOST_BYTES_IN_LIST = 200
"""Of one file in the list at the end: 46, its name, and what tools add, such as times (estimated)."""
END = struct.Struct("<4s4H2LH")
"""End of central directory of a zip (APPNOTE 6.3.10, 4.3.16), which has no comment here."""
END_64 = b"PK\x06\x07"
END_64_BYTES = 20

_NAME = re.compile(r"workshop\.json|photos/[0-9]{4}\.jpg|cases/[0-9]{4}/(case|report)\.json")
_Model = TypeVar("_Model", bound=BaseModel)

UNREADABLE = (BadZipFile, OSError, ValueError, EOFError, RuntimeError, struct.error, zlib.error)
"""What `zipfile` raises over files that are not what they say."""

NONE = N_("This is no archive of a workshop. Choose the file that another Doughsight has written.")
CUT = N_("The archive is damaged or cut short. Copy it again.")
TOO_MUCH = N_("The archive unpacks to more than a workshop can hold. Export it anew.")


@dataclass(frozen=True)
class CheckedCase:
    """A case with its report, and the numbers of the photos that they are about."""

    case: Case
    report: Report
    photo: int
    below: int | None


class Incoming:
    """An archive in an open file. Raises InputError as soon as something is not as it should be."""

    def __init__(self, file: BinaryIO, most_bytes: int, most_photo_bytes: int) -> None:
        """Look at its list of files and its `workshop.json`; pictures and cases are read one by one.

        `most_bytes`: of everything, unpacked. `most_photo_bytes`: of one photo.
        """
        _check_end(file)
        self._most_photo_bytes = most_photo_bytes
        try:
            self._zip = ZipFile(file)
        except UNREADABLE as error:
            raise InputError(CUT) from error
        self._files = _checked_files(self._zip, most_bytes)
        self.told = self._model(Archive, WORKSHOP_FILE)
        self._check_numbers()
        self._check_names()

    def photo(self, number: int) -> bytes:
        """The bytes of a photo as they came: nobody has looked at them yet."""
        return self._read(photo_file(number), self._most_photo_bytes)

    def case(self, number: int) -> CheckedCase:
        """A case with its report."""
        case, report = self._model(Case, case_file(number)), self._model(Report, report_file(number))
        photo = self.told.cases[number - 1].photo
        about = self.told.photos[photo - 1]
        if case.photo != photo_seen_from_case(photo) or case.labels is not None:
            raise InputError("Case {n} of the archive is of another photo. Export it anew.", n=number)
        if (report.photo.width, report.photo.height) != (about.width, about.height):
            raise InputError("Report {n} of the archive is of another photo. Export it anew.", n=number)
        return CheckedCase(case, report, photo, self._below(number, case))

    def _below(self, number: int, case: Case) -> int | None:
        if case.underside is None:
            return None
        for other in range(1, len(self.told.photos) + 1):
            if case.underside.photo == photo_seen_from_case(other):
                return other
        raise InputError("The underside of case {n} is not in the archive. Export it anew.", n=number)

    def _check_numbers(self) -> None:
        """Every number names something that is there."""
        told = self.told
        sculptures, photos, cases = len(told.sculptures), len(told.photos), len(told.cases)
        named = [
            *((one.before, cases) for one in told.sculptures),
            *((one.after, cases) for one in told.sculptures),
            *((one.sculpture, sculptures) for one in told.photos),
            *((one.photo, photos) for one in told.cases),
            *((one.sculpture, sculptures) for one in told.calls),
        ]
        if any(number is not None and number > most for number, most in named):
            raise InputError("The archive names a sculpture, photo or case that it lacks. Export it anew.")
        for one in told.photos:
            if one.frame is not None and not _inside(one.frame, one.width, one.height):
                raise InputError("The archive shows a part of a photo that lies outside it. Export it anew.")

    def _check_names(self) -> None:
        """The files are exactly those that are told of."""
        told = {WORKSHOP_FILE, *(photo_file(n) for n in range(1, len(self.told.photos) + 1))}
        for n in range(1, len(self.told.cases) + 1):
            told |= {case_file(n), report_file(n)}
        if lacking := sorted(told - set(self._files)):
            raise InputError("The archive lacks the file {name}. Copy it again.", name=lacking[0])
        if more := sorted(set(self._files) - told):
            raise InputError(
                "The archive has a file that it tells nothing of: {name}. Export it anew.", name=more[0]
            )

    def _model(self, kind: type[_Model], name: str) -> _Model:
        text = self._read(name, MOST_JSON_BYTES)
        try:
            told = json.loads(text.decode("utf-8"), parse_constant=_no_number)
            _check_values(told)
            return kind.model_validate_json(text)
        except ValidationError as error:
            where = ".".join(str(part) for part in error.errors()[0]["loc"])[:80]
            raise InputError(
                "The file {name} of the archive is wrong at {where}. Export it anew.",
                name=name,
                where=where or "its beginning",
            ) from error
        except (ValueError, RecursionError, OverflowError) as error:
            raise InputError(
                "The file {name} of the archive cannot be read. Export it anew.", name=name
            ) from error

    def _read(self, name: str, most_bytes: int) -> bytes:
        about = self._files.get(name)
        if about is None:
            raise InputError("The archive lacks the file {name}. Copy it again.", name=name)
        if about.file_size > most_bytes:
            raise InputError(TOO_MUCH)
        try:
            return self._zip.read(about)
        except (
            BadZipFile,
            OSError,
            ValueError,
            EOFError,
            NotImplementedError,
            RuntimeError,
            zlib.error,
        ) as error:
            raise InputError(CUT) from error


def _check_end(file: BinaryIO) -> None:
    """Look at the end before the list of files is read: one of millions of files would fill the memory."""
    size = file.seek(0, 2)
    if size < END.size:
        raise InputError(NONE)
    file.seek(0)
    start = file.read(4)
    file.seek(max(0, size - END.size - END_64_BYTES))
    large = file.read(4) == END_64
    file.seek(size - END.size)
    sign, disk, first_disk, here, count, list_bytes, list_at, comment = END.unpack(file.read(END.size))
    if start != b"PK\3\4":
        raise InputError(NONE)
    if sign != b"PK\5\6" or comment or disk or first_disk or here != count:
        raise InputError(CUT)
    if large or count > MOST_FILES or list_bytes > count * MOST_BYTES_IN_LIST:
        raise InputError(TOO_MUCH)
    if list_at + list_bytes != size - END.size:
        raise InputError(CUT)
    file.seek(0)


def _checked_files(archive: ZipFile, most_bytes: int) -> dict[str, ZipInfo]:
    """The files by name. Nothing of them is unpacked here."""
    files: dict[str, ZipInfo] = {}
    in_all = of_json = 0
    for one in archive.infolist():
        name = one.orig_filename
        if not _NAME.fullmatch(name) or one.filename != name or not _is_plain(one):
            raise InputError(
                "The archive has a file that does not belong to it: {name}. Export it anew.",
                name=ascii(name[:60]),
            )
        if name in files:
            raise InputError("The archive has the file {name} twice. Export it anew.", name=name)
        if one.flag_bits & 1 or one.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
            raise InputError("The archive is packed in a way that is not read here. Export it anew.")
        in_all += one.file_size
        of_json += one.file_size if name.endswith(".json") else 0
        thin = one.file_size > MOST_RATIO * max(one.compress_size, 1)
        if thin or in_all > most_bytes or of_json > MOST_JSON_IN_ALL_BYTES:
            raise InputError(TOO_MUCH)
        files[name] = one
    return files


def _is_plain(one: ZipInfo) -> bool:
    """Whether it is a file: no folder, no link, no device."""
    kind = stat.S_IFMT(one.external_attr >> 16)
    return kind in (0, stat.S_IFREG) and not one.external_attr & 0x10


def _check_values(told: object) -> None:
    """Raises ValueError for numbers that nothing has, and for text that no database keeps."""
    if isinstance(told, str):
        if "\0" in told:
            raise ValueError("a zero byte in text")
    elif isinstance(told, dict):
        for name, value in told.items():
            _check_values(name)
            _check_values(value)
    elif isinstance(told, list):
        for value in told:
            _check_values(value)
    elif isinstance(told, int | float) and not abs(told) <= MOST_NUMBER:
        raise ValueError("a number beyond all measure")


def _no_number(word: str) -> None:
    raise ValueError(f"{word} is no number")


def _inside(frame: tuple[int, int, int, int], width: int, height: int) -> bool:
    left, top, right, bottom = frame
    return left < right <= width and top < bottom <= height
