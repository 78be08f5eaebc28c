"""The sculptures that were looked at last, so that an answer to a check need not see the photo again."""

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock

from api.pipeline import Result, answer_checks, inspect_case
from api.schemas import Case, Report
from circuit.model import Sculpture
from vision.model import TableView

MOST = 20
"""About 2 to 6 MB each, nearly all of it the grid."""


@dataclass(frozen=True)
class _Seen:
    sculpture: Sculpture
    view: TableView


@dataclass(frozen=True)
class RecentSculptures:
    """Inspects cases and remembers the last 20 sculptures, by their case without its checks."""

    _seen: OrderedDict[str, _Seen] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)

    def inspect(
        self,
        case: Case,
        photo: bytes | None = None,
        *,
        on_stage: Callable[[str], None],
        below: bytes | None = None,
    ) -> Result:
        """The same as `inspect_case`, remembered."""
        result = inspect_case(case, photo, on_stage=on_stage, below=below)
        if result.sculpture is not None:
            self._remember(case, _Seen(result.sculpture, result.scene.view))
        return result

    def answer(
        self, case: Case, report: Report, photo: Callable[[], bytes], below: bytes | None = None
    ) -> Report:
        """The report with what the checks of `case` leave over; the photo is seen again only if need be."""
        seen = self._recall(case)
        if seen is None:
            return self.inspect(case, photo(), on_stage=lambda _: None, below=below).report
        return answer_checks(case, report, seen.sculpture, seen.view)

    def _remember(self, case: Case, seen: _Seen) -> None:
        with self._lock:
            self._seen[_key(case)] = seen
            self._seen.move_to_end(_key(case))
            while len(self._seen) > MOST:
                self._seen.popitem(last=False)

    def _recall(self, case: Case) -> _Seen | None:
        with self._lock:
            seen = self._seen.get(_key(case))
            if seen is not None:
                self._seen.move_to_end(_key(case))
            return seen


def _key(case: Case) -> str:
    return case.model_copy(update={"checks": ()}).model_dump_json(exclude_unset=True)
