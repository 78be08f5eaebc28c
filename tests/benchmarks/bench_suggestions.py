"""How many LEDs and leads are suggested rightly, before any mark was tapped and after.

python tests/benchmarks/bench_suggestions.py [--seeds FIRST-LAST] [FOLDER]

Quick photos of these seeds are made anew; FOLDER holds photos with truth (as the shared ones). What was
marked is suggested all the same here, so that both columns count the same LEDs.
"""

import argparse
import json
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path

import cv2
import numpy as np
from rich.console import Console
from rich.table import Table
from scenes_with_truth import SHARED, scenes_in

from sample_images.studio.invent import invent
from sample_images.studio.quick import View, photograph, table_colour
from vision.eyes import look
from vision.model import Colour, LedSeen, Mark, Photo, Point, Suggestions, TableView
from vision.photo import open_photo
from vision.seen import Seen
from vision.suggest import suggestions_of
from vision.table_view import view_from_mm_per_px

LED, METAL = 1, 2
FOOT_MM, LEAD_MM, BODY_MM = 2.0, 3.0, 2.0
"""How near counts as right; a body's middle may lie so far outside of the true body."""
ROWS = (
    ("LEDs found", "found", "leds"),
    ("suggested LEDs that are none", "false", "suggested"),
    ("size right", "size", "found"),
    ("colour told", "told", "found"),
    ("told colour right", "colour", "told"),
    ("bright, dim or off right", "lit", "found"),
    ("lit or not right", "on", "found"),
    ("bright taken for off, or off for bright", "far", "found"),
    ("feet within 2 mm", "feet", "both"),
    ("lead within 3 mm", "lead", "leads"),
    ("suggested leads farther off", "astray", "hints"),
    ("suggested leads, 0.5 and surer, farther off", "sure_astray", "sure"),
)


@dataclass(frozen=True)
class Led:
    """The truth of an LED: ends of its body and its feet [px]."""

    body: tuple[Point, Point]
    feet: tuple[Point, Point]
    radius_mm: float
    colour: str
    lit: str


@dataclass(frozen=True)
class Scene:
    """A photo, what a helper may tell, and what can be seen on it."""

    photo: Photo
    palette: tuple[Colour, ...]
    marks: tuple[Mark, ...]
    view: TableView
    leds: tuple[Led, ...]
    leads: dict[str, Point]


