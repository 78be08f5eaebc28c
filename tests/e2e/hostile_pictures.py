"""Files that are no good photos, made by a seed: damaged, disguised, or made to do harm when opened."""

import io
import random
import struct
import zlib
from collections.abc import Callable
from functools import cache

import numpy as np
import pillow_heif
from PIL import Image

pillow_heif.register_heif_opener(thumbnails=False)

SIZE = (400, 300)
SCRIPT = b"<script>fetch('/photos',{method:'DELETE'})</script>"
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)">' + SCRIPT + b"</svg>"
HTML = b"<!doctype html><html><body>" + SCRIPT + b"</body></html>"
PDF = (
    b"%PDF-1.7\n1 0 obj<</OpenAction<</S/JavaScript/JS(app.alert(1))>>>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF"
)
ZIP = b"PK\3\4\n" + bytes(22) + b"PK\5\6" + bytes(18)
MAGIC = {
    "jpeg": b"\xff\xd8\xff\xe0",
    "png": b"\x89PNG\r\n\x1a\n",
    "webp": b"RIFF\xff\xff\xff\xffWEBPVP8 ",
    "heic": b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    "gif": b"GIF89a",
    "elf": b"\x7fELF\2\1\1",
    "mz": b"MZ\x90\0",
    "mp4": b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom",
}


@cache
def good(kind: str) -> bytes:
    """A photo with nothing wrong, with some metadata for mutations to fall into."""
    x, y = np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1]))
    pixels = np.stack([x * 255 // SIZE[0], y * 255 // SIZE[1], (x ^ y) & 255], axis=2).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "x" * 200
    out = io.BytesIO()
    form = {
        "jpeg": "JPEG",
        "png": "PNG",
        "webp": "WEBP",
        "heic": "HEIF",
        "gif": "GIF",
        "tiff": "TIFF",
        "bmp": "BMP",
    }
    told = {} if kind in ("gif", "tiff", "bmp") else {"exif": exif.tobytes()}
    Image.fromarray(pixels).save(out, form[kind], **told)
    return out.getvalue()


KINDS = ("jpeg", "png", "webp", "heic")


# ---------------------------------------------------------------- damaged


def cut(rng: random.Random) -> bytes:
    data = good(rng.choice(KINDS))
    return data[: rng.randrange(len(data))]


def flipped(rng: random.Random) -> bytes:
    data = bytearray(good(rng.choice(KINDS)))
    first = rng.random() < 0.6  # most of what can go wrong stands at the beginning
    for _ in range(rng.choice((1, 1, 2, 5, 30, 300))):
        at = rng.randrange(min(600, len(data)) if first else len(data))
        data[at] ^= 1 << rng.randrange(8)
    return bytes(data)


def spliced(rng: random.Random) -> bytes:
    """A run of bytes doubled, taken out, or put over by others."""
    data, other = good(rng.choice(KINDS)), good(rng.choice(KINDS))
    a, b = sorted(rng.randrange(len(data)) for _ in range(2))
    c, d = sorted(rng.randrange(len(other)) for _ in range(2))
    return rng.choice((data[:a] + data[b:], data[:b] + data[a:], data[:a] + other[c:d] + data[b:]))


def numbers(rng: random.Random) -> bytes:
    """Four bytes put over by numbers that overflow."""
    data = bytearray(good(rng.choice(KINDS)))
    value = rng.choice((0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFF, 0x10000))
    at = rng.randrange(min(800, len(data) - 4))
    data[at : at + 4] = struct.pack(rng.choice("<>") + "I", value)
    return bytes(data)


# ---------------------------------------------------------------- disguised


def disguised(rng: random.Random) -> bytes:
    others = (
        SVG,
        HTML,
        PDF,
        ZIP,
        b"",
        b"\0",
        b"\xff",
        b"GIF89a/*" + SCRIPT,
        good("gif"),
        good("tiff"),
        good("bmp"),
    )
    return rng.choice((*others, rng.randbytes(rng.randrange(2000)), "Ω".encode() * 500, b"{}"))


def magic(rng: random.Random) -> bytes:
    """A true beginning, and anything behind it."""
    return rng.choice(list(MAGIC.values())) + rng.choice(
        (b"", rng.randbytes(rng.randrange(3000)), SVG, HTML, ZIP)
    )


def two_in_one(rng: random.Random) -> bytes:
    """A photo and something else in the same file."""
    photo, other = good(rng.choice(KINDS)), rng.choice((SVG, HTML, PDF, ZIP, SCRIPT))
    if rng.random() < 0.5:
        return photo + other
    if rng.random() < 0.5:
        return other + photo
    jpeg = good("jpeg")
    return jpeg[:2] + b"\xff\xfe" + struct.pack(">H", len(other) + 2) + other + jpeg[2:]


# ---------------------------------------------------------------- bombs


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(width: int, height: int, idat: bytes, *more: bytes, bits: int = 1, colour: int = 0) -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0))
    return MAGIC["png"] + head + b"".join(more) + chunk(b"IDAT", idat) + chunk(b"IEND", b"")


