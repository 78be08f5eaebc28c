"""How well remedies mend mishaps: `python tests/benchmarks/bench_remedies.py --seeds 0-59 --jobs 2`.

Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging. Every remedy is carried out on the sculpture and
ngspice says what then lights. `--draw DIR` draws every seed that failed: dough, entries, the first remedy.
`--keep DIR` keeps the mishaps, which take long to invent, for the next time.
"""

import argparse
import pickle
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from remedy_drawing import draw
from remedy_judge import Verdict, judge
from rich.console import Console
from rich.table import Table

from api.pipeline import inspect_case
from api.schemas import Case, RemedyOut, Report
from sample_images.studio.mishaps import Mishap, label_png, mishap

FIRST = 3


@dataclass(frozen=True)
class Row:
    """How the first remedies of a seed did; `kinds` empty when there is no such mishap."""

    seed: int
    kinds: tuple[str, ...]
    first_all: bool = False
    first_then: bool = False
    one_of: bool = False
    hazards: tuple[bool, ...] = ()
    none: bool = False
    seconds: float | None = None
    wrong: str = ""


@dataclass(frozen=True)
class Job:
    """A seed, where to draw it and where to keep it."""

    seed: int
    draw: Path | None
    keep: Path | None


def one(job: Job) -> Row:
    """Make a mishap, inspect it, judge its first remedies."""
    try:
        made = kept(job)
    except ValueError as error:
        return Row(job.seed, (), wrong=str(error))
    report = inspect_case(made.case, labels=label_png(made.raster)).report
    verdicts = [judge(made.case, made.raster, remedy, made.now) for remedy in report.remedies[:FIRST]]
    wrong = failure(made, report, verdicts)
    if wrong and job.draw is not None:
        cv2.imwrite(str(job.draw / f"{job.seed:05d}.png"), draw(made, report, wrong))
    if not verdicts:
        return Row(job.seed, made.kinds, none=True, wrong=wrong)
    return Row(
        job.seed,
        made.kinds,
        verdicts[0].lights_all,
        verdicts[0].lights(made.then.lit),
        any(v.lights_all for v in verdicts),
        tuple(bool(v.hazards) for v in verdicts),
        seconds=report.remedies[0].seconds,
        wrong=wrong,
    )


def kept(job: Job) -> Mishap:
    """The mishap of a seed, from disk if it was kept there."""
    path = None if job.keep is None else job.keep / f"{job.seed:05d}.mishap"
    if path is not None and path.exists():
        made = pickle.loads(path.read_bytes())
        assert isinstance(made, Mishap)
        return replace(made, case=renewed(made.case), mended=renewed(made.mended))
    made = mishap(job.seed)
    if path is not None:
        path.write_bytes(pickle.dumps(made))
    return made


def renewed(case: Case) -> Case:
    """The case as today's schema has it, which may have got more fields since it was kept."""
    return Case.model_validate_json(case.model_dump_json(by_alias=True, exclude_unset=True))


def failure(made: Mishap, report: Report, verdicts: Sequence[Verdict]) -> str:
    """Why the first remedy is not good enough, in a line; hazards of the next ones count, too."""
    if not verdicts:
        return f"no remedy; findings {', '.join(f.code for f in report.findings) or 'none'}"
    told = []
    if not verdicts[0].lights_all:
        dark = [led for led in made.now.led_A if led not in verdicts[0].after.lit]
        flow = [f"{led} {verdicts[0].after.led_A.get(led, 0) * 1e3:.2f} mA" for led in dark]
        said = [led for led in dark if report.remedies[0].then[led] == "off"]
        told.append(f"dark: {', '.join(flow)}{'' if said else ' (said to light)'}")
        told.append("another of the first three does" if any(v.lights_all for v in verdicts) else "none does")
    told += [f"#{i} hazard: {'; '.join(v.hazards)}" for i, v in enumerate(verdicts, start=1) if v.hazards]
    return f"{' | '.join(told)} <- {steps_of(report.remedies[0])}" if told else ""


def steps_of(remedy: RemedyOut) -> str:
    """The steps in a few words."""
    return ", ".join(f"{s.action} {' '.join(s.parts)}{f' to {s.to}' if s.to else ''}" for s in remedy.steps)


def table_of(rows: Sequence[Row], title: str) -> Table:
    """One line for each kind of fault, and one for all; a double fault stands in the lines of both."""
    heads = ("first: all light", "all that did", "one of three", "hazards: first", "any", "none", "mean s")
    table = Table(title, "n", *heads)
    for kind in [*sorted({kind for row in rows for kind in row.kinds}), "all"]:
        own = [row for row in rows if kind == "all" or kind in row.kinds]
        seconds = [row.seconds for row in own if row.seconds is not None]
        table.add_row(
            kind, str(len(own)), share(r.first_all for r in own), share(r.first_then for r in own),
            share(r.one_of for r in own), str(sum(r.hazards[:1] == (True,) for r in own)),
            str(sum(any(r.hazards) for r in own)), str(sum(r.none for r in own)),
            f"{np.mean(seconds):.0f}" if seconds else "",
        )  # fmt: skip
    return table


def share(hits: Iterable[bool]) -> str:
    """Per cent of what is true."""
    known = list(hits)
    return f"{100 * np.mean(known):.1f} %" if known else "-"


def main() -> None:
    """Run the seeds that are asked for and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0-59", metavar="A-B")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--draw", type=Path, metavar="DIR")
    parser.add_argument("--keep", type=Path, metavar="DIR")
    asked = parser.parse_args()
    first, _, last = asked.seeds.partition("-")
    for folder in filter(None, (asked.draw, asked.keep)):
        folder.mkdir(parents=True, exist_ok=True)
    jobs = [Job(seed, asked.draw, asked.keep) for seed in range(int(first), int(last or first) + 1)]
    console = Console(width=130)
    if asked.jobs == 1:
        rows = [told(console, one(job)) for job in jobs]
    else:
        with ProcessPoolExecutor(
            asked.jobs, get_context("spawn"), initializer=cv2.setNumThreads, initargs=(1,)
        ) as pool:
            rows = [told(console, row) for row in pool.map(one, jobs)]
    made = [row for row in rows if row.kinds]
    for title, count in (("single faults", 1), ("double faults", 2)):
        console.print(table_of([row for row in made if len(row.kinds) == count], title))
    console.print(table_of(made, "all"))


def told(console: Console, row: Row) -> Row:
    """The row; what is wrong with it is printed at once."""
    if row.wrong:
        kinds = " + ".join(row.kinds) or "left out"
        console.print(f"  {row.seed:5d} {kinds}: {row.wrong}", highlight=False, soft_wrap=True)
    return row


if __name__ == "__main__":
    main()
