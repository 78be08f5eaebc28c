"""The format `doughsight-workshop/1`: what `workshop.json` of an archive holds. Numbers count from 1."""

from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, AwareDatetime, ConfigDict, Field

from api.errors import InputError
from api.fields import Strict
from api.records.calls import State
from api.sculpture_schemas import Lines
from api.workshop_schemas import Bench, Nickname, Short, WorkshopEntry

SCHEMA: Literal["doughsight-workshop/1"] = "doughsight-workshop/1"
WORKSHOP_FILE = "workshop.json"
MOST_SCULPTURES = 500
MOST_PHOTOS = 3000
MOST_CASES = 6000
MOST_CALLS = 10_000


def _of_our_time(time: datetime) -> datetime:
    """In UTC; years that no calendar of ours has are refused."""
    if not 2000 <= time.year <= 2200:
        raise InputError("The archive has a time of the year {year}: export it anew", year=time.year)
    return time.astimezone(UTC)


Moment = Annotated[AwareDatetime, AfterValidator(_of_our_time)]
Number = Annotated[int, Field(ge=1, le=MOST_CASES)]
Pixels = Annotated[int, Field(ge=1, le=60_000)]
Edge = Annotated[int, Field(ge=0, le=60_000)]


class ArchivedSculpture(Strict):
    """A sculpture; `before` and `after` are numbers of cases."""

    bench: Bench
    title: Short
    maker: Nickname
    learned: Lines
    before: Number | None
    after: Number | None
    overlay: bool
    started: Moment
    finished: Moment | None


class ArchivedPhoto(Strict):
    """A photo [px] of the sculpture with that number; `frame` is what is shown: left, top, right, bottom."""

    width: Pixels
    height: Pixels
    sent: Moment
    sculpture: Number | None
    frame: tuple[Edge, Edge, Edge, Edge] | None


class ArchivedCase(Strict):
    """An inspection of the photo with that number."""

    photo: Number
    made: Moment


class ArchivedCall(Strict):
    """When the bench of a sculpture asked for help, and what came of it."""

    sculpture: Number
    state: State
    asked: Moment
    changed: Moment
    helper: Nickname
    kind: Annotated[str, Field(pattern=r"^[a-z0-9-]{0,40}$")]


class Archive(Strict):
    """All of a workshop but its pictures, cases and reports, which are files of their own."""

    model_config = ConfigDict(populate_by_name=True)

    schema_: Annotated[Literal["doughsight-workshop/1"], Field(alias="schema")]
    workshop: WorkshopEntry
    ended: Moment | None
    sculptures: Annotated[tuple[ArchivedSculpture, ...], Field(max_length=MOST_SCULPTURES)]
    photos: Annotated[tuple[ArchivedPhoto, ...], Field(max_length=MOST_PHOTOS)]
    cases: Annotated[tuple[ArchivedCase, ...], Field(max_length=MOST_CASES)]
    calls: Annotated[tuple[ArchivedCall, ...], Field(max_length=MOST_CALLS)]


def photo_file(number: int) -> str:
    """Where the photo with this number is."""
    return f"photos/{number:04}.jpg"


def case_file(number: int) -> str:
    """Where the case with this number is."""
    return f"cases/{number:04}/case.json"


def report_file(number: int) -> str:
    """Where the report of the case with this number is."""
    return f"cases/{number:04}/report.json"


def photo_seen_from_case(number: int) -> str:
    """How a case names the photo with this number: by the way from its own folder."""
    return f"../../{photo_file(number)}"
