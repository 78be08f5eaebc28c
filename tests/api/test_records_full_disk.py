"""What cannot be kept leaves nothing behind, and takes nothing from others."""

import errno
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from api.errors import InputError
from api.records import KeptPhoto, Records
from api.records.wholes import Whole
from api.workshop_schemas import WorkshopEntry

NEW = b"\xff\xd8 a photo"


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    with closing(Records(tmp_path)) as records:
        yield records


def pictures(folder: Path) -> int:
    return sum(file.is_file() for file in folder.glob("photos/*/*"))


def _sent(records: Records, _photo: KeptPhoto) -> None:
    records.add_photo(NEW, 400, 300)


def _covered(records: Records, photo: KeptPhoto) -> None:
    records.covers.replace(photo.id, photo.jpeg, NEW, None)


def _brought_in(records: Records, _photo: KeptPhoto) -> None:
    workshop = records.workshops.add(WorkshopEntry.model_validate({"name": "Owls", "day": "2026-03-04"}))
    there = records.wholes.get(workshop.id)
    assert there is not None
    records.delete_workshop(workshop.id)
    records.wholes.add(Whole(there.workshop, [], [], [], []), [records.wholes.put_aside(NEW)])


@pytest.mark.parametrize("keep", [_sent, _covered, _brought_in])
@pytest.mark.parametrize("others", [False, True])
def test_a_picture_whose_row_cannot_be_kept_goes_unless_another_photo_shows_it(
    records: Records, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, keep: Callable[..., None], others: bool
) -> None:
    photo = records.add_photo(b"\xff\xd8 another", 400, 300)
    other = records.add_photo(NEW, 400, 300) if others else None
    place = records._files.place

    def placed_on_a_full_disk(half: object) -> None:
        place(half)  # type: ignore[arg-type]
        raise OperationalError("COMMIT", {}, Exception("database or disk is full"))

    monkeypatch.setattr(records._files, "place", placed_on_a_full_disk)
    with pytest.raises(OperationalError):
        keep(records, photo)
    assert pictures(tmp_path) == 1 + others
    assert records.photo(photo.id) == photo
    assert other is None or records.photo(other.id) == other


def test_a_full_disk_at_the_first_start_is_told_in_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_folder: Path) -> bytes:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("api.records.records.secret_key", full)
    with pytest.raises(InputError, match=r"cannot be used [(]No space left"):
        Records(tmp_path)
