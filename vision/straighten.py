"""The photo laid flat: resampled on a straight grid of the table, and labels put back on the photo.

Notation: H, W photo pixels; h, w cells of the grid (rows, columns). A box is left, top, right,
bottom in mm of its view, and may reach beyond the photo.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.model import Photo, Point, TableView

BoxMm = tuple[float, float, float, float]
Matrix = NDArray[np.float64]

_TWICE_ABOVE = 1.5
"""With more stored pixels than this along a cell, four samples a cell are taken and averaged; up to it one
bilinear sample reaches as far as the cell."""
_NEARLY = 0.1
"""So much short of a whole number of pixels along a cell is a whole number."""


def grid_shape(box_mm: BoxMm, cell_mm: float) -> tuple[int, int]:
    """Rows and columns of the grid that covers the box; the last ones may stick out of it."""
    left, top, right, bottom = box_mm
    # A box that is a whole number of cells, but for rounding, gets no cell more.
    return (
        max(1, math.ceil((bottom - top) / cell_mm - 1e-6)),
        max(1, math.ceil((right - left) / cell_mm - 1e-6)),
    )


def view_of_grid(view: TableView, box_mm: BoxMm) -> TableView:
    """The view whose mm count from the top left corner of the box."""
    return replace(view, origin_px=view.to_px((box_mm[0], box_mm[1])))


def photo_in_mm(view: TableView, size: tuple[int, int]) -> BoxMm:
    """The box round a photo of this width and height."""
    return box_round(view, _corners((0, 0, *size)))


def box_round(view: TableView, places: Sequence[Point]) -> BoxMm:
    """The box [mm of `view`] round places on the photo [px]."""
    return _around([view.to_mm(at) for at in places])


def straightened(photo: Photo, view: TableView, box_mm: BoxMm, cell_mm: float) -> NDArray[np.uint8]:
    """The photo as seen from straight above: sRGB (h, w, 3), square cells of `cell_mm`.

    Each cell is the mean of the photo over about its own area where the photo is finer. Cells beyond
    the photo repeat its rim.
    """
    rows, cols = grid_shape(box_mm, cell_mm)
    to_stored = _cells_to_px(view, box_mm, cell_mm)
    to_stored = _scaling(1 / photo.shrink) @ to_stored
    left, top, right, bottom = _part(to_stored, (rows, cols), photo.pixels)
    part = photo.pixels[top:bottom, left:right]
    fine = cell_mm / (photo.shrink * view.mm_per_px_at(_middle_px(view, box_mm)))
    times = max(1, min(math.floor(fine + _NEARLY), *part.shape[:2]))
    if times > 1:
        part = part[: part.shape[0] // times * times, : part.shape[1] // times * times]
        size = (part.shape[1] // times, part.shape[0] // times)
        part = np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_AREA), np.uint8)
    twice = 2 if fine / times > _TWICE_ABOVE else 1
    to_part = _scaling(1 / times) @ _moving(-left, -top) @ to_stored @ _scaling(1 / twice)
    found = _sampled(part, to_part, (rows * twice, cols * twice))
    if twice == 2:
        found = cv2.resize(found, (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(found, np.uint8)


def on_photo(
    values: NDArray[Any], view: TableView, box_mm: BoxMm, cell_mm: float, size: tuple[int, int]
) -> NDArray[Any]:
    """Values of cells (h, w) laid out on the photo of this width and height: (H, W), 0 beyond the box.

    Each photo pixel takes the cell in which its middle lies.
    """
    width, height = size
    out = np.zeros((height, width), values.dtype)
    if view.homography is None:
        _place(out, values, view, box_mm, cell_mm)
        return out
    rows, cols = values.shape
    to_px = _cells_to_px(view, box_mm, cell_mm)
    left, top, right, bottom = _part(to_px, (rows, cols), out)
    # Pixel (x, y) has its middle half a pixel on, and so have cells.
    back = _moving(-0.5, -0.5) @ np.linalg.inv(to_px) @ _moving(left + 0.5, top + 0.5)
    kind = (
        np.float32 if values.dtype.itemsize == 4 else np.uint8 if values.dtype == np.bool_ else values.dtype
    )
    out[top:bottom, left:right] = cv2.warpPerspective(
        values.view(kind),  # nearest neighbours are copied, so only the number of bytes matters
        back,
        (right - left, bottom - top),
        flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=0,
    ).view(values.dtype)
    return out


def _place(out: NDArray[Any], values: NDArray[Any], view: TableView, box_mm: BoxMm, cell_mm: float) -> None:
    """`on_photo` for a scale that is the same everywhere: rows and columns are looked up."""
    x, y = view.to_px((box_mm[0], box_mm[1]))
    px = cell_mm / view.mm_per_px
    rows, cols = (
        np.floor((np.arange(n) + 0.5 - start) / px).astype(np.intp)
        for n, start in zip(out.shape, (y, x), strict=True)
    )
    inside = [np.nonzero((at >= 0) & (at < n))[0] for at, n in zip((rows, cols), values.shape, strict=True)]
    if not (len(inside[0]) and len(inside[1])):
        return
    (top, bottom), (left, right) = ((span[0], span[-1] + 1) for span in inside)
    wide = np.take(values, cols[left:right], axis=1)
    out[top:bottom, left:right] = np.take(wide, rows[top:bottom], axis=0)


def _cells_to_px(view: TableView, box_mm: BoxMm, cell_mm: float) -> Matrix:
    """From places on the grid (1 a cell, its corner 0) to photo px."""
    left, top = view.to_px((box_mm[0], box_mm[1]))
    if view.homography is None:
        return _moving(left, top) @ _scaling(cell_mm / view.mm_per_px)
    to_mm = np.array(view.homography).reshape(3, 3)
    corner = to_mm @ [left, top, 1]
    back = np.linalg.inv(to_mm) @ _moving(*(corner[:2] / corner[2])) @ _scaling(cell_mm)
    return np.asarray(back / np.sign((back @ [0, 0, 1])[2]), np.float64)


def _sampled(part: NDArray[Any], to_part: Matrix, shape: tuple[int, int]) -> NDArray[Any]:
    """Bilinear samples of a part of the photo at the middles of cells."""
    matrix = _moving(-0.5, -0.5) @ to_part @ _moving(0.5, 0.5)
    flags, size = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, (shape[1], shape[0])
    if np.allclose(matrix[2, :2], 0, atol=1e-12):
        affine = matrix[:2] / matrix[2, 2]
        return cv2.warpAffine(part, affine, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return cv2.warpPerspective(part, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)


def _part(to_px: Matrix, shape: tuple[int, int], pixels: NDArray[Any]) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the part of a picture that a grid of this shape needs; never empty."""
    high, wide = pixels.shape[:2]
    far = np.array(_corners((0, 0, shape[1], shape[0]))) @ to_px[:, :2].T + to_px[:, 2]
    if (far[:, 2] <= 0).any():  # the box reaches beyond the horizon
        return 0, 0, wide, high
    left, top, right, bottom = _around([(float(x / w), float(y / w)) for x, y, w in far])
    left, top = (min(max(0, math.floor(v) - 2), n - 1) for v, n in ((left, wide), (top, high)))
    return (
        int(left),
        int(top),
        max(int(left) + 1, min(wide, math.ceil(right) + 2)),
        max(int(top) + 1, min(high, math.ceil(bottom) + 2)),
    )


def _middle_px(view: TableView, box_mm: BoxMm) -> Point:
    return view.to_px(((box_mm[0] + box_mm[2]) / 2, (box_mm[1] + box_mm[3]) / 2))


def _corners(box: tuple[float, float, float, float]) -> list[Point]:
    left, top, right, bottom = box
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def _around(points: list[Point]) -> BoxMm:
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _moving(x: float, y: float) -> Matrix:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1]], np.float64)


def _scaling(by: float) -> Matrix:
    return np.diag([by, by, 1.0])
