"""Checks with bare hands in the public formats: what was answered, and what to check next."""

from collections.abc import Collection
from typing import Annotated, Literal, Self

from pydantic import BaseModel, Field, model_validator

from api.errors import InputError
from api.fields import Id, Spot, Strict
from api.language.speech import N_
from circuit.model import Answer, CheckAction

OF_LEDS = ("turn", "touch-beside-leads", "pull-out", "swap-led")
OF_PACK = ("look-underneath", "swap-pack")
OF_LUMPS = ("pinch-apart", "press-together", "knead")
"""`press-in` is of an LED or of the pack."""
NO_SUCH_PART = {
    "lump": N_("The check {action} names {part}, which is no lump here: name a lump of this sculpture."),
    "pack": N_("The check {action} names {part}, which is no pack here: the part is named pack."),
    "LED": N_("The check {action} names {part}, which is no LED here: name an LED of this sculpture."),
}


class CheckEntry(Strict):
    """A check that was done and what was seen; `parts`: an LED, `pack`, or lumps by their letters."""

    action: CheckAction
    parts: Annotated[tuple[Id, ...], Field(min_length=1, max_length=2)]
    answer: Answer

    @model_validator(mode="after")
    def _fits(self) -> Self:
        # Here and not at the top: most cases have no checks, and the sums take a second to load.
        from circuit.checks import KINDS

        answers = KINDS[self.action].answers
        if self.answer not in answers:
            raise InputError(
                "The check {action} cannot be answered by {answer}: choose one of {names}",
                action=self.action,
                answer=self.answer,
                names=", ".join(answers),
            )
        if len(self.parts) > (2 if self.action in OF_LUMPS[:2] else 1):
            raise InputError(
                "The check {action} is of one part, not of {names}",
                action=self.action,
                names=" and ".join(self.parts),
            )
        return self


def missing_part(
    check: CheckEntry, leds: Collection[str], lumps: Collection[str] | None = None
) -> InputError | None:
    """What is wrong with the parts of a check; None when they are there.

    Without `lumps` nothing is said of lumps: only the photo tells which there are.
    """
    here: Collection[str] | None
    if check.action in OF_LUMPS:
        here, what = lumps, "lump"
    elif check.action in OF_PACK:
        here, what = ("pack",), "pack"
    else:
        here, what = (*leds, *(("pack",) if check.action == "press-in" else ())), "LED"
    gone = [part for part in check.parts if here is not None and part not in here]
    if not gone:
        return None
    return InputError(NO_SUCH_PART[what], action=check.action, part=gone[0])


class SuspectOut(BaseModel):
    """A possible cause that the photo cannot show; `parts` are an LED, the pack, or letters of lumps."""

    cause: str
    probability: float
    parts: list[str] = []
    at: Spot | None = None
    says: str = ""


class AnswerOut(BaseModel):
    """What may be seen when a check is done, and its words on a plate."""

    answer: str
    says: str


class NextCheckOut(BaseModel):
    """What to check with bare hands when the photo cannot tell.

    `to_at`: for `touch-beside-leads`, where the long and the short leg go; `ask`: a question instead of `do`.
    """

    action: str
    parts: list[str]
    at: Spot | None = None
    to_at: list[Spot] = []
    seconds: float | None = None
    why: str
    ask: str = ""
    do: str = ""
    answers: list[AnswerOut] = []


class CheckedOut(BaseModel):
    """A check that was done, and what was seen."""

    action: str
    parts: list[str]
    answer: str
    says: str


class NamedOut(BaseModel):
    """What it is, as far as can be known, and what to do about it; `mended`: a check has done it already."""

    cause: str
    parts: list[str]
    at: Spot
    mended: bool
    says: str
    do: str


EnquiryState = Literal["asking", "named", "cannot-tell"]
