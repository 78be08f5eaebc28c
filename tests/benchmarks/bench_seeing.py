"""How well Doughsight sees, beside general-purpose segmenters that get the same taps.

python tests/benchmarks/bench_seeing.py [FOLDER ...] [--only-doughsight] [--real] [--limit N]

Folders hold NAME.jpg, NAME.case.json and NAME.truth.json. Everything runs on one core.
"""

import argparse
import multiprocessing
import os
import resource
import sys
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from scenes_with_truth import SAMPLES, SHARED, Labels, TrueScene, real_photographs, scenes_in
from seeing_scores import Grouping, grouping, overlap, share

from vision.model import NOT_DOUGH, Photo
from vision.photo import open_photo, photo_size, shrink_for
from vision.scene import read_scene, scene_from_labels

OURS = "Doughsight"
CEILING = "(true colours, peers' rule for lumps)"
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")
LARGE_PX = 10_000_000
NOISE, QUALITY = 3.0, 92
"""A noisier JPEG, more like a phone's: spread of the noise in grey values, JPEG quality (estimated)."""
TIMES = 5
CAPTION = (
    "IoU: mean over the dough colours of a photo, where LED, lead and pack hide nothing. Right lumps: "
    "entries share lumps as in truth. Or with doubts: when up to three doubtful places are taken the "
    "other way. Wrong without a doubt: wrong, and no single doubtful place taken the other way makes it "
    "right. In brackets 95 % intervals (Wilson). Seconds: median from decoded photo to labels, pieces, "
    "contacts and entries, one core. MB: peak of a whole process that opens and sees one photo; idle: "
    "before that, with everything imported. Peers get the same taps on doughs, table, legs and leads, see a "
    "picture of at most 1.2 megapixels round the taps (random walker 0.15), and share a clean-up and the "
    "entry rule; they know nothing of LEDs and leads."
)


@dataclass(frozen=True)
class Score:
    """How one method saw one photo.

    Memory of Doughsight's process [MB]: `idle_mb` with everything imported, `peak_mb` at its most.
    """

    method: str
    scene: str
    iou: float
    lumps: Grouping | None
    seconds: float
    idle_mb: float | None = None
    peak_mb: float | None = None


@dataclass(frozen=True)
class Ratio:
    """Median seconds to decode a large JPEG at full size, and from that JPEG to labels and contacts."""

    name: str
    megapixels: float
    decode_s: float
    see_s: float


def main(arguments: Sequence[str]) -> None:
    """Print the tables."""
    asked = _asked(arguments)
    for name in ONE_THREAD:
        os.environ[name] = "1"  # before the workers start, which do the work
    console = Console(width=max(150, Console().width))
    if asked.real:
        scenes = list(real_photographs())[: asked.limit]
        console.print(_per_photo(_scores(scenes, asked), "real photographs: mean IoU"))
        return
    scenes = [s for folder in asked.folders for s in scenes_in(folder, asked.hidden_too)][: asked.limit]
    scores = _scores(scenes, asked)
    console.print(_overview(scores))
    console.print(_wrong_ones(scores))
    large = [s for s in scenes if s.labels.size >= LARGE_PX]
    if not large:
        return
    with _pool(1) as pool:
        console.print(_ratios([ratio for pair in pool.map(_speed, large) for ratio in pair]))


def _asked(arguments: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    standard = [folder for folder in (SAMPLES, SHARED) if folder.is_dir()]
    parser.add_argument("folders", nargs="*", type=Path, default=standard, metavar="FOLDER")
    parser.add_argument("--only-doughsight", action="store_true", help="leave out the peers")
    parser.add_argument("--real", action="store_true", help="real photographs, colours only")
    parser.add_argument("--hidden-too", action="store_true", help="count shorts that no photo shows")
    parser.add_argument("--limit", type=int, metavar="N", help="the first N photos only")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="above 1 times are not reliable")
    parser.add_argument("--overlays", type=Path, metavar="DIR", help="write labels blended over the photos")
    return parser.parse_args(arguments)


def _pool(jobs: int, tasks: int | None = None) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        jobs, multiprocessing.get_context("spawn"), initializer=_one_thread, max_tasks_per_child=tasks
    )


def _one_thread() -> None:
    cv2.setNumThreads(1)


