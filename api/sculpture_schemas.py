"""Sculptures in the public formats: what is told of one, and what is shown."""

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, Field

from api.challenge import Criterion, Verdict
from api.fields import Plain, Strict, utc
from api.finished import Frame, Look
from api.records import KeptSculpture
from api.workshop_schemas import Bench, Nickname, Short

Lines = Annotated[str, Field(max_length=600), Plain]


class BenchEntry(Strict):
    """A bench: its number, or a nickname."""

    bench: Bench


class SculptureEntry(Strict):
    """What is told of a sculpture; `before_id` and `after_id` are inspections of its photos.

    Null stands for what is shown unless somebody chooses: before the first inspection with something to put
    right, after the last one. The same for both: no before is shown.
    """

    title: Short = ""
    maker: Nickname = ""
    learned: Lines = ""
    before_id: str | None = None
    after_id: str | None = None
    overlay: bool = True
    finished: bool = False


class SculptureAnswer(BaseModel):
    """A kept sculpture. Times are UTC; `finished` is null while it is being built."""

    id: str
    workshop: str
    bench: str
    title: str
    maker: str
    learned: str
    before_id: str | None
    after_id: str | None
    overlay: bool
    started: datetime
    finished: datetime | None
    revision: int


class LightAnswer(BaseModel):
    """An LED and how it is: bright, dim or off."""

    id: str
    state: str


class LookAnswer(BaseModel):
    """An inspection of a sculpture: its photo [px], what of it is shown, its lights, its first finding.

    `picture` changes when something on the photo is covered. `wrong`: codes of what is to be put right.
    """

    id: str
    created: datetime
    photo: str
    picture: str
    width: int
    height: int
    frame: Frame
    lights: list[LightAnswer]
    lit: int
    level: str
    why: str
    wrong: list[str]


class CriterionAnswer(BaseModel):
    """One rule of the challenge: whether it is met, what it asks for, and what was found, in words."""

    rule: str
    verdict: Verdict
    wish: str
    found: str


class RecordAnswer(BaseModel):
    """A sculpture as it is shown: before, after, the challenge, and words to begin `learned` with."""

    sculpture: SculptureAnswer
    before: LookAnswer | None
    after: LookAnswer | None
    challenge: str
    criteria: list[CriterionAnswer]
    words: str


class WhereAnswer(BaseModel):
    """Where an inspection belongs: its photo, and the workshop and the sculpture of that, if any."""

    photo: str
    workshop: str | None
    sculpture: str | None


class SlideAnswer(BaseModel):
    """A finished sculpture in the gallery."""

    id: str
    title: str
    maker: str
    overlay: bool
    before: LookAnswer | None
    after: LookAnswer


def sculpture_answer(one: KeptSculpture) -> SculptureAnswer:
    """The sculpture as it is told."""
    told = {**vars(one), "started": utc(one.started), "finished": one.finished and utc(one.finished)}
    workshop = told.pop("workshop_id")
    return SculptureAnswer(workshop=workshop, **told)


def look_answer(look: Look) -> LookAnswer:
    """The inspection as it is told."""
    return LookAnswer(
        id=look.kept.id,
        created=utc(look.kept.created),
        photo=look.kept.photo_id,
        picture=look.kept.picture[:12],
        width=look.kept.width,
        height=look.kept.height,
        frame=look.frame,
        lights=[LightAnswer(id=one.id, state=one.state) for one in look.lights],
        lit=look.lit,
        level=look.level,
        why=look.why,
        wrong=list(look.wrong),
    )


def criterion_answer(one: Criterion) -> CriterionAnswer:
    """The criterion as it is told."""
    return CriterionAnswer(rule=one.rule.rule, verdict=one.verdict, wish=one.wish, found=one.found)
