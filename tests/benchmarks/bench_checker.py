"""How well the checker finds known faults: `python tests/benchmarks/bench_checker.py --seeds 0-119`.

Seeds 0 to 9999 are for choosing, 10000 to 19999 for judging. `--photos` goes through quick photos and the
network, without it the label rasters are handed over. `--draw DIR` draws every seed that failed: dough,
openings (red), found cuts (blue).
"""

import argparse
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from checker_drawing import draw
from checker_scores import Score, Verdict, judge
from rich.console import Console
from rich.table import Table

from api.pipeline import inspect_case
from sample_images.studio.fault_photos import photographed
from sample_images.studio.faults import known
from sample_images.studio.hand_over import case_of, from_px, label_png
from sample_images.studio.rows import GOOD

Row = tuple[int, str, Verdict | None, str]


def one(job: tuple[int, bool, Path | None]) -> Row:
    """Seed, scenario, verdict (None when there is no such sculpture), and what went wrong."""
    seed, photos, folder = job
    try:
        if photos:
            made, case, picture, to_mm = photographed(seed)
            report = inspect_case(case, picture).report
        else:
            made, to_mm = known(seed), from_px
            report = inspect_case(case_of(made), labels=label_png(made.made.labels)).report
    except ValueError as error:
        return seed, "left out", None, str(error)
    verdict = judge(made, report, to_mm)
    wrong = failures(verdict)
    if wrong and folder is not None:
        cv2.imwrite(str(folder / f"{seed:05d}.png"), draw(made, report, to_mm, wrong))
    return seed, made.scenario, verdict, wrong


def failures(verdict: Verdict) -> str:
    """What a verdict holds against a report, in a few words."""
    out = []
    for s in verdict.scores:
        if not s.found:
            out.append(f"{s.name} not found")
        elif not s.near:
            out.append(f"{s.name} cut {s.off_mm:.1f} mm off")
        else:
            missed = [what for what in ("kind", "level", "parts") if not getattr(s, what)]
            out += [f"{s.name} {' and '.join(missed)} wrong"] if missed else []
    return "; ".join([*out, *(f"too much: {code}" for code in verdict.surplus)])


def table_of(rows: Sequence[Row], by: str) -> Table:
    """One line for each kind of fault, or for each scenario."""
    table = Table(by, "faults", "found", "cut < 3 mm", "median mm", "worst mm", "kind", "level", "parts")
    groups: dict[str, list[Score]] = {}
    for _, scenario, verdict, _ in rows:
        for score in verdict.scores if verdict else ():
            for key in (score.name if by == "fault" else scenario, "all shorts"):
                if key != "all shorts" or (score.name.startswith("short-") and score.name != "short-wire"):
                    groups.setdefault(key, []).append(score)
    for key in sorted(groups, key=lambda k: (k == "all shorts", k)):
        told = groups[key]
        hit = [s for s in told if s.found]
        off = [s.off_mm for s in hit if s.off_mm is not None]
        table.add_row(
            key, str(len(told)), share(s.found for s in told), share(s.near for s in told),
            f"{np.median(off):.1f}" if off else "", f"{max(off):.1f}" if off else "",
            share(s.kind for s in hit), share(s.level for s in hit), share(s.parts for s in hit),
        )  # fmt: skip
    return table


def share(hits: Iterable[bool]) -> str:
    """Per cent of what is true."""
    known_hits = list(hits)
    return f"{100 * np.mean(known_hits):.1f} %" if known_hits else "-"


def summary(rows: Sequence[Row]) -> str:
    """What is said too much, and whether the first remedy helps."""
    good = [v for _, scenario, v, _ in rows if v and scenario in GOOD]
    bad = [v for _, scenario, v, _ in rows if v and scenario not in GOOD]
    lit = [v.lights for v in bad if v.lights is not None]
    seen = [v.surplus != () for v in good if v.seen]
    return (
        f"lumps seen as they are: {share(v.seen for v in (*good, *bad))}\n"
        f"good sculptures: {len(good)}, false stop or fix on {share(bool(v.surplus) for v in good)}"
        f", of the {len(seen)} seen as they are on {share(seen)}\n"
        f"others: {len(bad)}, something too much on {share(bool(v.surplus) for v in bad)}\n"
        f"first remedy lights as it should: {share(lit)} of {len(lit)}; none for {len(bad) - len(lit)}"
    )


def main() -> None:
    """Run the seeds that are asked for and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0-119", metavar="A-B")
    parser.add_argument("--photos", action="store_true")
    parser.add_argument("--draw", type=Path, metavar="DIR")
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    first, _, last = asked.seeds.partition("-")
    if asked.draw:
        asked.draw.mkdir(parents=True, exist_ok=True)
    jobs = [(seed, asked.photos, asked.draw) for seed in range(int(first), int(last or first) + 1)]
    if asked.jobs == 1:
        rows = [one(job) for job in jobs]
    else:
        with ProcessPoolExecutor(
            asked.jobs, get_context("spawn"), initializer=cv2.setNumThreads, initargs=(1,)
        ) as pool:
            rows = list(pool.map(one, jobs))
    console = Console(width=130)
    for by in ("fault", "scenario"):
        console.print(table_of(rows, by))
    if asked.photos:
        console.print("of these, only photos whose lumps were seen as they are:")
        console.print(table_of([row for row in rows if row[2] and row[2].seen], "fault"))
    console.print(summary(rows))
    for seed, scenario, _, wrong in rows:
        if wrong:
            console.print(f"  {seed:5d} {scenario}: {wrong}", highlight=False)


if __name__ == "__main__":
    main()
