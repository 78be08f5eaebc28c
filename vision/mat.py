"""The printed work mat found in a photo: its markers and the view of the table that they give."""

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.errors import ScaleError
from vision.mat_colours import FilledPad, blank_paper, filled_pad, gains_of, laid_flat
from vision.mat_layout import (
    DICTIONARY,
    FIRST_ID,
    MARKER_MM,
    MODULES,
    MatLayout,
    Paper,
    box_corners,
    mat_layout,
)
from vision.model import Photo, Point, TableView
from vision.srgb import LINEAR
from vision.straighten import BoxMm, box_round
from vision.table_view import perspective_view

FIRST_LOOK_PX = 2100
"""Long side of the picture in which markers are looked for: all of what is stored of most photos."""
WINDOWS_PX = (5, 45, 20)
"""Smallest, largest and step of the windows of the threshold: about one to six squares of a marker."""
CORRECTED = 0.9
"""Two wrong squares in a marker are put right, of the three that the dictionary allows (measured: with
one, up to three in ten markers are missed at some sizes)."""
CORNER_PX = 0.3
"""Error of a marker's corner (estimated; blur and JPEG included), for the error that follows from it."""
MOST_OFF = 0.015
"""Largest error of lengths on the mat that may follow: 1.5 %, under the 2 % wanted."""
_LIGHT = np.rint(255 * LINEAR).astype(np.uint8)
OUTLIER = 0.004
"""Corners farther off than this share of the photo's long side belong to something else (estimated)."""


@dataclass(frozen=True)
class Mat:
    """A mat as it lies in a photo.

    residual_px  how far the found corners lie from where the view puts them, root mean square
    off          error to expect of lengths in the middle of the mat, as a share
    gains        (R, G, B) by which linear light is multiplied so that the grey patches come out neutral;
                 None when no patch can be seen
    pads         those with dough on them
    table_taps   places [px] of blank paper
    work_px      corners of the free middle [px], going round from the top left one of the print
    work_mm      the free middle as a box of `view`, whose axes are those of the print
    """

    paper: Paper
    view: TableView
    markers: int
    residual_px: float
    off: float
    gains: tuple[float, float, float] | None
    pads: tuple[FilledPad, ...]
    table_taps: tuple[Point, ...]
    work_px: tuple[Point, ...]
    work_mm: BoxMm


def find_mat(photo: Photo) -> Mat | None:
    """The work mat in a photo; None when none of its markers can be seen.

    Straight lines are taken to be straight in the photo: the bend of a lens is not undone.

    Raises:
        ScaleError: too few markers to know the scale everywhere, or seen too far from aside.
    """
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    seen = _markers(np.asarray(grey, np.uint8))
    paper = _paper_of(seen)
    if paper is None:
        return None
    layout = mat_layout(paper)
    ours = {number: corners for number, corners in seen.items() if number in layout.markers}
    at_px = np.concatenate([(c + 0.5) * photo.shrink for c in ours.values()])
    at_mm = np.concatenate([_corners_mm(layout.markers[number]) for number in ours])
    to_px, kept = _fitted(at_mm, at_px, max(photo.width, photo.height))
    error = np.linalg.norm(_through(to_px, at_mm[kept]) - at_px[kept], axis=1)
    off = _expected_error(to_px, at_mm[kept], layout, CORNER_PX * photo.shrink)
    if off > MOST_OFF:
        raise ScaleError(
            "Only {count} of the {all} black squares of the mat can be seen, too few or too "
            "close together; take the photo again with the whole mat in it and its rim free.",
            count=len(ours),
            all=len(layout.markers),
        )
    to_mm = np.asarray(np.linalg.inv(to_px), np.float64)
    view = perspective_view(to_mm, (photo.width, photo.height), quarters=True)
    flat = laid_flat(photo, layout, to_mm, view.mm_per_px)
    work_px = tuple(flat.view.to_px(at) for at in box_corners(layout.work))
    return Mat(
        paper,
        view,
        len(ours),
        float(np.sqrt(np.mean(error**2))),
        off,
        gains_of(flat, layout),
        tuple(found for pad in layout.pads if (found := filled_pad(flat, pad))),
        blank_paper(flat, layout),
        work_px,
        box_round(view, work_px),
    )


