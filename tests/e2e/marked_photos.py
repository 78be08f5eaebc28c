"""Photos that tell where they were taken and by what, in every place where a file can tell it.

All of it is invented. `TRACES` are the bytes that must never be found again.
"""

import base64
import io
import random
import struct
import zlib
from collections.abc import Callable

import numpy as np
import pillow_heif
from PIL import Image, ImageCms, PngImagePlugin
from PIL.TiffImagePlugin import IFDRational

pillow_heif.register_heif_opener(thumbnails=False)

CAMERA, MODEL, TOWN, CHILD = "Zorblaxwerk", "QX-77 Voyageur", "Quiverdale-on-Umbra", "Wilhelmina Featherstone"
LATITUDE, LONGITUDE = "12.345678", "98.765432"
DEGREES = ((12, 1), (20, 1), (444407, 10000))
"""The latitude as EXIF has it: degrees, minutes, seconds as fractions (JEITA CP-3451)."""
NOTE = random.Random(7).randbytes(96)
"""A maker note: no text, and like nothing else."""
TAIL = b"\x00\x00\x00 ftypmp42 " + CAMERA.encode() + random.Random(8).randbytes(4096)
"""What phones hang behind the picture: a film of the moment before."""
PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
PROFILE = PROFILE.replace("sRGB built-in".encode("utf-16-be"), f"{CAMERA} 7".ljust(13).encode("utf-16-be"))
PROFILE = PROFILE.replace(b"sRGB built-in", f"{CAMERA} 7".ljust(13).encode())
HEAD = b"http://ns.adobe.com/xap/1.0/\x00"
MORE = b"http://ns.adobe.com/xmp/extension/\x00"


def thumbnail() -> bytes:
    """A small picture of its own, with EXIF and a comment of its own."""
    pixels = np.random.default_rng(5).integers(0, 256, (48, 64, 3), dtype=np.uint8)
    exif = Image.Exif()
    exif[0x010F] = CAMERA
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", exif=exif, comment=TOWN.encode(), quality=60)
    return out.getvalue()


def exif() -> bytes:
    """EXIF with a place, a camera, a name, a maker note, and a thumbnail in a second directory."""
    tags = Image.Exif()
    tags[0x010F], tags[0x0110], tags[0x013B] = CAMERA, MODEL, CHILD
    tags[0x9C9D] = CHILD.encode("utf-16-le")
    tags[0x0112] = 1
    tags.get_ifd(0x8769).update({0x927C: NOTE, 0x9286: b"UNICODE\x00" + TOWN.encode("utf-16-le")})
    place = tuple(IFDRational(*one) for one in DEGREES)
    tags.get_ifd(0x8825).update({1: "N", 2: place, 3: "E", 4: place, 0x1D: "2026:11:26"})
    told = tags.tobytes()
    body = bytearray(told[6:] if told.startswith(b"Exif\x00\x00") else told)
    order = "<" if body[:2] == b"II" else ">"
    first = struct.unpack_from(f"{order}I", body, 4)[0]
    after = first + 2 + 12 * struct.unpack_from(f"{order}H", body, first)[0]
    struct.pack_into(f"{order}I", body, after, len(body))
    small = thumbnail()
    at = len(body) + 2 + 2 * 12 + 4
    body += struct.pack(f"{order}HHHIIHHIII", 2, 0x0201, 4, 1, at, 0x0202, 4, 1, len(small), 0) + small
    return b"Exif\x00\x00" + bytes(body)


def xmp(place: str) -> bytes:
    return (
        '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
        f'<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="{LATITUDE}" '
        f'exif:GPSLongitude="{LONGITUDE}" place="{place}" by="{CHILD}" thumb="{b64()}"/>'
        "</rdf:RDF></x:xmpmeta>"
    ).encode()


def b64() -> str:
    """The thumbnail as XMP has it."""
    return base64.b64encode(thumbnail()).decode()


