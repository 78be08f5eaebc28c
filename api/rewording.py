"""A report in the words for another age or language: nothing is seen or solved again, only said anew."""

from api.pipeline import answer_checks
from api.reporting import with_findings
from api.schemas import Case, FindingOut, Report, SaidOut
from api.wording.sentences import Age
from api.words import AGES, cautions
from circuit.model import Inspection, Sculpture
from vision.model import TableView


def reworded(case: Case, report: Report, found: Inspection, sculpture: Sculpture, view: TableView) -> Report:
    """The report in the words for the age of `case`; `found` is what the sums found for it.

    What changed since the first photo keeps its words: what it was said from is not in the report.
    """
    seen = [said_to(one, case.age) for one in report.findings[len(found.findings) :]]
    told = with_findings(
        report.model_copy(update={"findings": seen}), found, view, parts=case.parts, age=case.age
    )
    kind = case.pack.kind if case.pack else None
    told = told.model_copy(update={"contacts": report.contacts, "cautions": list(cautions(kind))})
    return answer_checks(case, told, sculpture, view) if case.checks else told


def said_to(finding: FindingOut, age: Age) -> FindingOut:
    """A finding that speaks to `age`; the words it had stand among those for the other ages."""
    words = finding.ages.get(age)
    if words is None:
        return finding
    before = next(one for one in AGES if one not in finding.ages)
    now = SaidOut(why=finding.why, ask=finding.ask, look=finding.look, do=finding.do)
    others = {other: said for other, said in {**finding.ages, before: now}.items() if other != age}
    return finding.model_copy(update={**words.model_dump(), "ages": others})
