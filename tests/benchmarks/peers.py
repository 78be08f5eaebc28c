"""General-purpose segmenters that get the same taps as Doughsight.

Each takes a `Picture` and gives the class of every cell. What follows is the same for all: specks are
cleared, and dough that hangs together by less than 2 mm is parted, as Doughsight does.

Notation: h, w cells (rows, columns); K classes, one for every entry of the palette, table ones too.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray
from scenes_with_truth import Labels, TrueScene
from scipy import ndimage
from skimage import color, segmentation
from sklearn.cluster import KMeans
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.ensemble import RandomForestClassifier
from threadpoolctl import threadpool_limits

from vision.model import TableView

Floats = NDArray[np.float32]
Classes = NDArray[np.int32]

MOST_CELLS = 1_200_000
WALKER_CELLS = 150_000
"""The random walker solves a linear system with an unknown a cell, so its picture is smaller still."""
MARGIN_MM = 25.0
TAP_MM = 1.5
SPECK_MM2, NECK_MM = 4.0, 1.0
"""The same least area and half contact width as Doughsight's, so that only seeing differs."""


@dataclass(frozen=True)
class Picture:
    """The part of a photo round all taps, reduced.

    rgb     (h, w, 3) uint8
    seeds   (h, w) int32: class + 1 within 1.5 mm of a tap of that class, 0 elsewhere
    cell_mm side of a cell
    """

    rgb: NDArray[np.uint8]
    seeds: Classes
    cell_mm: float

    @property
    def classes(self) -> int:
        """K."""
        return int(self.seeds.max())

    @cached_property
    def lab(self) -> Floats:
        """CIE L*a*b* (h, w, 3), slightly blurred against noise."""
        smooth = cv2.GaussianBlur(self.rgb, (0, 0), 1.0)
        return cv2.cvtColor(smooth.astype(np.float32) / 255, cv2.COLOR_RGB2Lab).astype(np.float32)

    def middles(self, features: Floats) -> Floats:
        """Median (K, c) of features (h, w, c) round the taps of each class."""
        return np.array([np.median(features[self.seeds == k + 1], axis=0) for k in range(self.classes)])


def nearest_in_lab(picture: Picture) -> Classes:
    """The class whose taps are nearest in L*a*b*."""
    off = [np.linalg.norm(picture.lab - m, axis=2) for m in picture.middles(picture.lab)]
    return np.asarray(np.argmin(off, axis=0), np.int32)


def hsv_ranges(picture: Picture) -> Classes:
    """In which class's range of hue, saturation and value; the narrowest where several hold, else table."""
    hsv = cv2.cvtColor(cv2.GaussianBlur(picture.rgb, (0, 0), 1.0), cv2.COLOR_RGB2HSV).astype(np.float32)
    slack = np.array([8, 40, 50], np.float32)
    out, best = np.full(hsv.shape[:2], -1, np.int32), np.full(hsv.shape[:2], np.inf)
    for k, middle in enumerate(picture.middles(hsv)):
        off = np.abs(hsv - middle)
        off[..., 0] = np.minimum(off[..., 0], 180 - off[..., 0])
        spread = np.quantile(off[picture.seeds == k + 1], 0.95, axis=0)
        share = (off / (spread + slack)).max(axis=2)
        here = (share <= 1) & (share < best)
        out[here], best[here] = k, share[here]
    return out


def k_means(picture: Picture) -> Classes:
    """k-means in L*a*b* that starts from the taps."""
    start = picture.middles(picture.lab)
    means = KMeans(len(start), init=start, n_init=1).fit(picture.lab[::3, ::3].reshape(-1, 3))
    found = means.predict(picture.lab.reshape(-1, 3))
    return np.asarray(found.reshape(picture.seeds.shape), np.int32)


