"""From the bytes of a file to an upright photo without metadata, decoded no larger than needed."""

import io
import math
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from vision.errors import PhotoError
from vision.model import Photo

MOST_PIXELS = 60_000_000
"""Largest photo taken [px]; phones of today give 12 to 50 megapixels (common practice)."""
LEAST_LONG_PX, LEAST_SHORT_PX = 320, 240
"""Smallest photo that can be looked at: a frame of 200 mm then has 0.6 mm a pixel (estimated)."""
SHRINKS = (8, 4, 2, 1)
"""Scales at which libjpeg decodes without decoding at full size first."""
FINE_ENOUGH_MM = 0.22
"""Largest stored pixel when the scale is known: about the cell on which is seen, `inputs.SEEN_MM`."""
ENOUGH_PIXELS = 2_500_000
"""Least pixels stored when no scale is known (estimated: 0.11 mm in a frame of 200 mm)."""
KINDS = ("JPEG", "PNG", "WEBP", "HEIF")
_SAMPLING_444 = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
_BOXES = (b"ftyp", b"meta", b"mdat", b"moov", b"free", b"skip", b"uuid")
_ORIENTATION = 0x0112
"""EXIF tag 274, JEITA CP-3451."""
_REDUCED = {
    1: cv2.IMREAD_COLOR_RGB,
    2: cv2.IMREAD_REDUCED_GRAYSCALE_2 | cv2.IMREAD_COLOR_RGB,
    4: cv2.IMREAD_REDUCED_GRAYSCALE_4 | cv2.IMREAD_COLOR_RGB,
    8: cv2.IMREAD_REDUCED_GRAYSCALE_8 | cv2.IMREAD_COLOR_RGB,
}
"""OpenCV's flags for reduced colour say BGR; the bits for reduction alone go with RGB."""

pillow_heif.register_heif_opener(thumbnails=False)


def photo_size(data: bytes) -> tuple[int, int]:
    """Width and height [px] of the photo as displayed, read from its header.

    Raises:
        PhotoError: empty, too large, or no photo.
    """
    with _header(data) as image:
        if image.format == "PNG" and not any(
            word in data for word in (b"eXIf", b"Orientation", b"Raw profile")
        ):
            return image.size  # asking a PNG for its metadata would decode it
        turned = _orientation(image) >= 5
        return (image.height, image.width) if turned else image.size


def check_large_enough(width: int, height: int) -> None:
    """Raise PhotoError when a photo is too small to see gaps in."""
    if max(width, height) < LEAST_LONG_PX or min(width, height) < LEAST_SHORT_PX:
        raise PhotoError(
            "The photo has only {width} x {height} pixels, under {long} x "
            "{short}. Send the original photo, not a preview of it.",
            width=width,
            height=height,
            long=LEAST_LONG_PX,
            short=LEAST_SHORT_PX,
        )


def shrink_for(width: int, height: int, mm_per_px: float | None = None) -> int:
    """How many photo pixels, 1, 2, 4 or 8, may go into one stored pixel with nothing needed lost.

    With a scale a stored pixel is at most 0.22 mm; without one 2.5 megapixels are kept at least.
    """
    for shrink in SHRINKS:
        if mm_per_px is None:
            fits = width * height >= ENOUGH_PIXELS * shrink * shrink
        else:
            fits = mm_per_px * shrink <= FINE_ENOUGH_MM
        if fits:
            return shrink
    return 1


def open_photo(data: bytes, shrink: int = 1) -> Photo:
    """Read a JPEG, PNG, WebP or HEIC file.

    The EXIF turn is carried out, transparent parts lie on white, 16 bits become 8, and all
    metadata is dropped. The size is read from the header before any pixel is decoded. A colour
    profile is not applied: colours are only compared within one photo. `shrink` is 1, 2, 4 or 8:
    how many photo pixels along each side go into one stored pixel.

    Raises:
        PhotoError: empty, damaged, cut short, too large, or no photo.
    """
    if shrink not in SHRINKS:
        raise ValueError(f"A photo can be shrunk by 1, 2, 4 or 8, not by {shrink}.")
    with _header(data) as image:
        width, height = image.size
        stored, turn = _decoded(data, image, shrink)
        if turn >= 5:
            width, height = height, width
        pixels = _upright(stored, turn)
    if pixels.shape[:2] == (height, width):
        pixels = _averaged(pixels, shrink)
    pixels.setflags(write=False)
    return Photo(pixels, shrink, (width, height))


def encode_jpeg(photo: Photo, quality: int = 90) -> bytes:
    """The photo as a JPEG file (4:4:4) that holds nothing but its pixels; `quality` 1 to 95."""
    told = (cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, _SAMPLING_444)
    done, jpeg = cv2.imencode(".jpg", cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2BGR), told)
    if not done:
        raise ValueError("This picture cannot be written as JPEG.")
    return jpeg.tobytes()


@contextmanager
def _header(data: bytes) -> Iterator[Image.Image]:
    """The image with its header read and its size checked."""
    if not data:
        raise PhotoError("The photo is empty (0 bytes). Take it again and send the new file.")
    if _heif_cut_short(data):
        raise _damaged()
    with warnings.catch_warnings():
        # Pillow warns of odd metadata, which is dropped here anyway.
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        image = _open(data)
        _check_size(image.width, image.height)
        yield image