def _scores(scenes: Sequence[TrueScene], asked: argparse.Namespace) -> list[Score]:
    """All methods on all scenes; Doughsight in a fresh process a photo, so that its memory can be told."""
    if asked.overlays:
        asked.overlays.mkdir(parents=True, exist_ok=True)
    out: list[Score] = []
    with _pool(asked.jobs, tasks=1) as fresh:
        out += fresh.map(_see, scenes, [asked.overlays] * len(scenes))
    if not asked.only_doughsight:
        with _pool(asked.jobs) as pool:
            for scores in pool.map(_see_as_peers, scenes, [asked.overlays] * len(scenes)):
                out += scores
    return out


def _opened(scene: TrueScene, data: bytes) -> Photo:
    """The photo, decoded at the scale that the pipeline takes."""
    view = scene.view
    return open_photo(data, shrink_for(*photo_size(data), view.mm_per_px if view.true_scale else None))


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _see(scene: TrueScene, overlays: Path | None) -> Score:
    """Doughsight on one photo: memory from the first look, time from the second."""
    data, idle = scene.photo.read_bytes(), _peak_mb()
    photo = _opened(scene, data)
    read_scene(photo, scene.palette, scene.marks, scene.view)
    peak = _peak_mb()
    start = time.perf_counter()
    seen = read_scene(photo, scene.palette, scene.marks, scene.view)
    seconds = time.perf_counter() - start
    lumps = grouping(seen, scene.lump_of) if scene.lump_of else None
    if overlays:
        _write_overlay(overlays, OURS, scene, open_photo(data).pixels, seen.labels)
    return Score(OURS, scene.name, overlap(seen.labels, scene.labels), lumps, seconds, idle, peak)


def _see_as_peers(scene: TrueScene, overlays: Path | None) -> list[Score]:
    """All peers on one photo, and the true colours under the same rule for lumps as the ceiling of it."""
    from peers import PEERS, segmented  # here, so that Doughsight's processes stay without them

    rgb = open_photo(scene.photo.read_bytes()).pixels
    out = []
    for peer in PEERS:
        start = time.perf_counter()
        labels, parted = segmented(peer, scene, rgb)
        lumps = _grouped(scene, parted)
        seconds = time.perf_counter() - start
        out.append(Score(peer, scene.name, overlap(labels, scene.labels), lumps, seconds))
        if overlays:
            _write_overlay(overlays, peer, scene, rgb, labels)
    if scene.lump_of:
        out.append(Score(CEILING, scene.name, 1.0, _grouped(scene, scene.labels), np.nan))
    return out


def _grouped(scene: TrueScene, labels: Labels) -> Grouping | None:
    """How the labels (H, W) of a whole photo group the entries; None when there are none."""
    if not scene.lump_of:
        return None
    return grouping(scene_from_labels(labels, scene.palette, scene.marks, scene.view), scene.lump_of)


