"""Second photos, measured on studio sculptures: underside and 'again', drawn and photographed.

    uv run python tests/benchmarks/bench_second_photos.py --seeds 0-39 [--photos]

Drawn: the label raster flipped, turned, shifted and rippled by half a millimetre; every other one with a
strip of dough underneath that joins two lumps. Photos: quick photos in other light. Nothing is asserted.
"""

import argparse
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from api.again import inspect_again
from api.pipeline import inspect_case
from api.schemas import Case
from sample_images.studio.fault_photos import photographed
from sample_images.studio.faults import Known, known
from sample_images.studio.hand_over import PX_MM, label_raster
from sample_images.studio.invention import entries_of
from sample_images.studio.many import quick_shot
from sample_images.studio.quick import photograph, table_colour
from vision.errors import VisionError
from vision.model import Colour, Scene, TableView
from vision.registration import Registration, register
from vision.scene import scene_from_labels
from vision.underside import groups_of, seen_from_below

Labels = NDArray[np.uint8]
RIPPLE_MM = 0.5


@dataclass(frozen=True)
class Motion:
    """A flipped or straight copy: (2, 3) from px of the first raster to px of the second."""

    matrix: NDArray[np.float64]

    def of(self, at: tuple[float, float]) -> tuple[float, float]:
        x, y = self.matrix @ [at[0], at[1], 1.0]
        return float(x), float(y)


def motion(rng: np.random.Generator, shape: tuple[int, ...], mirrored: bool) -> Motion:
    turn, (dx, dy) = rng.uniform(0, 2 * math.pi), rng.uniform(-8, 8, 2) / PX_MM
    c, s, f = math.cos(turn), math.sin(turn), -1 if mirrored else 1
    linear = np.array([[c * f, -s], [s * f, c]])
    middle = np.array([shape[1] / 2, shape[0] / 2])
    return Motion(np.column_stack([linear, middle + np.array([dx, dy]) - linear @ middle]))


def moved(labels: Labels, by: Motion) -> Labels:
    m = by.matrix.copy()
    m[:, 2] += m[:, :2] @ (0.5, 0.5) - 0.5
    size = labels.shape[::-1]
    return np.asarray(cv2.warpAffine(labels, m, size, flags=cv2.INTER_NEAREST), np.uint8)


def rippled(rng: np.random.Generator, labels: Labels, mm: float) -> Labels:
    """Rims moved by about that much, in humps 10 mm wide."""
    rows, cols = labels.shape
    noise = [cv2.GaussianBlur(rng.standard_normal((rows, cols)).astype(np.float32), (0, 0), 5 / PX_MM)
             for _ in range(2)]  # fmt: skip
    x, y = np.meshgrid(np.arange(cols, dtype=np.float32), np.arange(rows, dtype=np.float32))
    dx, dy = (n / n.std() * mm / PX_MM for n in noise)
    return np.asarray(cv2.remap(labels, x + dx, y + dy, cv2.INTER_NEAREST), np.uint8)


def palette_of(made: Any) -> list[Colour]:
    return [Colour(d.name, "conductive" if d.conducts else "insulating", ()) for d in made.doughs]


def scene_of(labels: Labels, palette: Sequence[Colour]) -> Scene:
    return scene_from_labels(labels, palette, [], TableView(PX_MM, (0.0, 0.0), True))


def with_strip(rng: np.random.Generator, labels: Labels, scene: Scene) -> tuple[Labels, set[int]] | None:
    """The labels with a strip of dough from the middle of one lump to that of another, and the two lumps."""
    lumps = groups_of(scene.pieces, [c.between for c in scene.contacts if c.kind == "touching"])
    deep = []
    x0, y0 = (round(v) for v in scene.view.origin_px)
    for i, lump in enumerate(lumps):
        room = cv2.distanceTransform(np.isin(scene.grid, list(lump)).astype(np.uint8), cv2.DIST_L2, 5)
        if room.max() * scene.cell_mm > 5:
            row, col = np.unravel_index(int(np.argmax(room)), room.shape)
            deep.append((i, (int(col) + x0, int(row) + y0)))
    pairs = [(a, b) for k, a in enumerate(deep) for b in deep[k + 1 :]]
    if not pairs:
        return None
    (i, p), (j, q) = min(pairs, key=lambda ab: math.dist(ab[0][1], ab[1][1]))
    out = labels.copy()
    conductive = next(c.colour for c in scene.pieces if c.role == "conductive")
    cv2.line(out, p, q, conductive, round(rng.uniform(5, 12) / PX_MM))
    out[(labels == 0) & ~_near(labels > 0, 6.0)] = 0
    return out, {i, j}


def _near(mask: NDArray[np.bool_], mm: float) -> NDArray[np.bool_]:
    far = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5)
    return np.asarray(far * PX_MM < mm)


def error_mm(found: Registration, one: Scene, other: Scene, by: Motion) -> float:
    """The largest error over the corners of the sculpture's box."""
    rows, cols = one.grid.shape
    out = 0.0
    for x, y in ((0, 0), (0, rows), (cols, 0), (cols, rows)):
        at = one.view.to_px((x * one.cell_mm, y * one.cell_mm))
        back = found.to_first(other.view.to_mm(by.of(at)))
        out = max(out, math.dist(back, (x * one.cell_mm, y * one.cell_mm)))
    return out