def _open(data: bytes) -> Image.Image:
    """The image with its header read."""
    try:
        return Image.open(io.BytesIO(data), formats=KINDS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PhotoError(
            "The photo has more than {most} megapixels. Make it smaller and send it again.",
            most=MOST_PIXELS // 1_000_000,
        ) from error
    except UnidentifiedImageError as error:
        raise PhotoError(
            "The file is no photo that can be read, or it is damaged. Send a JPEG, PNG, WebP or HEIC file."
        ) from error
    except Exception as error:  # decoders raise all kinds of errors on hostile files
        raise _damaged() from error


def _check_size(width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise PhotoError(
            "The photo has {width} x {height} pixels, over {most} megapixels. Make it smaller "
            "and send it again.",
            width=width,
            height=height,
            most=MOST_PIXELS // 1_000_000,
        )


def _damaged() -> PhotoError:
    return PhotoError("The photo is damaged or cut short. Take it again or send the original file.")


def _heif_cut_short(data: bytes) -> bool:
    """Whether a box of a HEIF file (ISO/IEC 14496-12) runs beyond its end, which its decoder lets pass."""
    if data[4:8] != b"ftyp":
        return False
    at = 0
    while at + 8 <= len(data) and data[at + 4 : at + 8] in _BOXES:  # phones add things of their own behind
        size = int.from_bytes(data[at : at + 4], "big")
        if size == 1:  # the true size follows in 64 bits
            size = int.from_bytes(data[at + 8 : at + 16], "big")
        if size == 0:  # to the end of the file
            return False
        if size < 8:
            return True
        at += size
    return at > len(data)


def _orientation(image: Image.Image) -> int:
    """EXIF orientation, 1 to 8; 1 when it is absent or makes no sense."""
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # a broken metadata block must not cost the photo
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _decoded(data: bytes, image: Image.Image, shrink: int) -> tuple[NDArray[np.uint8], int]:
    """Pixels as stored, at full size or shrunk already, and the orientation."""
    if image.format not in ("JPEG", "MPO"):
        # In this order: asking a PNG for its metadata would swallow the errors of its pixels.
        stored = _pixels(image)
        return stored, _orientation(image)
    turn = _orientation(image)
    # Stored pixels count from the top left corner as displayed; a turn would put a part of one there.
    whole = image.width % shrink == 0 and image.height % shrink == 0
    scale = shrink if whole or turn == 1 else 1
    fast = _jpeg(data, image, scale)
    if fast is not None:
        return fast, turn
    if scale > 1:
        image.draft(None, (image.width // scale, image.height // scale))
    return _pixels(image), turn


def _jpeg(data: bytes, image: Image.Image, scale: int) -> NDArray[np.uint8] | None:
    """A grey or YCbCr JPEG decoded by OpenCV, (H / scale, W / scale, 3); None leaves it to Pillow.

    Both use libjpeg, but OpenCV lets a file that is cut short pass, so its end is looked for first.
    """
    if image.mode not in ("RGB", "L") or not _jpeg_ends(data):
        return None
    try:
        found = cv2.imdecode(np.frombuffer(data, np.uint8), _REDUCED[scale] | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error:
        return None
    if found is None or found.shape != (math.ceil(image.height / scale), math.ceil(image.width / scale), 3):
        return None
    return np.asarray(found, np.uint8)


def _jpeg_ends(data: bytes) -> bool:
    """Whether an end marker follows the first scan of a JPEG (ITU-T T.81, annex B)."""
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF and data[at + 1] >= 0xC0:
        if data[at + 1] == 0xDA:
            return data.find(b"\xff\xd9", at) > 0
        # A marker may be led in by any number of 0xFF.
        at += 1 if data[at + 1] == 0xFF else 2 + int.from_bytes(data[at + 2 : at + 4], "big")
    return False


def _averaged(pixels: NDArray[np.uint8], shrink: int) -> NDArray[np.uint8]:
    """Means over squares of `shrink` pixels, (ceil(H / shrink), ceil(W / shrink), 3)."""
    if shrink == 1:
        return pixels
    height, width = pixels.shape[:2]
    down, right = -height % shrink, -width % shrink
    if down or right:
        pixels = np.asarray(cv2.copyMakeBorder(pixels, 0, down, 0, right, cv2.BORDER_REPLICATE), np.uint8)
    size = (pixels.shape[1] // shrink, pixels.shape[0] // shrink)
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def _pixels(image: Image.Image) -> NDArray[np.uint8]:
    """Decoded pixels, (H, W, 3) uint8."""
    try:
        image.load()
        if image.mode.startswith("I") or image.mode == "F":
            return _from_deep_grey(image)
        if image.has_transparency_data:
            rgba = image.convert("RGBA")
            white = Image.new("RGBA", rgba.size, "white")
            return np.array(Image.alpha_composite(white, rgba).convert("RGB"))
        return np.array(image if image.mode == "RGB" else image.convert("RGB"))
    except Exception as error:  # decoders raise all kinds of errors on hostile files
        raise _damaged() from error


def _from_deep_grey(image: Image.Image) -> NDArray[np.uint8]:
    """16-bit grey as 8-bit grey in three channels (Pillow's own conversion would clip)."""
    deep = np.asarray(image).clip(0, 65535).astype(np.uint32)
    grey = ((deep + 128) // 257).astype(np.uint8)
    return np.repeat(grey[:, :, None], 3, axis=2)


def _upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Turn and mirror by EXIF orientation (JEITA CP-3451, tag 274)."""
    if orientation >= 5:
        pixels = pixels.transpose(1, 0, 2)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)
