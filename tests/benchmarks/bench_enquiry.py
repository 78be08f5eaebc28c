"""How well hidden faults are found: `python tests/benchmarks/bench_enquiry.py --seeds 0-199`.

Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging; ten seeds share a sculpture. ngspice says what
lights, a simulated helper answers, wrongly in 3 % and `unsure` in 5 %. `--failures` lists what went wrong.
"""

import argparse
import pickle
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from circuit import inspection
from circuit.enquiry import enquire
from circuit.model import Answered, Enquiry
from circuit.readings import as_it_looks
from circuit.worlds import Worlds
from sample_images.studio.dialogues import TELL_S, UNSURE, Dialogue, Names, asked, in_order
from sample_images.studio.hidden import Puzzle, puzzle, told_when_asked

Row = tuple[Puzzle, Dialogue, Dialogue]


class Asking:
    """An enquiry about one sculpture; what was solved for one question is known for the next."""

    def __init__(self, made: Puzzle) -> None:
        self.made = made
        self.worlds: Worlds | None = None

    def first(self, always: bool) -> tuple[Enquiry | None, Names]:
        """The first question through the front door, and the contacts that were read the other way.

        `always`: asked even where the door is shut, because the photo is thought to explain what is seen.
        """
        inspection.enquire = self._noted
        try:
            found = inspection.inspect(self.made.sculpture)
        finally:
            inspection.enquire = enquire
        if found.enquiry is None and always:
            self.worlds = as_it_looks(self.made.sculpture).worlds
            found = replace(found, enquiry=self(()))
        joints = [self.made.sculpture.joints[i] for i in found.other_way]
        return found.enquiry, frozenset(
            ("contact-open",) if joint.likely_touching else ("contact-closed",) for joint in joints
        )

    def __call__(self, answered: Sequence[Answered]) -> Enquiry | None:
        return None if self.worlds is None else enquire(self.worlds, tuple(answered))

    def _noted(self, worlds: Worlds, answered: Sequence[Answered]) -> Enquiry:
        self.worlds = worlds
        return enquire(worlds, answered)


def one(made: Puzzle, always: bool = False, mute: bool = False) -> Row:
    """The dialogue about a puzzle, and the fixed order.

    Where the enquiry wants to know first how the lights look, the helper says so, unless `mute`.
    """
    asking = Asking(made)
    first, read_so = asking.first(always)
    looked = first is not None and first.untold and not mute
    if looked:
        made = told_when_asked(made, UNSURE)
        asking = Asking(made)
        first, read_so = asking.first(always)
    went = asked(made, lambda done: asking(done) if done else first, read_so)
    if looked:
        went = replace(went, looked=True, seconds=went.seconds + TELL_S)
    return made, went, in_order(made)


def table_of(rows: Sequence[Row]) -> Table:
    """One line for each kind of fault."""
    table = Table(
        "fault", "n", "right", "checks", "fixed order", "ratio", "s", "fixed s", "ratio", "not named"
    )
    groups: dict[str, list[Row]] = {}
    for row in rows:
        for key in (row[0].kind, "all", f"told: {row[0].told}"):
            groups.setdefault(key, []).append(row)
    for key in sorted(groups, key=lambda k: (k == "all", k.startswith("told"), k)):
        own = groups[key]
        n = [float(np.mean([d.count for d in side])) for side in zip(*[r[1:] for r in own], strict=True)]
        s = [float(np.mean([d.seconds for d in side])) for side in zip(*[r[1:] for r in own], strict=True)]
        right = float(np.mean([row[1].right for row in own]))
        cells = [f"{100 * right:.1f} %", f"{n[0]:.2f}", f"{n[1]:.2f}", f"{n[0] / n[1]:.2f}"]
        cells += [f"{s[0]:.0f}", f"{s[1]:.0f}", f"{s[0] / s[1]:.2f}"]
        table.add_row(key, str(len(own)), *cells, str(sum(row[1].state != "named" for row in own)))
    return table


def failure(row: Row) -> str:
    """What went wrong, in one line."""
    made, dialogue, _ = row
    faults = "; ".join(
        f"{f.code} {' '.join(f.parts)}" + (f" {f.ohm:.0f} ohm" if f.ohm else "")
        + (f" share {f.share:.2f}" if f.share < 1 else "")
        for f in made.faults
    )  # fmt: skip
    way = ", ".join(f"{a.action} {' '.join(a.parts)}: {a.answer}" for a in dialogue.checks)
    seen = " ".join(str(led.seen) for led in made.sculpture.leds)
    named = "; ".join(" ".join(n) for n in sorted(dialogue.named))
    return (
        f"{made.seed} TRUE [{faults}] seen {seen} ({made.told}) -> {dialogue.state} [{named}] "
        f"slips {dialogue.slips} | {way} | {dialogue.suspects}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0-99")
    parser.add_argument("--failures", action="store_true")
    parser.add_argument("--always", action="store_true", help="ask even where the photo seems to explain it")
    parser.add_argument("--mute", action="store_true", help="the helper never says how the lights look")
    parser.add_argument("--keep", type=Path, help="folder where puzzles are kept for the next time")
    told = parser.parse_args()
    low, high = (int(part) for part in told.seeds.split("-"))
    rows: list[Row] = []
    started, spent = time.perf_counter(), 0.0
    for seed in range(low, high + 1):
        made = kept(seed, told.keep)
        if made is None:
            continue
        before = time.perf_counter()
        rows.append(one(made, told.always, told.mute))
        spent += time.perf_counter() - before
        if told.failures and not rows[-1][1].right:
            print(failure(rows[-1]), flush=True)
    console = Console(width=140)
    console.print(table_of(rows))
    console.print(
        f"{len(rows)} dialogues, {spent / len(rows):.1f} s each; in all {time.perf_counter() - started:.0f} s"
    )


def kept(seed: int, folder: Path | None) -> Puzzle | None:
    """The puzzle of a seed, from the folder if it was made before."""
    if folder is None:
        return puzzle(seed)
    path = folder / f"{seed}.pickle"
    if not path.exists():
        path.write_bytes(pickle.dumps(puzzle(seed)))
    made: Puzzle | None = pickle.loads(path.read_bytes())
    return made


if __name__ == "__main__":
    main()