def _write_overlay(
    folder: Path, method: str, scene: TrueScene, rgb: NDArray[np.uint8], labels: Labels
) -> None:
    """Each dough colour as a strong hue over the greyed photo, NOT_DOUGH in black."""
    dough = (labels > 0) & (labels < NOT_DOUGH)
    strong = np.where(dough, 255, 0).astype(np.uint8)
    hue = np.asarray(labels.astype(np.uint16) * 67 % 180, np.uint8)
    tint = np.dstack([hue, strong, strong])
    grey = cv2.cvtColor(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY), cv2.COLOR_GRAY2BGR)
    blend = cv2.addWeighted(grey, 0.5, cv2.cvtColor(tint, cv2.COLOR_HSV2BGR), 0.5, 0)
    blend[labels == 0] = grey[labels == 0]
    scale = min(1.0, 1600 / max(labels.shape))
    small = cv2.resize(blend, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    short = "".join(c if c.isalnum() else "-" for c in method)
    cv2.imwrite(str(folder / f"{scene.name}.{short}.jpg"), small)


def _speed(scene: TrueScene) -> tuple[Ratio, Ratio]:
    """The photo as it is and a noisy copy."""
    data = scene.photo.read_bytes()
    return _ratio(scene, data, scene.name), _ratio(
        scene, _noisy(data), f"{scene.name}, noise {NOISE:g}, quality {QUALITY}"
    )


def _noisy(data: bytes) -> bytes:
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    if pixels is None:
        raise ValueError("no JPEG")
    noise = np.random.default_rng(1).standard_normal(pixels.shape, np.float32) * np.float32(NOISE)
    noisy = np.asarray(np.clip(np.rint(pixels + noise), 0, 255), np.uint8)
    return cv2.imencode(".jpg", noisy, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].tobytes()


def _ratio(scene: TrueScene, data: bytes, name: str) -> Ratio:
    """Decoding and seeing take turns, so that a busy machine slows both."""
    decode, see = [], []
    raw = np.frombuffer(data, np.uint8)
    for turn in range(TIMES + 1):
        start = time.perf_counter()
        cv2.imdecode(raw, cv2.IMREAD_COLOR)
        between = time.perf_counter()
        read_scene(_opened(scene, data), scene.palette, scene.marks, scene.view)
        end = time.perf_counter()
        if turn:  # the first turn warms up
            decode.append(between - start)
            see.append(end - between)
    return Ratio(name, scene.labels.size / 1e6, float(np.median(decode)), float(np.median(see)))


def _overview(scores: Iterable[Score]) -> Table:
    """One row a method."""
    heads = ("method", "photos", "IoU mean", "median", "worst tenth", "right lumps", "or with doubts")
    table = Table(*heads, "wrong without a doubt", "s a photo", "MB median, most, idle", caption=CAPTION)
    for method, own in _by_method(scores).items():
        iou = [s.iou for s in own]
        grouped = [s.lumps for s in own if s.lumps is not None]
        n, right = len(grouped), sum(g.right for g in grouped)
        table.add_row(
            method,
            str(len(own)),
            f"{np.mean(iou):.3f}",
            f"{np.median(iou):.3f}",
            f"{np.quantile(iou, 0.1):.3f}",
            share(right, n),
            share(sum(g.doubts is not None for g in grouped), n) if method == OURS else "",
            share(sum(g.doubts is None or g.doubts > 1 for g in grouped), n) if method == OURS else "",
            "" if method == CEILING else f"{np.median([s.seconds for s in own]):.2f}",
            _memory(own),
        )
    return table


def _wrong_ones(scores: Iterable[Score]) -> str:
    """The photos whose lumps Doughsight got wrong, with what its doubts say."""
    wrong = [s for s in scores if s.method == OURS and s.lumps is not None and not s.lumps.right]
    told = [f"{s.scene} ({_doubts(s.lumps)})" for s in wrong]
    return f"Wrong lumps, {OURS}: {', '.join(told) or 'none'}"


def _doubts(lumps: Grouping | None) -> str:
    if lumps is None or lumps.doubts is None:
        return "no doubt says so"
    return f"right with {lumps.doubts} doubt{'s' * (lumps.doubts > 1)}"


def _memory(scores: Sequence[Score]) -> str:
    peaks = [s.peak_mb for s in scores if s.peak_mb is not None]
    idle = [s.idle_mb for s in scores if s.idle_mb is not None]
    return f"{np.median(peaks):.0f}, {max(peaks):.0f}, {np.median(idle):.0f}" if peaks else ""


def _per_photo(scores: Iterable[Score], title: str) -> Table:
    """One row a method, one column a photo."""
    methods = _by_method(scores)
    names = [s.scene for s in next(iter(methods.values()))]
    table = Table("method", *(name.replace("_", " ") for name in names), "mean", title=title)
    for method, own in methods.items():
        table.add_row(method, *(f"{s.iou:.3f}" for s in own), f"{np.mean([s.iou for s in own]):.3f}")
    return table


def _by_method(scores: Iterable[Score]) -> dict[str, list[Score]]:
    out: dict[str, list[Score]] = {}
    for score in scores:
        out.setdefault(score.method, []).append(score)
    return out


def _ratios(ratios: Iterable[Ratio]) -> Table:
    heads = ("JPEG of 10 megapixels or more", "megapixels", "decode s", "JPEG to labels and contacts s")
    table = Table(*heads, "ratio", caption=f"Medians of {TIMES} turns in one run, one core.")
    for r in ratios:
        ratio = r.see_s / r.decode_s
        table.add_row(r.name, f"{r.megapixels:.1f}", f"{r.decode_s:.3f}", f"{r.see_s:.3f}", f"{ratio:.1f}")
    return table


if __name__ == "__main__":
    main(sys.argv[1:])
