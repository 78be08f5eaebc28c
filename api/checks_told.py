"""Checks on the command line: `turn L2=same` into a case, and how the enquiry stands in lines of text."""

from collections.abc import Iterator, Sequence

from pydantic import ValidationError

from api.check_schemas import NextCheckOut
from api.errors import InputError, sentence
from api.language.speech import _
from api.schemas import Case, Report

MOST_SUSPECTS = 5
TENTHS = 10


def with_checks(case: Case, told: Sequence[str]) -> Case:
    """The case with checks added, each as `ACTION PART=ANSWER`: 'turn L2=same', 'pinch-apart A B=lights'.

    Raises InputError for what cannot be read so, or does not fit the case.
    """
    if not told:
        return case
    checks = [check.model_dump() for check in case.checks] + [_read(one) for one in told]
    try:
        return Case.model_validate({**case.model_dump(by_alias=True, exclude_unset=True), "checks": checks})
    except ValidationError as error:
        raise InputError(sentence(error)) from error


def _read(told: str) -> dict[str, object]:
    what, equals, answer = told.partition("=")
    action, *parts = what.split() or [""]
    if not equals or not parts:
        raise InputError(
            "The check {told!r} cannot be read: write it like --check 'turn L2=same'.",
            told=told,
        )
    return {"action": action, "parts": parts, "answer": answer.strip()}


def enquiry_lines(report: Report) -> Iterator[str]:
    """What was checked, what it may be, and what to check next with the words that answer it."""
    for told in report.checked:
        yield _("Checked: {what}.", what=told.says)
    for one in report.named:
        yield f"{one.says} {one.do}"
    if report.enquiry_says and not report.named:
        yield report.enquiry_says
    if report.enquiry == "cannot-tell" and not report.worked:
        yield from (
            _("Alike: {names}.", names=_(", ").join(names)) for names in report.alike if len(names) > 1
        )
    if report.enquiry != "named" and not report.worked:
        for suspect in report.suspects[:MOST_SUSPECTS]:
            n = round(suspect.probability * TENTHS)
            if n:
                yield f"  {'*' * n}{'.' * (TENTHS - n)} {suspect.says}"
    if report.next_check is not None:
        check = report.next_check
        yield _("Check next: {why} {do} About {n:.0f} s.", why=check.why, do=check.do, n=check.seconds or 0)
        yield from (f"  {one.says}: --check '{_named(check)}={one.answer}'" for one in check.answers)
    for other in report.other_checks:
        answers = ", ".join(one.answer for one in other.answers)
        yield _("Or check: {do}", do=other.do) + f"  [--check '{_named(other)}=ANSWER': {answers}]"


def _named(check: NextCheckOut) -> str:
    return " ".join([check.action, *check.parts])
