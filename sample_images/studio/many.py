"""Any number of invented scenes with truth: `python -m sample_images.studio.many --seeds 0-59 --out DIR`.

Each seed gives one scene, always the same; its fault goes round `invent.FAULTS`. Seeds 0 to 9999 are
for choosing settings, 10000 to 19999 for judging; from 1,000,000 on they are lessons. What chooses or
judges is never taught. `--traced` photographs the same inventions with Mitsuba 3 (group `studio`).
"""

import argparse
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

from sample_images.studio.colours import Colour
from sample_images.studio.invent import FAULTS, invent
from sample_images.studio.invention import Invention, entries_of
from sample_images.studio.physics import state
from sample_images.studio.quick import photograph, table_colour
from sample_images.studio.raster import CELL_MM, HALF_X_MM, HALF_Y_MM, Rng
from sample_images.studio.scene_files import Shot, currents_A, shown, write_scene

LEAST_MEGAPIXELS, MOST_MEGAPIXELS = 2.0, 12.0
TRIES = 6


def quick_shot(rng: Rng, made: Invention, table: Colour, take: int, mm_per_px: float | None) -> Shot:
    """A quick photo with table round the sculpture, which fills 30 to 60 % of its width."""
    wide = span_mm(made) / rng.uniform(0.3, 0.6)
    frame = (wide, 0.75 * wide)
    megapixels = float(np.exp(rng.uniform(np.log(LEAST_MEGAPIXELS), np.log(MOST_MEGAPIXELS))))
    scale = mm_per_px or float(np.sqrt(frame[0] * frame[1] / megapixels / 1e6))
    relief = float(rng.uniform(0, 0.6)) if rng.random() < 0.2 else 1.0
    room = 1.08 * float(np.hypot(*frame)) + 30  # any turn of the photo shows table to its corners
    view = photograph(made, table, scale, take, frame, relief, (room, room))
    return Shot(view.photo, view.labels, view.things > 0, view.px_of)


def span_mm(made: Invention) -> float:
    """The longer side in mm of the box round all dough and entries."""
    ys, xs = np.nonzero(made.labels)
    x, y = np.array(list(entries_of(made).values())).T
    x = np.concatenate([x, [xs.min() * CELL_MM - HALF_X_MM, xs.max() * CELL_MM - HALF_X_MM]])
    y = np.concatenate([y, [ys.min() * CELL_MM - HALF_Y_MM, ys.max() * CELL_MM - HALF_Y_MM]])
    return max(float(np.ptp(x)), float(np.ptp(y)), 40.0)


def lit(made: Invention, flows: dict[str, float]) -> Invention:
    """The invention with its LEDs burning as the sums say."""
    lamps = tuple(replace(m, lit=state(flows[f"L{i}"])) for i, m in enumerate(made.lamps, start=1))
    return replace(made, lamps=lamps)


def make_scene(
    seed: int, folder: Path, traced: bool = False, mm_per_px: float | None = None, fault: str | None = None
) -> str:
    """Write the scene of a seed; its name. Another sculpture, or a second look, where truth does not show."""
    name = f"{'traced' if traced else 'quick'}-{seed:04d}"
    fault = fault or FAULTS[seed % len(FAULTS)]
    for attempt in range(TRIES):
        rng = np.random.default_rng([seed, 9, attempt])
        table = table_colour(rng)
        made = invent(seed, fault, table, skip=attempt // 2)
        flows = currents_A(made)
        made = lit(made, flows)
        if traced:
            from sample_images.studio.traced import traced_shot  # Mitsuba is not always there

            shot = traced_shot(rng, made, table, span_mm(made))
        else:
            shot = quick_shot(rng, made, table, attempt, mm_per_px)
        if shown(made, shot):
            write_scene(folder, name, made, shot, flows, rng)
            return name
    raise ValueError(f"seed {seed}: no photo shows its truth")


def _one(job: tuple[int, Path, bool, float | None, str | None]) -> str:
    start = time.monotonic()
    try:
        name = make_scene(*job)
    except ValueError as error:
        return f"left out: {error}"
    return f"{name}: {time.monotonic() - start:.1f} s"


def _one_thread() -> None:
    cv2.setNumThreads(1)


def _seeds(text: str) -> list[int]:
    first, _, last = text.partition("-")
    return list(range(int(first), int(last or first) + 1))


def main(arguments: Sequence[str]) -> None:
    """Make the scenes that are asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=_seeds, default="0-59", metavar="A-B")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--traced", action="store_true", help="trace the light with Mitsuba 3")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--mm-per-px", type=float, help="by default such that photos have 2 to 12 megapixels")
    parser.add_argument("--fault", choices=FAULTS, help="by default each in turn")
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    jobs = [(seed, asked.out, asked.traced, asked.mm_per_px, asked.fault) for seed in asked.seeds]
    if asked.jobs == 1:
        for job in jobs:
            print(_one(job), flush=True)
        return
    with ProcessPoolExecutor(asked.jobs, get_context("spawn"), initializer=_one_thread) as pool:
        for told in pool.map(_one, jobs):
            print(told, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
