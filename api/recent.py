"""The sculptures that were looked at last, so that checks, what-ifs, flow and other words need no photo."""

import zlib
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from threading import Lock

import numpy as np

from api.again import inspect_again
from api.errors import InputError
from api.gone import Gone
from api.pipeline import Result, answer_checks, inspect_case
from api.reporting import with_flow
from api.rewording import reworded, said_to
from api.schemas import Case, FlowLineOut, Report
from api.trying import tried
from api.what_if_schemas import ChangeEntry, WhatIfOut
from circuit.flow import flow_of
from circuit.model import Inspection, Sculpture
from circuit.readings import read
from circuit.what_if import Trials
from vision.model import TableView

MOST = 60
"""Two for each of thirty benches. Some 50 kB each: the grid of 2 to 6 MB is kept packed."""
FAST = 1
"""Least effort of zlib: a grid is packed in some 10 ms, to about a hundredth."""
MOST_WHOLE = 2
"""So many are remembered with all that was seen, for a second photo of them: some 20 MB each."""
MOST_TRIALS = 4
"""What-ifs of so many sculptures are remembered at once."""


MOST_FLOWS = 8
"""Flows of so many sculptures are remembered at once, some 100 kB each."""
NO_PACK = "The case has no pack: tap where the red and the black lead go in."


@dataclass(frozen=True)
class _Seen:
    """A sculpture, how it lies on the photo, and what the sums found."""

    sculpture: Sculpture
    view: TableView
    found: Inspection


@dataclass(frozen=True)
class _Packed:
    """The same in little room: grid and heights apart, packed."""

    seen: _Seen
    grid: bytes
    height_mm: bytes | None

    @classmethod
    def of(cls, seen: _Seen) -> "_Packed":
        """Pack it."""
        one = seen.sculpture
        bare = replace(one, grid=np.empty((0, one.grid.shape[1]), np.int32), height_mm=None)
        height = None if one.height_mm is None else zlib.compress(one.height_mm.tobytes(), FAST)
        return cls(replace(seen, sculpture=bare), zlib.compress(one.grid.tobytes(), FAST), height)

    def unpacked(self) -> _Seen:
        """As it was."""
        bare = self.seen.sculpture
        columns = bare.grid.shape[1]
        grid = np.frombuffer(zlib.decompress(self.grid), np.int32).reshape(-1, columns)
        height = None
        if self.height_mm is not None:
            height = np.frombuffer(zlib.decompress(self.height_mm), np.float32).reshape(-1, columns)
        return replace(self.seen, sculpture=replace(bare, grid=grid, height_mm=height))


