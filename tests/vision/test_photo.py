"""Photos in all formats, turned in all ways, and files that are no good."""

import io
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from vision.errors import PhotoError
from vision.photo import encode_jpeg, open_photo

PHOTOS = Path(__file__).resolve().parents[2] / ".." / "shared" / "photos"
absent = pytest.mark.skipif(not PHOTOS.is_dir(), reason="the shared photos are not beside the project")

pillow_heif.register_heif_opener(thumbnails=False)

UPRIGHT = np.kron(
    np.array(
        [[[250, 20, 20], [20, 250, 20], [20, 20, 250]], [[250, 250, 20], [20, 20, 20], [250, 250, 250]]]
    ),
    np.ones((32, 32, 1)),
).astype(np.uint8)
"""Six squares of different colours, 64 x 96 pixels."""

# How the upright picture is stored for each EXIF orientation (JEITA CP-3451, tag 274): where row 0
# and column 0 of the stored picture lie in the upright one.
STORED = {
    1: lambda p: p,
    2: lambda p: p[:, ::-1],
    3: lambda p: p[::-1, ::-1],
    4: lambda p: p[::-1],
    5: lambda p: p.transpose(1, 0, 2),
    6: lambda p: p.transpose(1, 0, 2)[::-1],
    7: lambda p: p.transpose(1, 0, 2)[::-1, ::-1],
    8: lambda p: p.transpose(1, 0, 2)[:, ::-1],
}


def as_file(pixels: NDArray[np.uint8], kind: str, orientation: int = 1, **more: object) -> bytes:
    out = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = orientation
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, kind, exif=exif.tobytes(), quality=95, **more)
    return out.getvalue()


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_all_orientations_come_out_upright(kind: str, orientation: int) -> None:
    photo = open_photo(as_file(STORED[orientation](UPRIGHT), kind, orientation))
    centres = photo.pixels[16::32, 16::32].astype(int)
    assert (photo.width, photo.height) == (96, 64)
    assert np.abs(centres - UPRIGHT[16::32, 16::32]).max() < 30


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_heic_is_turned_once(orientation: int) -> None:
    photo = open_photo(as_file(STORED[orientation](UPRIGHT), "HEIF", orientation))
    centres = photo.pixels[16::32, 16::32].astype(int)
    assert np.abs(centres - UPRIGHT[16::32, 16::32]).max() < 40


def test_the_stored_table_says_where_row_and_column_0_lie() -> None:
    """JEITA CP-3451 p. 18: for 6, row 0 lies at the visual right and column 0 at the visual top."""
    stored = STORED[6](UPRIGHT)
    assert (stored[0] == UPRIGHT[:, -1]).all()
    assert (stored[:, 0] == UPRIGHT[0][::-1]).all()


def test_16_bit_grey_alpha_palette_and_cmyk() -> None:
    grey = np.full((40, 40), 65535, np.uint16)
    grey[:20] = 257 * 100
    out = io.BytesIO()
    Image.fromarray(grey).save(out, "PNG")
    deep = open_photo(out.getvalue()).pixels
    assert deep[0, 0].tolist() == [100, 100, 100]
    assert deep[-1, -1].tolist() == [255, 255, 255]

    clear = Image.new("RGBA", (40, 40), (200, 0, 0, 0))
    assert open_photo(saved(clear, "PNG")).pixels[5, 5].tolist() == [255, 255, 255]

    few = Image.new("RGB", (40, 40), (10, 200, 30)).quantize(4)
    assert open_photo(saved(few, "PNG")).pixels[5, 5].tolist() == [10, 200, 30]

    ink = Image.new("CMYK", (40, 40), (0, 255, 255, 0))
    r, g, b = open_photo(saved(ink, "JPEG")).pixels[5, 5].tolist()
    assert r > 200 and g < 60 and b < 60


def saved(image: Image.Image, kind: str) -> bytes:
    out = io.BytesIO()
    image.save(out, kind)
    return out.getvalue()


def test_pixels_are_read_only_and_metadata_is_gone() -> None:
    data = as_file(UPRIGHT, "JPEG", 6, comment=b"secret place")
    photo = open_photo(data)
    assert not photo.pixels.flags.writeable
    stored = encode_jpeg(photo, 90)
    again = Image.open(io.BytesIO(stored))
    assert again.size == (photo.width, photo.height)
    assert not again.getexif()
    assert b"secret" not in stored
    assert "comment" not in again.info


def one_sentence_or_two(message: str) -> bool:
    return message[0].isupper() and message.endswith(".") and len(message) < 200


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "0 bytes"),
        (b"Dear all,\nthis is no photo.\n", "no photo"),
        (b"\xff\xd8\xff", "no photo"),
        (b"GIF89a" + bytes(400), "no photo"),
    ],
)
def test_what_is_no_photo_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(PhotoError, match=words) as caught:
        open_photo(data)
    assert one_sentence_or_two(str(caught.value))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_what_is_cut_short_is_refused(kind: str, share: float) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (300, 300, 3), np.uint8)
    data = as_file(noise, kind)
    with pytest.raises(PhotoError, match="damaged"):
        open_photo(data[: int(len(data) * share)])


def test_too_many_pixels_are_refused_before_decoding() -> None:
    image = Image.new("1", (10_000, 6_001))
    with pytest.raises(PhotoError, match="10000 x 6001"):
        open_photo(saved(image, "PNG"))


@absent
@pytest.mark.parametrize(
    "name",
    [
        "truncated_jpeg.jpg",
        "truncated_image.png",
        "truncated.heic",
        "corrupted.heic",
        "200MP.heic",
        "broken.png",
        "empty.heic",
        "decompression_bomb.gif",
        "broken_data_stream.png",
        "png_decompression_dos.png",
    ],
)
def test_hostile_files_get_one_sentence(name: str) -> None:
    with pytest.raises(PhotoError) as caught:
        open_photo((PHOTOS / "hostile" / name).read_bytes())
    assert one_sentence_or_two(str(caught.value))


@absent
@pytest.mark.parametrize(
    "name",
    [
        "exif_gps_typeerror.jpg",
        "exif_typeerror.jpg",
        "invalid-exif.jpg",
        "junk_jpeg_header.jpg",
        "truncated_exif_dpi.jpg",
        "icc-after-SOF.jpg",
        "jpeg_ff00_header.jpg",
    ],
)
def test_odd_metadata_does_not_cost_the_photo(name: str) -> None:
    assert open_photo((PHOTOS / "hostile" / name).read_bytes()).width > 0


@absent
def test_formats_of_phones() -> None:
    assert open_photo((PHOTOS / "formats" / "xiaomi.heic").read_bytes()).pixels.shape[2] == 3
    assert open_photo((PHOTOS / "formats" / "pil_sample_cmyk.jpg").read_bytes()).pixels.shape == (100, 100, 3)
    assert open_photo((PHOTOS / "formats" / "hopper_gray.jpg").read_bytes()).pixels.shape == (128, 128, 3)


@absent
@pytest.mark.parametrize("turn", range(1, 9))
def test_published_examples_of_orientation_look_alike(turn: int) -> None:
    first = open_photo((PHOTOS / "orientation" / "Landscape_1.jpg").read_bytes()).pixels
    other = open_photo((PHOTOS / "orientation" / f"Landscape_{turn}.jpg").read_bytes()).pixels
    assert other.shape == first.shape
    small = [p.reshape(12, 100, 18, 100, 3).mean(axis=(1, 3)) for p in (first, other)]
    # Each example has its own number printed on it, so only most of the picture is the same.
    assert np.median(np.abs(small[0] - small[1])) < 3