def grab_cut(picture: Picture) -> Classes:
    """GrabCut (Rother, Kolmogorov and Blake 2004) once for each class against the rest."""
    near = nearest_in_lab(picture)
    out = near.copy()
    bgr = np.ascontiguousarray(picture.rgb[..., ::-1])
    won = np.zeros((picture.classes, *near.shape), bool)
    for k in range(picture.classes):
        mask = np.where(near == k, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
        mask[picture.seeds > 0] = cv2.GC_BGD
        mask[picture.seeds == k + 1] = cv2.GC_FGD
        background, foreground = np.zeros((1, 65)), np.zeros((1, 65))
        cv2.grabCut(bgr, mask, (0, 0, 1, 1), background, foreground, 2, cv2.GC_INIT_WITH_MASK)
        won[k] = (mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)
    alone = won.sum(axis=0) == 1
    out[alone] = np.argmax(won, axis=0)[alone]
    return out


def random_walker(picture: Picture) -> Classes:
    """Random walker (Grady 2006) from sure cells, on a picture of at most 0.15 megapixels."""
    rows, cols = picture.seeds.shape
    scale = min(1.0, float(np.sqrt(WALKER_CELLS / (rows * cols))))
    size = (round(cols * scale), round(rows * scale))
    lab = cv2.resize(picture.lab, size, interpolation=cv2.INTER_AREA)
    seeds = cv2.resize(_sure(picture), size, interpolation=cv2.INTER_NEAREST)
    found = segmentation.random_walker(lab / 100, seeds, mode="cg_j", prob_tol=0.1, channel_axis=2)
    large = cv2.resize(found.astype(np.int32), (cols, rows), interpolation=cv2.INTER_NEAREST)
    return np.asarray(large - 1, np.int32)


def watershed(picture: Picture) -> Classes:
    """Watershed of the colour gradient from sure cells."""
    across, down = (cv2.Sobel(picture.lab, cv2.CV_32F, *by) for by in ((1, 0), (0, 1)))
    slope = np.hypot(across, down).sum(axis=2)
    found = segmentation.watershed(slope, _sure(picture))  # type: ignore[no-untyped-call]
    return np.asarray(found - 1, np.int32)


def _sure(picture: Picture) -> Classes:
    """Class + 1 round the taps and where colour leaves no choice, else 0: untapped pieces need it too."""
    off = np.array([np.linalg.norm(picture.lab - m, axis=2) for m in picture.middles(picture.lab)])
    order = np.sort(off, axis=0)
    sure = (order[0] < 8) | (order[0] < 0.4 * order[min(1, len(order) - 1)])
    markers = np.where(sure, np.argmin(off, axis=0) + 1, 0).astype(np.int32)
    alike = ndimage.minimum_filter(markers, 5) == ndimage.maximum_filter(markers, 5)
    return np.where(picture.seeds > 0, picture.seeds, np.where(alike, markers, 0))


def forest(picture: Picture) -> Classes:
    """A random forest (Breiman 2001) on colour and texture round the taps."""
    return _classified(picture, RandomForestClassifier(60, max_depth=12, n_jobs=1, random_state=1))


def discriminant(picture: Picture) -> Classes:
    """Linear discriminant analysis (Fisher 1936) on colour and texture round the taps."""
    return _classified(picture, LinearDiscriminantAnalysis())


def _classified(picture: Picture, model: RandomForestClassifier | LinearDiscriminantAnalysis) -> Classes:
    """L*a*b* at three scales and the local spread of L*, which say nothing of where a cell is."""
    lab = color.rgb2lab(picture.rgb).astype(np.float32)
    planes = [cv2.GaussianBlur(lab, (0, 0), s) for s in (1.0, 2.0, 4.0)]
    light = lab[..., :1]
    for s in (2.0, 4.0):
        mean = cv2.GaussianBlur(light, (0, 0), s)
        planes.append(np.sqrt(np.maximum(0, cv2.GaussianBlur(light**2, (0, 0), s) - mean**2))[..., None])
    features = np.concatenate(planes, axis=2)
    known = picture.seeds > 0
    model.fit(features[known], picture.seeds[known] - 1)
    found = model.predict(features.reshape(-1, features.shape[2]))
    return np.asarray(found.reshape(known.shape), np.int32)


PEERS: Mapping[str, Callable[[Picture], Classes]] = {
    "nearest colour in L*a*b*": nearest_in_lab,
    "HSV ranges": hsv_ranges,
    "k-means in L*a*b*": k_means,
    "GrabCut a colour": grab_cut,
    "random walker": random_walker,
    "watershed": watershed,
    "random forest": forest,
    "linear discriminant": discriminant,
}


def segmented(peer: str, scene: TrueScene, rgb: NDArray[np.uint8]) -> tuple[Labels, Labels]:
    """What a peer makes of a whole photo (H, W, 3): labels, and those with narrow contacts parted, (H, W)."""
    with threadpool_limits(1):
        picture, box, view = picture_of(scene, rgb)
        classes = PEERS[peer](picture)
        roles = [colour.role for colour in scene.palette]
        label = np.zeros(len(roles) + 1, np.uint8)  # the last one is for class -1, 'none'
        doughs = [k for k, role in enumerate(roles) if role != "table"]
        label[doughs] = np.arange(1, len(doughs) + 1)
        labels = _without_specks(label[classes], view.mm_per_px)
        conducts = np.isin(labels, [label[k] for k in doughs if roles[k] == "conductive"])
        parted = np.where(conducts & ~_opened(conducts, view.mm_per_px), np.uint8(0), labels)
    return _laid_out(labels, box, rgb), _laid_out(parted, box, rgb)


def picture_of(
    scene: TrueScene, rgb: NDArray[np.uint8]
) -> tuple[Picture, tuple[int, int, int, int], TableView]:
    """The picture a peer gets, its box (left, top, right, bottom) [px], and the scale of its cells."""
    mm = scene.view.mm_per_px
    taps = [tap for colour in scene.palette for tap in colour.taps] + [mark.at for mark in scene.marks]
    low = np.maximum(0, np.floor(np.min(taps, axis=0) - MARGIN_MM / mm)).astype(int)
    high = np.minimum(rgb.shape[1::-1], np.ceil(np.max(taps, axis=0) + MARGIN_MM / mm)).astype(int)
    part = rgb[low[1] : high[1], low[0] : high[0]]
    scale = min(1.0, float(np.sqrt(MOST_CELLS / (part.shape[0] * part.shape[1]))))
    small = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    seeds = np.zeros(small.shape[:2], np.int32)
    radius = max(1, round(TAP_MM / mm * scale))
    for k, colour in enumerate(scene.palette, start=1):
        for x, y in colour.taps:
            cv2.circle(seeds, (round((x - low[0]) * scale), round((y - low[1]) * scale)), radius, k, -1)
    box = (int(low[0]), int(low[1]), int(high[0]), int(high[1]))
    return Picture(np.asarray(small, np.uint8), seeds, mm / scale), box, TableView(mm / scale, (0, 0), True)


def _without_specks(labels: Labels, cell_mm: float) -> Labels:
    """A median against noise, then areas under 4 mm2 get the label beside them."""
    out = cv2.medianBlur(labels, 5)
    small = np.zeros(out.shape, bool)
    for value in np.unique(out):
        parts, _ = ndimage.label(out == value)
        tiny = np.bincount(parts.ravel()) * cell_mm**2 < SPECK_MM2
        tiny[0] = False
        small |= tiny[parts]
    if small.any() and not small.all():
        rows, cols = ndimage.distance_transform_edt(small, return_distances=False, return_indices=True)
        out = out[rows, cols]
    return np.asarray(out, np.uint8)


def _opened(mask: NDArray[np.bool_], cell_mm: float) -> NDArray[np.bool_]:
    size = 2 * max(1, round(NECK_MM / cell_mm)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc).astype(bool)


def _laid_out(labels: Labels, box: tuple[int, int, int, int], rgb: NDArray[np.uint8]) -> Labels:
    """Labels of a box on the whole photo; the rest is table."""
    left, top, right, bottom = box
    out = np.zeros(rgb.shape[:2], np.uint8)
    out[top:bottom, left:right] = cv2.resize(
        labels, (right - left, bottom - top), interpolation=cv2.INTER_NEAREST
    )
    return out