def invented(seed: int) -> Scene:
    """The quick photo of a seed."""
    rng = np.random.default_rng([seed, 3])
    table = table_colour(rng)
    made = invent(seed, table=table)
    shot = photograph(made, table)
    px = 1 / float(np.sqrt(abs(np.linalg.det(shot.to_px[:2, :2]))))
    leds = [
        Led((at(m.base), at(m.head)), (at(m.long), at(m.short)), m.radius_mm, m.colour, m.lit)
        for at in (shot.px_of,)
        for m in made.lamps
    ]
    leads = {"red" if rod.red else "black": shot.px_of(rod.at) for rod in made.rods}
    marks = [Mark("pack." + colour, "lead", at) for colour, at in leads.items()]
    for i, led in enumerate(leds):
        p, q = led.feet
        marks += [
            Mark(f"L{i}.{k}", "leg", a, b, led.lit != "off") for k, a, b in (("long", p, q), ("short", q, p))
        ]
    _, data = cv2.imencode(".jpg", shot.photo[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    photo = open_photo(data.tobytes())
    names = [
        ("table", "table"),
        *((d.name, "conductive" if d.conducts else "insulating") for d in made.doughs),
    ]
    palette = [Colour(n, role, taps(rng, shot, i)) for i, (n, role) in enumerate(names)]  # type: ignore[arg-type]
    return Scene(
        photo,
        tuple(colour for colour in palette if colour.taps),
        tuple(m for m in marks if 0 <= m.at[0] <= photo.width and 0 <= m.at[1] <= photo.height),
        view_from_mm_per_px(px),
        tuple(led for led in leds if shows(shot, LED, led.body[1], led.radius_mm / px)),
        {colour: at for colour, at in leads.items() if shows(shot, METAL, at, 2 / px)},
    )


def taps(rng: np.random.Generator, shot: View, label: int) -> tuple[Point, ...]:
    """Up to three places well inside what is seen of a dough, or of the table."""
    free = ((shot.labels == label) & (shot.things == 0)).astype(np.uint8)
    room = cv2.distanceTransform(np.pad(free, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    rows, cols = np.nonzero(room >= max(2.0, 0.6 * float(room.max())))
    picks = rng.integers(0, len(rows), 3) if len(rows) else ()
    return tuple((float(cols[i]) + 0.5, float(rows[i]) + 0.5) for i in picks)


def shows(shot: View, thing: int, at: Point, reach_px: float) -> bool:
    """Whether some of a thing is seen round a place."""
    low = [max(0, int(v - reach_px)) for v in at]
    part = shot.things[low[1] : int(at[1] + reach_px) + 1, low[0] : int(at[0] + reach_px) + 1]
    return bool(part.size) and float(np.mean(part == thing)) > (0.3 if thing == LED else 0.02)


def with_truth(folder: Path) -> Iterator[Scene]:
    """Photos with a truth that tells sizes, entries and where each LED is seen."""
    for scene in scenes_in(folder):
        truth = json.loads((folder / f"{scene.name}.truth.json").read_text())
        if "occluders" not in truth:
            continue
        label = cv2.imread(str(folder / truth["label_png"]), cv2.IMREAD_UNCHANGED)
        number = {name: int(n) for n, name in truth["occluders"].items()}
        exact = truth["electrodes_exact_px"]
        leds = []
        for led in truth["leds"]:
            rows, cols = np.nonzero(label == number[led["id"]])
            if len(rows) < 20:
                continue
            middle = (float(cols.mean()), float(rows.mean()))
            feet = (tuple(exact[f"{led['id']}.long"]), tuple(exact[f"{led['id']}.short"]))
            leds.append(Led((middle, middle), feet, led["size_mm"] / 2, led["colour"], led["seen"]))
        leads = {"red": tuple(exact["PACK.plus"]), "black": tuple(exact["PACK.minus"])}
        photo = open_photo(scene.photo.read_bytes())
        yield Scene(photo, scene.palette, scene.marks, scene.view, tuple(leds), leads)


def apart_mm(view: TableView, one: Point, other: Point) -> float:
    """Distance in mm of two places on the photo."""
    return float(np.hypot(*np.subtract(view.to_mm(one), view.to_mm(other))))


def matched(scene: Scene, found: Suggestions) -> list[LedSeen | None]:
    """The suggestion that goes with each true LED, nearest first, each once."""
    free = list(found.leds)
    out: list[LedSeen | None] = []
    for led in scene.leds:
        ends = np.linspace(led.body[0], led.body[1], 5)
        far = [min(apart_mm(scene.view, s.at, (x, y)) for x, y in ends) for s in free]
        best = int(np.argmin(far)) if far else -1
        near = best >= 0 and far[best] < led.radius_mm + BODY_MM
        out.append(free.pop(best) if near else None)
    return out


def count(scene: Scene, found: Suggestions, into: Counter[str]) -> None:
    """Add up what is right and what is wrong."""
    pairs = matched(scene, found)
    into["leds"] += len(pairs)
    into["suggested"] += len(found.leds)
    into["false"] += len(found.leds) - sum(s is not None for s in pairs)
    for led, s in zip(scene.leds, pairs, strict=True):
        if s is None:
            continue
        into["found"] += 1
        into["both"] += 2
        into["size"] += s.size_mm == 2 * led.radius_mm
        into["told"] += s.colour is not None
        into["colour"] += s.colour == led.colour
        into["lit"] += s.lit == led.lit
        into["on"] += (s.lit == "off") == (led.lit == "off")
        into["far"] += {s.lit, led.lit} == {"bright", "off"}
        if s.feet is not None:
            off = [
                [apart_mm(scene.view, a, b) for a, b in zip(s.feet, f, strict=True)]
                for f in permutations(led.feet)
            ]
            into["feet"] += int(np.sum(np.array(min(off, key=sum)) <= FOOT_MM))
    into["leads"] += len(scene.leads)
    for lead in found.leads:
        if lead.colour in scene.leads:
            right = apart_mm(scene.view, lead.at, scene.leads[lead.colour]) <= LEAD_MM
            into["hints"] += 1
            into["lead"] += right
            into["astray"] += not right
            into["sure"] += lead.confidence >= 0.5
            into["sure_astray"] += lead.confidence >= 0.5 and not right


def seen_of(scene: Scene, marks: tuple[Mark, ...]) -> Seen:
    """What the network makes of a scene."""
    return look(scene.photo, scene.palette, marks, scene.view)[0]


def main() -> None:
    """Print the table."""
    reader = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    reader.add_argument("--seeds", default="10000-10059")
    reader.add_argument("folder", nargs="?", type=Path, default=SHARED)
    options = reader.parse_args()
    cv2.setNumThreads(1)
    first, last = (int(n) for n in options.seeds.split("-"))
    sources = {
        "quick": (invented(seed) for seed in range(first, last + 1)),
        "folder": with_truth(options.folder),
    }
    sums: dict[tuple[str, str], Counter[str]] = {}
    seconds = []
    for source, scenes in sources.items():
        for scene in scenes:
            for how, marks in (("no marks", ()), ("marks", scene.marks)):
                seen = seen_of(scene, marks)
                if seen.pixels is None:
                    continue
                start = time.process_time()
                found = suggestions_of(seen, seen.pixels, scene.palette, ())
                seconds.append(time.process_time() - start)
                count(scene, found, sums.setdefault((source, how), Counter()))
    table = Table("", *(f"{source}, {how}" for source, how in sums))
    for title, part, whole in ROWS:
        table.add_row(title, *(f"{n[part] / max(1, n[whole]):.0%} of {n[whole]}" for n in sums.values()))
    Console().print(table, f"{1e3 * float(np.mean(seconds)):.0f} ms a photo on one core")


if __name__ == "__main__":
    main()
