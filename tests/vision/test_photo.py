"""Photos in all formats, turned in all ways, and files that are no good."""

import io
from pathlib import Path

import cv2
import numpy as np
import pillow_heif
import pytest
from numpy.typing import NDArray
from PIL import Image

from vision.errors import PhotoError
from vision.photo import (
    SHRINKS,
    check_large_enough,
    encode_jpeg,
    open_photo,
    photo_size,
    shrink_for,
)

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


def smooth(height: int, width: int) -> NDArray[np.uint8]:
    """A picture without fine detail, different everywhere."""
    y, x = np.mgrid[:height, :width] / 40.0
    waves = [np.sin(x + 0.3 * y), np.cos(0.7 * y), np.sin(0.5 * x - y)]
    return np.rint(128 + 100 * np.stack(waves, axis=-1)).astype(np.uint8)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("size", [(240, 320), (243, 325)])
def test_shrunk_photos_are_means_that_begin_at_the_corner(
    kind: str, orientation: int, size: tuple[int, int]
) -> None:
    shown = smooth(*size)
    data = as_file(STORED[orientation](shown), kind, orientation)
    assert photo_size(data) == (size[1], size[0])
    for shrink in SHRINKS:
        photo = open_photo(data, shrink)
        assert (photo.width, photo.height, photo.shrink) == (size[1], size[0], shrink)
        rows, cols = -(-size[0] // shrink), -(-size[1] // shrink)
        assert photo.pixels.shape == (rows, cols, 3)
        rim = ((0, rows * shrink - size[0]), (0, cols * shrink - size[1]), (0, 0))
        padded = np.pad(shown, rim, mode="edge").astype(float)
        means = padded.reshape(rows, shrink, cols, shrink, 3).mean(axis=(1, 3))
        # One pixel further on the waves differ by up to 2.5 in each stored pixel of one photo pixel.
        assert np.abs(photo.pixels - means)[:-1, :-1].mean() < 1.2


@pytest.mark.parametrize(
    "more",
    [
        {"progressive": True},
        {"subsampling": 0},
        {"subsampling": 2},
        {"qtables": "web_low"},
        {"keep_rgb": True},
    ],
)
@pytest.mark.parametrize("shrink", SHRINKS)
def test_all_sorts_of_jpeg_decode_as_pillow_does(more: dict[str, object], shrink: int) -> None:
    data = as_file(smooth(400, 600), "JPEG", 1, **more)
    full = np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(float)
    means = full.reshape(400 // shrink, shrink, 600 // shrink, shrink, 3).mean(axis=(1, 3))
    assert np.abs(open_photo(data, shrink).pixels - means).mean() < (0.01 if shrink == 1 else 1)


@pytest.mark.parametrize("mode", ["L", "CMYK", "RGBA", "LA", "P", "1"])
@pytest.mark.parametrize("shrink", SHRINKS)
def test_shrinking_keeps_the_colours_of_every_mode(mode: str, shrink: int) -> None:
    image = Image.fromarray(np.kron(UPRIGHT, np.ones((4, 4, 1), np.uint8))).convert(mode)
    data = saved(image, "JPEG" if mode in ("L", "CMYK") else "PNG")
    full, small = (open_photo(data, s).pixels.astype(float) for s in (1, shrink))
    squares = [p.reshape(2, p.shape[0] // 2, 3, p.shape[1] // 3, 3).mean(axis=(1, 3)) for p in (full, small)]
    assert np.abs(squares[0] - squares[1]).max() < 2
    assert full.std() > 50


def test_cmyk_is_read_inverted_as_adobe_writes_it() -> None:
    """Adobe Technical Note 5116 (from memory): files with its marker hold 255 - ink; Pillow writes these."""
    data = saved(Image.new("CMYK", (400, 300), (255, 0, 255, 0)), "JPEG")
    assert b"Adobe" in data
    r, g, b = open_photo(data, 2).pixels[9, 9].tolist()
    assert g > 200 and r < 60 and b < 60


@absent
def test_a_cmyk_file_that_says_red_is_red() -> None:
    pixels = open_photo((PHOTOS / "formats" / "pil_sample_cmyk.jpg").read_bytes()).pixels
    assert pixels[0, 0, 0] > 200 and pixels[0, 0, 1:].max() < 60


def test_16_bit_colour_keeps_its_upper_8_bits() -> None:
    deep = np.zeros((40, 40, 3), np.uint16)
    deep[...] = (257 * 30, 257 * 200, 257 * 90)  # OpenCV counts blue first
    done, png = cv2.imencode(".png", deep)
    assert done
    assert open_photo(png.tobytes()).pixels[5, 5].tolist() == [90, 200, 30]


def test_the_scale_that_is_needed() -> None:
    assert [shrink_for(4000, 3000, mm) for mm in (0.2, 0.12, 0.1, 0.05, 0.02)] == [1, 1, 2, 4, 8]
    sizes = [(640, 480), (2000, 1500), (4032, 3024), (8160, 6120), (12000, 16000)]
    assert [shrink_for(w, h) for w, h in sizes] == [1, 1, 2, 4, 8]
    with pytest.raises(ValueError, match="not by 3"):
        open_photo(b"x", 3)


def test_a_photo_of_50_megapixels_is_read() -> None:
    out = io.BytesIO()
    Image.new("L", (8160, 6120), 90).save(out, "JPEG")
    photo = open_photo(out.getvalue(), 8)
    assert (photo.width, photo.height, photo.pixels.shape) == (8160, 6120, (765, 1020, 3))
    assert photo.pixels[-1, -1].tolist() == [90, 90, 90]


@pytest.mark.parametrize("size", [(319, 300), (200, 200), (1000, 239), (240, 319)])
def test_too_small_a_photo_is_refused(size: tuple[int, int]) -> None:
    with pytest.raises(PhotoError, match=f"only {size[0]} x {size[1]}") as caught:
        check_large_enough(*size)
    assert one_sentence_or_two(str(caught.value))


def test_photos_of_320_x_240_and_more_are_large_enough() -> None:
    for size in ((320, 240), (240, 320), (640, 480), (8160, 6120)):
        check_large_enough(*size)


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
@pytest.mark.parametrize("shrink", [1, 4])
def test_what_is_cut_short_is_refused(kind: str, share: float, shrink: int) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (300, 300, 3), np.uint8)
    data = as_file(noise, kind)
    with pytest.raises(PhotoError, match="damaged"):
        open_photo(data[: int(len(data) * share)], shrink)


def test_a_cut_photo_is_refused_though_its_thumbnail_is_whole() -> None:
    """A thumbnail in the metadata brings an end marker of its own."""
    data = as_file(smooth(400, 600), "JPEG", 1, comment=b"\xff\xd8 a thumbnail \xff\xd9")
    assert open_photo(data, 2).width == 600
    with pytest.raises(PhotoError, match="damaged"):
        open_photo(data[: len(data) // 2], 2)


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
    for shrink in (1, 2):
        with pytest.raises(PhotoError) as caught:
            open_photo((PHOTOS / "hostile" / name).read_bytes(), shrink)
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
    data = (PHOTOS / "hostile" / name).read_bytes()
    full, small = open_photo(data), open_photo(data, 2)
    assert (full.width, full.height) == (small.width, small.height) == photo_size(data)
    assert np.abs(full.pixels.mean(axis=(0, 1)) - small.pixels.mean(axis=(0, 1))).max() < 3


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