def drawn(seeds: Sequence[int]) -> None:
    right = strips = joins = good = false = far = 0
    rims, refused = [], 0
    for seed in seeds:
        rng = np.random.default_rng([seed, 31])
        made = known(seed).made
        first = label_raster(made.labels)
        palette = palette_of(made)
        one = scene_of(first, palette)
        new = with_strip(rng, first, one) if seed % 2 else None
        by = motion(rng, first.shape, True)
        second = moved(rippled(rng, first if new is None else new[0], RIPPLE_MM), by)
        other = scene_of(second, palette)
        try:
            found = register(one, other, True)
            result = seen_from_below(one, other, found)
        except VisionError as error:
            print(f"{seed}: {error}")
            refused += 1
            continue
        rims.append(found.rim_mm)
        error = error_mm(found, one, other, by)
        right += found.rim_mm < 1.5 and error < 3
        if error >= 3:
            print(f"{seed}: {error:.1f} mm off, {found}")
        lumps = groups_of(one.pieces, [c.between for c in one.contacts if c.kind == "touching"])
        told = {frozenset(i for i, g in enumerate(lumps) if g & set(pair)) for pair, _ in result.joins}
        if new is None:
            good += 1
            false += bool(result.joins)
            if result.joins:
                print(f"{seed}: false join {result.joins} {found.rim_mm:.2f}")
        else:
            strips += 1
            met = any(new[1] <= group for group in _merged(told))
            joins += met
            far += len(told) > 1
            if not met:
                print(f"{seed}: strip between {new[1]} told {told} rim {found.rim_mm:.2f}")
    n = len(seeds)
    print(f"drawn: registration right {right}/{n} (refused {refused}), rim {np.mean(rims):.2f} mm mean")
    print(f"drawn: strips found {joins}/{strips}; more than one join in {far}; false joins {false}/{good}")


def table_of(seed: int, made: Known) -> tuple[float, float, float]:
    """The table that `photographed` laid it on."""
    for attempt in range(6):
        table = table_colour(np.random.default_rng([seed, 99, attempt]))
        if np.array_equal(known(seed, table=table, skip=attempt // 2).made.labels, made.made.labels):
            return table
    raise ValueError(f"seed {seed}: no table")


def photos(seeds: Sequence[int]) -> None:
    """Quick photos; each is another light, lens, phone and pattern of table than the first."""
    entries = near = silent = refused = below = fits = false = changes = n = 0
    for seed in seeds:
        try:
            made, case, jpg, _ = photographed(seed)
        except ValueError:
            continue
        n += 1
        table = table_of(seed, made)
        shot = quick_shot(np.random.default_rng([seed, 123]), made.made, table, 17, None)
        try:
            result = inspect_again(case, jpg, _jpeg(shot.photo), name="second.jpg")
        except VisionError as error:
            print(f"{seed}: again: {error}", flush=True)
            refused += 1
        else:
            doubt = {p for c in result.report.changes if c.kind == "doubtful" for p in c.parts}
            for name, at in entries_of(made.made).items():
                off = math.dist(_entry(result.case, name), shot.px_of(at, True)) / shot.px_per_mm
                entries, near = entries + 1, near + (off < 2)
                silent += off >= 2 and name not in doubt
            changes += any(c.kind in ("cut", "joined") for c in result.report.changes)
        below += 1
        flipped = replace(
            made.made, labels=made.made.labels[:, ::-1].copy(), solid=made.made.solid[:, ::-1].copy(),
            lamps=(), rods=(), pack=None, things=(),
        )  # fmt: skip
        under = photograph(flipped, table, 0.15, 23, (140, 105), 1.0, (200, 200))
        told = Case.model_validate(
            case.model_dump(by_alias=True, exclude_unset=True) | {"underside": {"photo": "below.jpg"}}
        )
        try:
            report = inspect_case(told, jpg, below=_jpeg(under.photo)).report
        except VisionError as error:
            print(f"{seed}: below: {error}", flush=True)
            continue
        if report.underside is not None:
            fits += report.underside.rim_mm < 1.5
            false += bool(report.underside.joins)
            if report.underside.joins:
                print(f"{seed}: false join, rim {report.underside.rim_mm}", flush=True)
    print(f"photos again: {near}/{entries} entries within 2 mm, {silent} wrong without a doubt")
    print(f"photos again: {refused}/{n} refused, a false cut or join in {changes}/{n - refused}")
    print(f"photos below: fits within 1.5 mm {fits}/{below}, false joins {false}/{below}")


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    return cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])[1].tobytes()


def _entry(case: Case, name: str) -> tuple[float, float]:
    part, _, end = name.partition(".")
    if part == "pack":
        assert case.pack is not None
        return case.pack.plus if end == "plus" else case.pack.minus
    led = next(led for led in case.leds if led.id == part)
    return led.long_leg if end == "long" else led.short_leg


def _merged(told: set[frozenset[int]]) -> list[set[int]]:
    out: list[set[int]] = []
    for pair in told:
        meet = [g for g in out if g & pair]
        out = [g for g in out if not g & pair] + [set(pair).union(*meet)]
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0-39", metavar="A-B")
    parser.add_argument("--photos", action="store_true", help="quick photos too: slow")
    asked = parser.parse_args()
    first, _, last = asked.seeds.partition("-")
    seeds = range(int(first), int(last or first) + 1)
    drawn(seeds)
    if asked.photos:
        photos(seeds)


if __name__ == "__main__":
    main()
