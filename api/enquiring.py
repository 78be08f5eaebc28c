"""The search for what the photo cannot show, as a part of the report."""

from collections.abc import Sequence

from api import check_words as words
from api.check_schemas import AnswerOut, CheckedOut, NamedOut, NextCheckOut, SuspectOut
from api.fields import Spot
from api.schemas import Report
from api.wording.sentences import Age
from circuit.checks import KINDS
from circuit.model import Answered, Cause, Check, Enquiry, Suspect
from vision.model import TableView

LEAST_PROBABILITY = 0.001
MENDED = ("all", "lights", "across")


def with_enquiry(report: Report, enquiry: Enquiry | None, view: TableView, age: Age = "9-12") -> Report:
    """The report with suspects, checks and what they have told; the rest stays as it was."""
    found = enquiry or Enquiry((), None)
    worked = _worked(found.answered)
    # Every light is on: whatever it was, there is nothing more to look for.
    check, others = (None, ()) if worked else (found.next_check, found.others)
    said = words.untold_words(age) if found.untold else None
    if found.state == "cannot-tell":
        said = words.cannot_tell_words(age)
    return report.model_copy(
        update={
            "suspects": [
                _suspect(s, view, age) for s in found.suspects if s.probability >= LEAST_PROBABILITY
            ],
            "next_check": None if check is None else _check(check, view, age),
            "other_checks": [_check(other, view, age) for other in others],
            "checked": [_checked(told, age) for told in found.answered],
            "enquiry": None if enquiry is None else found.state,
            "enquiry_says": words.worked_words(age) if worked else said,
            "worked": worked,
            "named": [_named(cause, found.answered, view, age) for cause in found.named],
            "alike": [_alike(causes, age) for causes in found.alike],
        }
    )


def _suspect(suspect: Suspect, view: TableView, age: Age) -> SuspectOut:
    cause = suspect.cause
    return SuspectOut(
        cause=cause.code,
        probability=round(float(suspect.probability), 3),
        parts=list(cause.parts),
        at=_px(view, cause.at),
        says=words.cause_words(cause, age),
    )


def _check(check: Check, view: TableView, age: Age) -> NextCheckOut:
    said = words.check_words(check.action, check.parts, age)
    return NextCheckOut(
        action=check.action,
        parts=list(check.parts),
        at=_px(view, check.at),
        to_at=[_px(view, at) for at in check.to_at],
        seconds=round(check.seconds),
        why=said.why,
        ask=said.ask,
        do=said.do,
        answers=[
            AnswerOut(answer=answer, says=words.answer_words(check.action, answer, age))
            for answer in check.answers
        ],
    )


def _checked(told: Answered, age: Age) -> CheckedOut:
    return CheckedOut(
        action=told.action, parts=list(told.parts), answer=told.answer, says=words.done_words(told, age)
    )


def _worked(answered: Sequence[Answered]) -> bool:
    """Whether every light was on after the last check."""
    return bool(answered) and answered[-1].answer == "all"


def _named(cause: Cause, answered: Sequence[Answered], view: TableView, age: Age) -> NamedOut:
    mended = any(told.answer in MENDED and _mends(told, cause) for told in answered)
    says, do = words.named_words(cause, mended, age, _worked(answered))
    return NamedOut(
        cause=cause.code, parts=list(cause.parts), at=_px(view, cause.at), mended=mended, says=says, do=do
    )


def _mends(told: Answered, cause: Cause) -> bool:
    """A look underneath is one of all places at once."""
    return cause.code in KINDS[told.action].mends and (
        told.action == "look-underneath" or cause.parts == told.parts
    )


def _alike(causes: Sequence[Cause], age: Age) -> list[str]:
    """Their names; two that an age cannot tell apart by name are one."""
    return list(dict.fromkeys(words.cause_words(cause, age) for cause in causes))


def _px(view: TableView, at: tuple[float, float]) -> Spot:
    x, y = view.to_px(at)
    return round(float(x), 1), round(float(y), 1)
