"""Parts of a photo destroyed, so that nobody can be made out who wandered into it.

A face that is pixelated or blurred in the usual way is still in the picture: each tile is a mean of what it
hides, and from such means faces and digits have been recognised (McPherson, Shokri and Shmatikov, 'Defeating
Image Obfuscation with Deep Learning', arXiv 1609.00408, 2016). So nothing here is computed from what is
covered: the tiles take their colours from what lies *round* it, which also lets a table go on as a table.

Notation: H, W photo pixels; R, C tiles.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from api.cover_schemas import Area, Box, BoxArea, StrokeArea
from api.errors import InputError

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Frame = tuple[int, int, int, int]

BLOCK_PX = 8
"""Side of a block of a JPEG (ITU-T T.81): each of its pixels holds something of all the others."""
MARGIN_PX = 8
"""So much more is covered round what was drawn: half a block of colour as cameras write it (4:2:0)."""
TILES_ACROSS = 60
"""Tiles along the longer side: coarse enough to be seen as a cover (estimated)."""
RELIEF = 7
"""Every other tile is so much lighter, of 255, so that nobody takes the cover for a photo (estimated)."""
LEAST_FRAME_PX = 64
NO_COLOUR = 128
"""Grey, where there is nothing round an area to take a colour from."""


def checked_frame(frame: Box, width: int, height: int, before: Frame | None = None) -> Frame:
    """The whole blocks inside a frame [px], which also lie inside the frame `before`.

    A block that the frame cuts through would keep something of what lies outside.

    Raises InputError when hardly anything would be left.
    """
    left, top, right, bottom = before or (0, 0, width, height)
    sides = (
        _inward(max(frame[0], left), width, np.ceil),
        _inward(max(frame[1], top), height, np.ceil),
        _inward(min(frame[2], right), width, np.floor),
        _inward(min(frame[3], bottom), height, np.floor),
    )
    if min(sides[2] - sides[0], sides[3] - sides[1]) < LEAST_FRAME_PX:
        raise InputError(
            "The part to keep is under {least} pixels wide or high. Draw it larger.", least=LEAST_FRAME_PX
        )
    return sides


def covered_mask(areas: Sequence[Area], width: int, height: int) -> Mask:
    """(H, W): the blocks that are destroyed by these areas, a margin included.

    Raises InputError when an area has no part in the photo.
    """
    drawn = np.zeros((height, width), np.uint8)
    for one in areas:
        alone = np.zeros_like(drawn) if len(areas) > 1 else drawn
        _draw(one, alone)
        if not alone.any():
            raise InputError(
                "An area lies outside the photo of {width} x {height} pixels. Draw it on the photo.",
                width=width,
                height=height,
            )
        drawn |= alone
    reach = 2 * MARGIN_PX + 1
    grown = cv2.dilate(drawn, np.ones((reach, reach), np.uint8))
    down, across = -height % BLOCK_PX, -width % BLOCK_PX
    blocks = cv2.copyMakeBorder(grown, 0, down, 0, across, cv2.BORDER_CONSTANT, value=0)
    any_in = blocks.reshape(blocks.shape[0] // BLOCK_PX, BLOCK_PX, -1, BLOCK_PX).any(axis=(1, 3))
    return np.kron(any_in, np.ones((BLOCK_PX, BLOCK_PX), bool))[:height, :width]


def without(pixels: Pixels, mask: Mask, frame: Frame | None) -> Pixels:
    """The picture (H, W, 3) with tiles where the mask holds, and one flat colour outside the frame."""
    outside = np.zeros(mask.shape, bool)
    if frame is not None:
        left, top, right, bottom = frame
        outside[:] = True
        outside[top:bottom, left:right] = False
    gone = mask | outside
    done = np.where(gone[..., None], _tiles(pixels, gone), pixels) if mask.any() else pixels.copy()
    if frame is not None:
        done[outside] = _rim_colour(done, frame)
    return np.ascontiguousarray(done, np.uint8)


def _inward(value: float, whole: int, how: np.ufunc) -> int:
    """A side of the frame moved to the next border of blocks; that of the photo stays."""
    held = min(max(value, 0.0), float(whole))
    return whole if held >= whole else int(how(held / BLOCK_PX)) * BLOCK_PX


def _draw(area: Area, into: NDArray[np.uint8]) -> None:
    if isinstance(area, BoxArea):
        left, top, right, bottom = _bounded_box(area, into.shape[1], into.shape[0])
        into[top:bottom, left:right] = 1
    else:
        _draw_stroke(area, into)


def _bounded_box(area: BoxArea, width: int, height: int) -> Frame:
    """Pixel borders of a box, however its corners were told."""
    x0, y0, x1, y1 = area.box
    left, right = np.clip(sorted((x0, x1)), 0, width)
    top, bottom = np.clip(sorted((y0, y1)), 0, height)
    return int(np.floor(left)), int(np.floor(top)), int(np.ceil(right)), int(np.ceil(bottom))


def _draw_stroke(area: StrokeArea, into: NDArray[np.uint8]) -> None:
    """Discs along the line; what runs far out of the photo is cut off first, for OpenCV counts in 32 bits."""
    height, width = into.shape
    reach = area.width_px
    points = np.clip(np.array(area.points, float), -reach, [width + reach, height + reach])
    whole = np.round(points).astype(np.int32)
    thick = max(1, round(area.width_px))
    cv2.polylines(into, [whole.reshape(-1, 1, 2)], isClosed=False, color=1, thickness=thick)
    for x, y in whole.tolist():
        cv2.circle(into, (x, y), max(1, thick // 2), color=1, thickness=-1)


def _tiles(pixels: Pixels, gone: Mask) -> Pixels:
    """(H, W, 3): tiles coloured from the pixels of their neighbourhood that stay, and from no others."""
    height, width = gone.shape
    side = max(2, round(max(height, width) / TILES_ACROSS / BLOCK_PX)) * BLOCK_PX
    count = _sums((~gone)[..., None].view(np.uint8), side)[..., 0]
    if not count.any():
        return np.full_like(pixels, NO_COLOUR)
    sums = _sums(np.where(gone[..., None], np.uint8(0), pixels), side)
    filled = _spread(sums / np.maximum(count, 1)[..., None], count > 0)
    row, column = np.indices(count.shape)
    filled += np.where((row + column) % 2, RELIEF, -RELIEF)[..., None]
    tiles = np.clip(np.round(filled), 0, 255).astype(np.uint8)
    whole: Pixels = tiles.repeat(side, axis=0).repeat(side, axis=1)
    return whole[:height, :width]


def _sums(values: Pixels, side: int) -> NDArray[np.int64]:
    """(H, W, n) summed over tiles: (R, C, n)."""
    # Row of tiles by row of tiles: all at once would take eight times the photo's memory.
    starts = range(0, values.shape[0], side)
    rows = np.stack([values[at : at + side].sum(axis=0, dtype=np.int64) for at in starts])
    return np.add.reduceat(rows, range(0, values.shape[1], side), axis=1)


def _spread(means: NDArray[np.float64], known: Mask) -> NDArray[np.float64]:
    """(R, C, 3): tiles of which nothing stays take the colour of the nearest others, smoothly."""
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    filled = means[nearest[0], nearest[1]]
    smooth = cv2.GaussianBlur(filled, (0, 0), sigmaX=1.5, borderType=cv2.BORDER_REPLICATE)
    spread: NDArray[np.float64] = np.where(known[..., None], filled, smooth)
    return spread


def _rim_colour(pixels: Pixels, frame: Frame) -> NDArray[np.uint8]:
    """Mean colour just inside the frame: a table that ends there goes on outside."""
    left, top, right, bottom = frame
    part = pixels[top:bottom, left:right]
    rim = (part[:BLOCK_PX], part[-BLOCK_PX:], part[:, :BLOCK_PX], part[:, -BLOCK_PX:])
    mean = np.concatenate([one.reshape(-1, 3) for one in rim]).mean(axis=0)
    return np.asarray(np.round(mean), np.uint8)