@cache
def zeros(count: int) -> bytes:
    """So many zero bytes, packed."""
    packer = zlib.compressobj(9)
    block = bytes(1 << 20)
    whole, rest = divmod(count, len(block))
    return (
        b"".join(packer.compress(block) for _ in range(whole)) + packer.compress(bytes(rest)) + packer.flush()
    )


def rows(width: int, height: int) -> bytes:
    """Black rows of one bit a pixel, packed."""
    return zeros(height * (1 + (width + 7) // 8))


def huge_sides(rng: random.Random) -> bytes:
    width, height = rng.choice(
        ((65535, 65535), (2**31 - 1, 2**31 - 1), (30000, 30000), (1, 60_000_001), (0, 0))
    )
    made = rng.randrange(4)
    if made == 0:
        return png(width, height, zeros(1 << 20))
    if made == 1:
        data = bytearray(good("jpeg"))
        at = data.find(b"\xff\xc0") + 5
        data[at : at + 4] = struct.pack(">HH", min(height, 65535), min(width, 65535))
        return bytes(data)
    if made == 2:
        body = b"\x10\0\0\0" + struct.pack("<I", 16383 - 1)[:3] + struct.pack("<I", 16383 - 1)[:3]
        inner = b"WEBPVP8X" + struct.pack("<I", 10) + body + good("webp")[12:]
        return b"RIFF" + struct.pack("<I", len(inner)) + inner
    data = bytearray(good("heic"))
    at = data.find(b"ispe") + 8
    data[at : at + 8] = struct.pack(">II", width, height)
    return bytes(data)


def packed_text(rng: random.Random) -> bytes:
    """A hundred megabytes of text or profile in some bytes of metadata."""
    bomb = zeros(100 << 20)
    told = rng.choice(
        (
            chunk(b"iCCP", b"p\0\0" + bomb),
            chunk(b"zTXt", b"Comment\0\0" + bomb),
            chunk(b"iTXt", b"Comment\0\1\0\0\0" + bomb),
            chunk(b"tEXt", b"Comment\0" + b"x" * 500_000),
            chunk(b"eXIf", b"MM\0*" + b"\xff" * 60_000),
        )
    )
    return png(*SIZE, rows(*SIZE), *([told] * rng.choice((1, 1, 5))))


def more_than_told(rng: random.Random) -> bytes:
    """Pixels that unpack to far more than the size says."""
    return png(*SIZE, zeros(rng.choice((1, 20)) << 20))


def many_frames(rng: random.Random) -> bytes:
    frames = [Image.new("RGB", SIZE, (n * 7 % 256, 0, 0)) for n in range(rng.choice((2, 30)))]
    out = io.BytesIO()
    form = rng.choice(("PNG", "WEBP", "GIF"))
    frames[0].save(out, form, save_all=True, append_images=frames[1:], duration=1)
    return out.getvalue()


def many_pieces(rng: random.Random) -> bytes:
    """Thousands of chunks, segments, or scans."""
    made = rng.randrange(3)
    if made == 0:
        return png(*SIZE, rows(*SIZE), chunk(b"tEXt", b"a\0b") * 5000)
    jpeg = good("jpeg")
    if made == 1:
        return jpeg[:2] + (b"\xff\xe5\0\2" * 20_000) + jpeg[2:]
    out = io.BytesIO()
    Image.open(io.BytesIO(jpeg)).save(out, "JPEG", progressive=True)
    data = out.getvalue()
    scan = data.rfind(b"\xff\xda")
    return data[:scan] + data[scan:-2] * 400 + b"\xff\xd9"


def circles(rng: random.Random) -> bytes:
    """EXIF whose directories point to themselves, or to nowhere."""
    at = rng.choice((8, 0, 0xFFFFFFFF, 26))
    entries = struct.pack(">HHII", 0x8769, 4, 1, at) + struct.pack(
        ">HHII", 0x0112, rng.choice((3, 2, 99)), 2**31, 8
    )
    exif = b"Exif\0\0MM\0*" + struct.pack(">IH", 8, 2) + entries + struct.pack(">I", at)
    jpeg = good("jpeg")
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + jpeg[2:]


def odd_pictures(rng: random.Random) -> bytes:
    """Photos that can be read, of kinds that cameras do not write."""
    mode = rng.choice(("1", "L", "P", "RGBA", "CMYK", "I;16", "LA"))
    image = Image.new("L", rng.choice((SIZE, (320, 240), (2000, 321)))).convert(
        mode if mode != "I;16" else "I"
    )
    image = image.convert("I;16") if mode == "I;16" else image
    out = io.BytesIO()
    image.save(out, "JPEG" if mode == "CMYK" else "PNG")
    return out.getvalue()


MAKERS: tuple[Callable[[random.Random], bytes], ...] = (
    cut,
    flipped,
    spliced,
    numbers,
    disguised,
    magic,
    two_in_one,
    huge_sides,
    packed_text,
    more_than_told,
    many_frames,
    many_pieces,
    circles,
    odd_pictures,
)
