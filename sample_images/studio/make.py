"""Make the sample photos: `python -m sample_images.studio.make [NAME...] [--check | --facts | --preview]`.

`--check` only works out the truth; `--facts` writes all but the photo; `--preview` makes small
noisy photos in the folder `preview`. Needs the dependency group `studio`.
"""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sample_images.studio.build import all_parts, knead
from sample_images.studio.render import (
    HEIGHT,
    WIDTH,
    Camera,
    Light,
    develop,
    label_raster,
    photo_light,
    table_part,
)
from sample_images.studio.scenes import Sample, samples
from sample_images.studio.shapes import Array
from sample_images.studio.tables import HEIGHT_MM, WIDTH_MM, cloth, crosses, paper, relief, wood
from sample_images.studio.truth import case_json, entry_px, find_truth, truth_json

HERE = Path(__file__).parent.parent
FOV_X_DEG = 33.4
TOPS: dict[str, Callable[[np.random.Generator, str, str], Array]] = {
    "wood": wood,
    "cloth": cloth,
    "paper": paper,
}
MOST_BYTES = 300_000
SAMPLES_PER_PX = 24


def main(arguments: list[str]) -> None:
    wanted = [name for name in arguments if not name.startswith("-")]
    known = samples()
    for name in wanted or list(known):
        start = time.monotonic()
        make(known[name], *(flag in arguments for flag in ("--check", "--facts", "--preview")))
        print(f"{name}: {time.monotonic() - start:.0f} s", flush=True)
    listed = [
        {"name": s.name, "title": s.title, "story": s.story}
        for s in known.values()
        if (HERE / f"{s.name}.jpg").exists()
    ]
    write_json(HERE / "samples.json", listed)


def make(sample: Sample, check: bool, facts: bool, preview: bool) -> None:
    """Work out one sample, and unless only checking, photograph it and write its files."""
    bodies = knead(sample)
    truth = find_truth(sample, bodies)
    print(sample.name, {k: f"{v * 1e3:.2f} mA" for k, v in truth.currents_A.items()}, flush=True)
    if check:
        return
    rng = np.random.default_rng(sample.seed + 2)
    kind, light_hex, dark_hex = sample.table
    top = crosses(TOPS[kind](rng, light_hex, dark_hex), sample.crosses, sample.pencil)
    table = table_part(top, relief(rng, kind, (HEIGHT_MM + 1, WIDTH_MM + 1)))
    parts = [table, *all_parts(sample, bodies, dict(truth.states))]
    camera = Camera(sample.eye, sample.target, sample.roll_deg, FOV_X_DEG)
    folder = Path("preview") if preview else HERE
    folder.mkdir(exist_ok=True)
    if not facts:
        size, spp = ((640, 480), 16) if preview else ((WIDTH, HEIGHT), SAMPLES_PER_PX)
        light = photo_light(parts, camera, Light(sample.lamp_at), size, spp)
        save_photo(develop(light, sample.seed, sample.exposure), folder / f"{sample.name}.jpg")
    labels = label_raster(parts, camera)
    Image.fromarray(labels).save(folder / f"{sample.name}.labels.png", optimize=True)
    pixels = entry_px(sample, bodies, camera)
    write_json(folder / f"{sample.name}.case.json", case_json(sample, truth, labels, pixels, camera))
    write_json(folder / f"{sample.name}.truth.json", truth_json(sample, truth, bodies, pixels, camera))


def save_photo(picture: np.ndarray[Any, np.dtype[np.uint8]], path: Path) -> None:
    """The photo as JPEG, at the best quality up to 88 that keeps it small enough to ship."""
    for quality in range(88, 60, -2):
        Image.fromarray(picture).save(path, quality=quality, optimize=True)
        if path.stat().st_size <= MOST_BYTES:
            return


def write_json(path: Path, content: Any) -> None:
    path.write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