def _markers(grey: NDArray[np.uint8]) -> dict[int, NDArray[np.float64]]:
    """Corners (4, 2) of each marker by its number, in stored pixels (whole numbers are middles)."""
    times = max(1.0, max(grey.shape) / FIRST_LOOK_PX)
    small = grey
    if times > 1:
        size = (round(grey.shape[1] / times), round(grey.shape[0] / times))
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), np.uint8)
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.adaptiveThreshWinSizeMin, parameters.adaptiveThreshWinSizeMax = WINDOWS_PX[:2]
    parameters.adaptiveThreshWinSizeStep = WINDOWS_PX[2]
    parameters.errorCorrectionRate = CORRECTED
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    found, numbers, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(small)
    # In linear light the middle of a blurred edge is where the edge is; in sRGB white grows by half a pixel.
    light = cv2.LUT(grey, _LIGHT)
    out: dict[int, NDArray[np.float64]] = {}
    stretch = np.array([grey.shape[1] / small.shape[1], grey.shape[0] / small.shape[0]])
    for corners, number in zip(found, [] if numbers is None else numbers.ravel(), strict=True):
        rough = (np.asarray(corners, np.float64).reshape(4, 2) + 0.5) * stretch - 0.5
        side = np.linalg.norm(rough - np.roll(rough, 1, axis=0), axis=1).min()
        # The window must not reach the next corner of the pattern, a module away.
        half = int(np.clip(round(side / MODULES * 0.6), 2, 12))
        start = rough.astype(np.float32).reshape(-1, 1, 2)
        stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
        fine = cv2.cornerSubPix(light, start, (half, half), (-1, -1), stop).reshape(4, 2)
        out[int(number)] = np.asarray(fine, np.float64)
    return out


def _paper_of(seen: Mapping[int, object]) -> Paper | None:
    """The paper that most of the markers belong to."""
    counts = {paper: sum(n in mat_layout(paper).markers for n in seen) for paper in FIRST_ID}
    best = max(counts, key=lambda paper: counts[paper])
    return best if counts[best] else None


def _corners_mm(at: Point) -> NDArray[np.float64]:
    """Corners (4, 2) of a marker in the order in which they are found."""
    return np.array(box_corners((at[0], at[1], at[0] + MARKER_MM, at[1] + MARKER_MM)))


def _fitted(
    at_mm: NDArray[np.float64], at_px: NDArray[np.float64], long_px: int
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """The homography (3, 3) from paper mm to photo px, and which corners (N,) agree with it."""
    to_px, kept = cv2.findHomography(
        at_mm, at_px, cv2.RANSAC, OUTLIER * long_px, maxIters=500, confidence=0.999
    )
    if to_px is None:
        raise ScaleError("The black squares of the mat make no plane; lay the mat flat and take it again.")
    return np.asarray(to_px, np.float64), kept.ravel().astype(bool)


def _through(matrix: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points (N, 2) through a homography."""
    far = np.column_stack([at, np.ones(len(at))]) @ matrix.T
    return np.asarray(far[:, :2] / far[:, 2:], np.float64)


def _expected_error(
    to_px: NDArray[np.float64], at_mm: NDArray[np.float64], layout: MatLayout, corner_px: float
) -> float:
    """The error of lengths across the free middle that follows from errors of the corners, as a share.

    First order: covariance of the eight parameters from the Jacobian at the corners, carried to the
    corners of the free middle; sigma of their places over half the height of the free middle.
    """
    jacobian = _by_parameters(to_px, at_mm)
    target = np.array(box_corners(layout.work))
    scale = np.linalg.norm(jacobian, axis=0)  # parameters of very unlike size
    spread = np.linalg.pinv(jacobian / scale, rcond=1e-9)
    there = (_by_parameters(to_px, target) / scale) @ spread
    sigma_px = corner_px * np.linalg.norm(there, axis=1).reshape(-1, 2).max(axis=1)
    px_per_mm = [np.sqrt(abs(np.linalg.det(_slopes(to_px, at)))) for at in target]
    half = (layout.work[3] - layout.work[1]) / 2
    return float(np.max(sigma_px / px_per_mm) / half)


def _by_parameters(matrix: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Derivatives (2 N, 8) of the projected points by the first eight entries of the homography."""
    one = np.column_stack([at, np.ones(len(at))])
    w = one @ matrix[2]
    to = _through(matrix, at)
    out = np.zeros((len(at), 2, 8))
    out[:, 0, :3] = out[:, 1, 3:6] = one / w[:, None]
    out[:, :, 6:] = -to[:, :, None] * at[:, None, :] / w[:, None, None]
    return out.reshape(-1, 8)


def _slopes(matrix: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y, w = matrix @ [*at, 1.0]
    return np.asarray((matrix[:2, :2] - np.outer([x / w, y / w], matrix[2, :2])) / w, np.float64)
