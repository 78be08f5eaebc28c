"""Photos whose truth is known, from all places where there are some, in one form.

Notation: H, W photo pixels (rows, columns).
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from api import pipeline
from api.scaling import view_of
from api.schemas import Case
from vision.model import NOT_DOUGH, Colour, Mark, TableView

Labels = NDArray[np.uint8]

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
SAMPLES = ROOT / "sample_images"
SHARED = ROOT / ".." / "shared" / "photos"
EDGE_PX = 5
"""Width of what is not asked along an edge drawn by hand (estimated)."""


@dataclass(frozen=True)
class TrueScene:
    """A photo, what was told of it, and what is really there.

    labels   (H, W) uint8: 0 table, i the i-th dough colour, NOT_DOUGH where nothing is asked
    lump_of  entry -> a name of its lump, None for an entry that misses the conductive dough; empty when
             there are no entries
    """

    name: str
    photo: Path
    case: Case
    labels: Labels
    lump_of: Mapping[str, str | None]

    @cached_property
    def palette(self) -> tuple[Colour, ...]:
        """The palette as the eyes take it."""
        return tuple(Colour(c.name, c.role, c.taps) for c in self.case.palette)

    @cached_property
    def marks(self) -> tuple[Mark, ...]:
        """The taps on legs and leads as the eyes take them."""
        return tuple(pipeline._marks(self.case))

    @cached_property
    def view(self) -> TableView:
        """How the photo lies on the table, as the pipeline has it."""
        rows, cols = self.labels.shape
        return view_of(self.case.scale, (cols, rows))


def scenes_in(folder: Path, hidden_too: bool = False) -> Iterator[TrueScene]:
    """All scenes of a folder that have a NAME.truth.json, by name.

    `hidden_too` asks for the lumps as they are, also where a short on the underside joins what every
    photo from above must show as apart.
    """
    for path in sorted(folder.glob("*.truth.json")):
        truth = json.loads(path.read_text())
        name = path.name.removesuffix(".truth.json")
        case = Case.model_validate_json((folder / f"{name}.case.json").read_text())
        if "electrical" in truth:
            lumps = truth["electrical"]["actual" if hidden_too else "visible"]["electrodes"]
            raster = _by_material(folder / truth["material_png"], truth["palette"])
        else:
            lumps = {entry: about["lump"] for entry, about in truth["entries"].items()}
            raster = _grey(folder / truth["labels"])
        yield TrueScene(name, folder / truth["photo"], case, raster, _lumps(lumps))


def real_photographs() -> Iterator[TrueScene]:
    """Photographs taken by a camera, with colours to find and no entries.

    Those beside the project when they are there; then those that scikit-image and scikit-learn bring
    along, with areas drawn by hand.
    """
    for path in sorted((SHARED / "real").glob("*.json")):
        about = json.loads(path.read_text())
        case = _colours_only(about["photo"], about["palette"])
        raster = _by_entry(_grey(path.parent / about["label_png"]), about["palette"])
        yield TrueScene(path.stem, path.parent / about["photo"], case, raster, {})
    for about in json.loads((HERE / "real_truth.json").read_text()):
        file = _folder_of(about["package"]) / about["file"]
        yield TrueScene(
            about["name"], file, _colours_only(file.name, about["palette"]), _from_polygons(about), {}
        )


def _folder_of(package: str) -> Path:
    """Where a package lies, without importing it."""
    spec = find_spec(package)
    if spec is None or spec.origin is None:
        raise ModuleNotFoundError(f"{package} is not installed; run uv sync.")
    return Path(spec.origin).parent


def _lumps(lumps: Mapping[str, Any]) -> dict[str, str | None]:
    return {
        name.replace("PACK.", "pack."): None if lump is None else str(lump) for name, lump in lumps.items()
    }


def _grey(path: Path) -> Labels:
    image = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    if image is None or image.ndim != 2:
        raise ValueError(f"{path.name} is no grey image")
    return np.asarray(image, np.uint8)


def _by_material(path: Path, palette: list[dict[str, Any]]) -> Labels:
    """Materials (H, W) as labels; `palette` has doughs only. What is not in it is table."""
    label = np.zeros(256, np.uint8)
    for i, colour in enumerate(palette, start=1):
        label[colour["material"]] = i
    label[NOT_DOUGH] = NOT_DOUGH
    return np.asarray(label[_grey(path)])


def _by_entry(entries: Labels, palette: list[dict[str, Any]]) -> Labels:
    """Entries of a palette (H, W), counted from 1, as labels; what is no dough becomes table."""
    label = np.zeros(256, np.uint8)
    doughs = [i for i, colour in enumerate(palette, start=1) if colour["role"] != "background"]
    label[doughs] = np.arange(1, len(doughs) + 1)
    label[NOT_DOUGH] = NOT_DOUGH
    return np.asarray(label[entries])


def _colours_only(photo: str, palette: list[dict[str, Any]]) -> Case:
    colours = [
        {
            "name": c["name"],
            "role": "table" if c["role"] == "background" else "conductive",
            "taps": c["taps"],
        }
        for c in palette
    ]
    return Case.model_validate({"schema": "doughsight-case/1", "photo": photo, "palette": colours})


def _from_polygons(about: dict[str, Any]) -> Labels:
    """Areas drawn by hand (H, W); later ones lie on earlier ones, and on their edges nothing is asked."""
    width, height = about["size"]
    entries = np.full((height, width), NOT_DOUGH, np.uint8)
    number = {colour["name"]: i for i, colour in enumerate(about["palette"], start=1)} | {None: NOT_DOUGH}
    areas = [(np.array(area["polygon"], np.int32), number[area["of"]]) for area in about["areas"]]
    for polygon, entry in areas:
        cv2.fillPoly(entries, [polygon], entry)
        cv2.polylines(entries, [polygon], isClosed=True, color=NOT_DOUGH, thickness=EDGE_PX)
    return _by_entry(entries, about["palette"])