def iptc() -> bytes:
    """A town and a name in a resource block (IPTC-IIM 4.2, records 2:90 and 2:80)."""
    records = b"".join(
        b"\x1c\x02" + bytes([number]) + struct.pack(">H", len(text)) + text.encode()
        for number, text in ((90, TOWN), (80, CHILD))
    )
    return b"Photoshop 3.0\x008BIM\x04\x04\x00\x00" + struct.pack(">I", len(records)) + records


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + struct.pack(">H", len(body) + 2) + body


def picture(width: int = 1600, height: int = 1200) -> Image.Image:
    """Noise that takes over a megabyte, with a quiet middle."""
    pixels = np.random.default_rng(3).integers(90, 160, (height, width, 3), dtype=np.uint8)
    pixels[height // 3 : height // 2, width // 3 : width // 2] = (180, 60, 120)
    return Image.fromarray(pixels)


def jpeg(image: Image.Image | None = None) -> bytes:
    out = io.BytesIO()
    told = {"exif": exif(), "icc_profile": PROFILE, "comment": f"{TOWN} {CHILD}".encode()}
    (image or picture()).save(out, "JPEG", quality=92, **told)
    data = out.getvalue()
    second = MORE + b"0" * 32 + struct.pack(">II", 2000, 0) + xmp("second packet")
    more = segment(0xE1, HEAD + xmp("first packet")) + segment(0xE1, second) + segment(0xED, iptc())
    return data[:2] + more + data[2:] + TAIL


def png(image: Image.Image | None = None) -> bytes:
    told = PngImagePlugin.PngInfo()
    told.add_text("Author", CHILD)
    told.add_text("Comment", TOWN, zip=True)
    told.add_itxt("XML:com.adobe.xmp", xmp("png").decode())
    told.add_itxt("Description", TOWN, zip=True)
    out = io.BytesIO()
    (image or picture(900, 700)).save(out, "PNG", pnginfo=told, exif=exif(), icc_profile=PROFILE)
    return out.getvalue() + TAIL


def webp(image: Image.Image | None = None) -> bytes:
    out = io.BytesIO()
    told = {"exif": exif(), "xmp": xmp("webp"), "icc_profile": PROFILE}
    (image or picture(900, 700)).save(out, "WEBP", quality=95, method=0, **told)
    return out.getvalue() + TAIL


def heic(image: Image.Image | None = None) -> bytes:
    out = io.BytesIO()
    (image or picture(400, 320)).save(out, "HEIF", quality=80, exif=exif(), xmp=xmp("heic"))
    return out.getvalue()


KINDS: dict[str, Callable[[], bytes]] = {"jpeg": jpeg, "png": png, "webp": webp, "heic": heic}


def traces() -> dict[str, bytes]:
    """What must not be found again: texts in four encodings, fractions in both orders, pieces of bytes."""
    found: dict[str, bytes] = {}
    for text in (CAMERA, MODEL, TOWN, CHILD, LATITUDE, LONGITUDE):
        for code in ("utf-8", "utf-16-le", "utf-16-be"):
            found[f"{text} as {code}"] = text.encode(code)
        found[f"{text} in base64"] = base64.b64encode(text.encode())[:12]
    for order in "<>":
        found[f"the latitude {order}"] = b"".join(struct.pack(f"{order}II", *one) for one in DEGREES)
        found[f"its seconds {order}"] = struct.pack(f"{order}II", *DEGREES[2])
    small = thumbnail()
    for name, data in (("note", NOTE), ("tail", TAIL[40:]), ("thumbnail", small[-400:])):
        for at in range(0, len(data) - 12, 48):
            found[f"{name} from {at}"] = data[at : at + 12]
    found["the thumbnail in base64"] = base64.b64encode(small)[-64:-40]
    found["packed text"] = zlib.compress(TOWN.encode())[2:14]
    return found


TRACES = traces()


def found_in(data: bytes) -> list[str]:
    """Which traces are in these bytes."""
    return [name for name, trace in TRACES.items() if trace in data]