@dataclass(frozen=True)
class RecentSculptures:
    """Inspects cases and remembers the last 60 sculptures, by their case without its checks and its age."""

    _seen: OrderedDict[str, _Packed] = field(default_factory=OrderedDict)
    _whole: OrderedDict[str, Result] = field(default_factory=OrderedDict)
    _trials: OrderedDict[str, Trials] = field(default_factory=OrderedDict)
    _flows: OrderedDict[str, list[FlowLineOut]] = field(default_factory=OrderedDict)
    _lock: Lock = field(default_factory=Lock)
    _gone: Gone = field(default_factory=Gone)

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
        self._remember(case, result)
        return result

    def again(
        self, case: Case, photo: bytes, new: bytes, *, name: str, on_stage: Callable[[str], None]
    ) -> Result:
        """The same as `inspect_again`, remembered; the first photo is seen again only if need be."""
        with self._lock:
            before = self._whole.get(_key(case))
        if before is not None:
            before = replace(before, case=before.case.model_copy(update={"age": case.age}))
        found = inspect_again(case, photo, new, name=name, on_stage=on_stage, before=before)
        self._remember(found.case, found)
        return found

    def answer(
        self, case: Case, report: Report, photo: Callable[[], bytes], below: bytes | None = None
    ) -> Report:
        """The report with what the checks of `case` leave over; the photo is seen again only if need be."""
        seen = self._recall(case)
        if seen is None:
            return self.inspect(case, photo(), on_stage=lambda _: None, below=below).report
        return answer_checks(case, report, seen.sculpture, seen.view)

    def what_if(
        self,
        case: Case,
        report: Report,
        changes: Sequence[ChangeEntry],
        photo: Callable[[], bytes],
        turn: AbstractContextManager[object],
        below: bytes | None = None,
    ) -> WhatIfOut:
        """What comes of these changes; the photo is seen again, when it is our turn, only if need be."""
        seen = self._seen_of(case, photo, turn, below)
        return tried(case, report.photo, self._trials_of(case, seen), seen.view, changes)

    def reword(
        self,
        case: Case,
        report: Report,
        photo: Callable[[], bytes],
        turn: AbstractContextManager[object],
        below: bytes | None = None,
    ) -> Report:
        """The report in the words for the age of `case`."""
        if case.pack is None:
            said = [said_to(one, case.age) for one in report.findings]
            return report.model_copy(update={"findings": said})
        seen = self._seen_of(case, photo, turn, below)
        return reworded(case, report, seen.found, seen.sculpture, seen.view)

    def flow(
        self,
        case: Case,
        report: Report,
        photo: Callable[[], bytes],
        turn: AbstractContextManager[object],
        below: bytes | None = None,
    ) -> Report:
        """The report with the lines along which current goes."""
        with self._lock:
            lines = self._flows.get(_key(case))
        if lines is None:
            seen = self._seen_of(case, photo, turn, below)
            lines = with_flow(report, flow_of(read(seen.sculpture).sculpture).lines, seen.view).flow
            with self._lock:
                if not self._gone.is_in(_key(case)):
                    self._flows[_key(case)] = lines
                while len(self._flows) > MOST_FLOWS:
                    self._flows.popitem(last=False)
        return report.model_copy(update={"flow": lines})

    def forget(self, photo_id: str) -> None:
        """Keep nothing of this photo: it was deleted, or something on it was covered."""
        self._gone.add([photo_id])
        with self._lock:
            for known in (self._seen, self._whole, self._trials, self._flows):
                for key in [one for one in known if photo_id in one]:
                    del known[key]

    def _seen_of(
        self,
        case: Case,
        photo: Callable[[], bytes],
        turn: AbstractContextManager[object],
        below: bytes | None,
    ) -> _Seen:
        """What is remembered of a case; the photo is seen again, when it is our turn, only if need be."""
        seen = self._recall(case)
        if seen is None:
            with turn:
                seen = _seen_in(self.inspect(case, photo(), on_stage=lambda _: None, below=below))
        if seen is None:
            raise InputError(NO_PACK)
        return seen

    def _trials_of(self, case: Case, seen: _Seen) -> Trials:
        """The what-ifs of this sculpture, read as the report reads it."""
        with self._lock:
            trials = self._trials.get(_key(case))
        trials = trials or Trials(read(seen.sculpture).sculpture)
        with self._lock:
            if self._gone.is_in(_key(case)):
                return trials
            self._trials[_key(case)] = trials
            self._trials.move_to_end(_key(case))
            while len(self._trials) > MOST_TRIALS:
                self._trials.popitem(last=False)
        return trials

    def _remember(self, case: Case, result: Result) -> None:
        seen = _seen_in(result)
        if seen is None:
            return
        packed = _Packed.of(seen)
        with self._lock:
            if self._gone.is_in(_key(case)):
                return
            if case.underside is None:  # no second photo is compared with what was seen from below
                self._whole[_key(case)] = replace(result, pixels=np.empty((0, 0, 3), np.uint8))
                self._whole.move_to_end(_key(case))
                while len(self._whole) > MOST_WHOLE:
                    self._whole.popitem(last=False)
            self._seen[_key(case)] = packed
            self._seen.move_to_end(_key(case))
            while len(self._seen) > MOST:
                self._seen.popitem(last=False)

    def _recall(self, case: Case) -> _Seen | None:
        with self._lock:
            seen = self._seen.get(_key(case))
            if seen is not None:
                self._seen.move_to_end(_key(case))
        return None if seen is None else seen.unpacked()


def _seen_in(result: Result) -> _Seen | None:
    if result.sculpture is None or result.found is None:
        return None
    return _Seen(result.sculpture, result.scene.view, result.found)


def _key(case: Case) -> str:
    same = case.model_copy(update={"checks": (), "age": "9-12"})
    return same.model_dump_json(exclude_unset=True)
