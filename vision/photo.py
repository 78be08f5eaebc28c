"""From the bytes of a file to an upright photo without metadata."""

import io
import warnings

import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from vision.errors import PhotoError
from vision.model import Photo

MOST_PIXELS = 60_000_000
"""Largest photo taken [px]; phones of today give 12 to 50 megapixels (common practice)."""
KINDS = ("JPEG", "PNG", "WEBP", "HEIF")
_BOXES = (b"ftyp", b"meta", b"mdat", b"moov", b"free", b"skip", b"uuid")
_ORIENTATION = 0x0112
"""EXIF tag 274, JEITA CP-3451."""

pillow_heif.register_heif_opener(thumbnails=False)


def open_photo(data: bytes) -> Photo:
    """Read a JPEG, PNG, WebP or HEIC file.

    The EXIF turn is carried out, transparent parts lie on white, 16 bits become 8, and all
    metadata is dropped. The size is read from the header before any pixel is decoded. A colour
    profile is not applied: colours are only compared within one photo.

    Raises:
        PhotoError: empty, damaged, cut short, too large, or no photo.
    """
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
        # In this order: asking a PNG for its metadata would swallow the errors of its pixels.
        stored = _pixels(image)
        pixels = _upright(stored, _orientation(image))
    pixels.setflags(write=False)
    return Photo(pixels)


def encode_jpeg(photo: Photo, quality: int = 90) -> bytes:
    """The photo as a JPEG file (4:4:4) that holds nothing but its pixels; `quality` 1 to 95."""
    out = io.BytesIO()
    Image.fromarray(photo.pixels).save(out, "JPEG", quality=quality, subsampling=0)
    return out.getvalue()


def _open(data: bytes) -> Image.Image:
    """The image with its header read."""
    try:
        return Image.open(io.BytesIO(data), formats=KINDS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PhotoError(
            f"The photo has more than {MOST_PIXELS // 1_000_000} megapixels. "
            "Make it smaller and send it again."
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
            f"The photo has {width} x {height} pixels, over {MOST_PIXELS // 1_000_000} megapixels. "
            "Make it smaller and send it again."
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
    deep = np.asarray(image).astype(np.float64)
    grey = np.clip(np.rint(deep / 257.0), 0, 255).astype(np.uint8)
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
