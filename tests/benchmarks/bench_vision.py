"""How long it takes to see, beside decoding the same JPEG at full size in the same run.

python tests/benchmarks/bench_vision.py [folder with NAME.jpg, NAME.case.json]
"""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path

import cv2
from rich.console import Console
from rich.table import Table

from vision.model import Colour, Mark
from vision.photo import open_photo
from vision.scene import read_scene
from vision.table_view import view_from_points

PHOTOS = Path(__file__).resolve().parents[2] / ".." / "shared" / "photos"


def fastest(job: Callable[[], object], times: int = 3) -> float:
    """The shortest of several runs in seconds."""
    spans = []
    for _ in range(times):
        start = time.perf_counter()
        job()
        spans.append(time.perf_counter() - start)
    return min(spans)


def seeing(path: Path) -> tuple[float, float, float]:
    """Seconds to decode, to open and to see one photo."""
    case = json.loads(path.read_text())
    data = (path.parent / case["photo"]).read_bytes()
    palette = [Colour(c["name"], c["role"], tuple(map(tuple, c["taps"]))) for c in case["palette"]]
    marks = [Mark(f"pack.{pole}", "lead", tuple(case["pack"][pole])) for pole in ("plus", "minus")]
    for led in case["leds"]:
        a, b = tuple(led["long_leg"]), tuple(led["short_leg"])
        lit = led.get("seen") in ("bright", "dim")
        marks += [Mark(f"{led['id']}.long", "leg", a, b, lit), Mark(f"{led['id']}.short", "leg", b, a, lit)]
    first, second = case["scale"]["points"]
    view = view_from_points(tuple(first), tuple(second), case["scale"]["mm"])
    photo = open_photo(data)
    return (
        fastest(lambda: open_photo(data)),
        fastest(lambda: cv2.imread(str(path.parent / case["photo"]))),
        fastest(lambda: read_scene(photo, palette, marks, view)),
    )


def main(folder: Path) -> None:
    """Print a table of all photos in the folder that have a case."""
    cv2.setNumThreads(1)
    table = Table("photo", "open s", "decode s", "see s", "(open + see) / decode")
    for path in sorted(folder.glob("*.case.json")):
        opening, decoding, looking = seeing(path)
        ratio = (opening + looking) / decoding
        table.add_row(
            path.name.removesuffix(".case.json"),
            *(f"{v:.3f}" for v in (opening, decoding, looking)),
            f"{ratio:.1f}",
        )
    Console(width=100).print(table)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else PHOTOS)
