"""The whole chain: from a photo, or from a label raster, to the scene.

Notation: H, W photo pixels; h, w raster cells; R, C grid cells (rows, columns).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from vision.contacts import Grid, find_contacts
from vision.corrections import check_corrections, corrected, painted, places
from vision.entries import find_entries
from vision.errors import PaletteError, VisionError
from vision.labels import find_labels
from vision.likeness import find_alike, that_matter
from vision.model import NOT_DOUGH, Colour, Correction, Mark, Photo, Point, Role, Scene, TableView
from vision.occluders import body_mask, is_strange, led_zones, wires
from vision.palette import check_names, check_palette, doughs_of, tap_mask
from vision.pieces import Ground, Labels, drawn_ground, list_pieces, number_pieces, seen_ground
from vision.raster import Mask, Raster, crop_box, cut_rasters, opened

MARGIN_MM = 25.0
"""How far the sculpture may reach beyond taps and marks at first (estimated); then the crop grows."""
RIM_MM = 2.0
LARGEST_GRID = 1_200_000


def read_scene(
    photo: Photo,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    view: TableView,
    on_stage: Callable[[str], None] | None = None,
    corrections: Sequence[Correction] = (),
    within: Sequence[Point] = (),
) -> Scene:
    """See the pieces, contacts and entries in a photo.

    `view` comes from `table_view`; `on_stage` hears 'colours', 'shapes', 'pieces', 'contacts' as
    each begins to be known. `corrections` win over the photo.

    Dough that lies wholly outside of `within`, a polygon [px] such as the frame of the printed mat, is
    left out.

    Raises:
        PaletteError: no dough, a colour without a tap, or a tap outside the photo.
        VisionError: a mark or a correction outside the photo.
    """
    check_palette(photo, palette)
    check_marks(marks, photo.width, photo.height)
    check_corrections(corrections, palette, photo.width, photo.height)
    tell = on_stage or _quiet
    fine, labels, zone, wire, foreign = _see(photo, palette, marks, places(corrections), view, tell)
    if within:
        labels = _touching(labels, [fine.cell(at) for at in within])
    conducts = _conducts(palette)
    ground = seen_ground(labels, fine.features[..., 0], wire, zone, conducts, fine.cell_mm)
    shown = np.where(foreign, np.uint8(NOT_DOUGH), labels)
    shown, ground = corrected(shown, ground, corrections, palette, fine.cell_mm, fine.view)
    tell("pieces")
    whole = _on_photo(shown, fine, photo)
    scene = _scene(whole, ground, palette, marks, fine.cell_mm, fine.view, tell, drawn=False)
    alike = find_alike(photo, palette, view)
    return replace(scene, alike=that_matter(alike, palette, scene.pieces, scene.contacts))


def scene_from_labels(
    labels: NDArray[np.uint8],
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    view: TableView,
    on_stage: Callable[[str], None] | None = None,
    corrections: Sequence[Correction] = (),
) -> Scene:
    """The scene of a label raster (H, W): 0 table, i the i-th dough colour, 255 not dough.

    The raster is taken at its word: cells touch when they share a side, and a gap of one pixel is a
    gap. Only 255 is completed: thin strips (wires) from both sides, thick spots (LEDs) so that walls go
    straight on and nothing gets joined. `corrections` win over the raster.

    Raises:
        PaletteError: a label that the palette does not have.
        VisionError: a mark or a correction outside the raster.
    """
    check_names(palette)
    if labels.ndim != 2 or not labels.size:
        raise PaletteError(f"The label image has the shape {labels.shape}; send one grey channel.")
    used = np.unique(labels)
    doughs = len(doughs_of(palette))
    unknown = used[(used > doughs) & (used != NOT_DOUGH)]
    if len(unknown):
        raise PaletteError(
            f"The label image has label {unknown[0]}, but the palette has {doughs} dough colours; "
            "add the colour or draw over it."
        )
    check_marks(marks, labels.shape[1], labels.shape[0])
    check_corrections(corrections, palette, labels.shape[1], labels.shape[0])
    tell = on_stage or _quiet
    flat = TableView(view.mm_per_px, (0.0, 0.0), view.true_scale)
    labels = painted(labels, corrections, palette, view.mm_per_px, flat)
    part, px, corner = _reduced(labels)
    here = TableView(view.mm_per_px, corner, view.true_scale)
    cell_mm = px * view.mm_per_px
    ground = drawn_ground(part, _conducts(palette), cell_mm)
    new, ground = corrected(part, ground, corrections, palette, cell_mm, here)
    tell("pieces")
    return _scene(
        _put_back(labels, part, new, px, corner), ground, palette, marks, cell_mm, here, tell, drawn=True
    )


def _quiet(_stage: str) -> None:
    """Tell nobody."""


def check_marks(marks: Sequence[Mark], width: int, height: int) -> None:
    """Raise VisionError unless all marks lie on the photo."""
    for mark in marks:
        x, y = mark.at
        if not (0 <= x <= width and 0 <= y <= height):
            raise VisionError(
                f"{mark.name} at ({x:g}, {y:g}) lies outside the photo of {width} x {height} pixels; "
                "tap it on the photo."
            )


def _see(
    photo: Photo,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    places: Sequence[Point],
    view: TableView,
    tell: Callable[[str], None],
) -> tuple[Raster, Labels, Mask, Mask, Mask]:
    """The fine raster, labels, LED zones, wires, what is no dough; the crop grows while dough runs out."""
    wanted = [tap for colour in doughs_of(palette) for tap in colour.taps] + [mark.at for mark in marks]
    wanted += places
    also = [tap for colour in palette if colour.role == "table" for tap in colour.taps]
    margin = MARGIN_MM
    while True:
        box = crop_box(photo, wanted, also, margin / view.mm_per_px)
        fine, coarse = cut_rasters(photo, box, view)
        labels, bodies, models = find_labels(fine, coarse, palette, marks, tell)
        tapped = tap_mask(fine, [tap for colour in doughs_of(palette) for tap in colour.taps], 0.8)
        if margin > 60 or not _runs_out(labels, tapped, box, photo):
            break
        margin *= 2
    zone = led_zones(fine, bodies, models)
    wire = wires(fine, labels > 0)
    foreign = body_mask(fine, bodies, 0.0)
    foreign[foreign] = is_strange(fine, models, foreign)
    return fine, labels, zone, wire, wire | opened(foreign, 0.8, fine.cell_mm)


def _touching(labels: Labels, corners: Sequence[Point]) -> Labels:
    """Labels (h, w) of the dough that reaches into a polygon of cells (column, row)."""
    inside = np.zeros(labels.shape, np.uint8)
    cv2.fillPoly(inside, [np.rint(np.array(corners)).astype(np.int32)], 1)
    parts, count = ndimage.label(labels > 0)
    kept = np.zeros(count + 1, bool)
    kept[parts[inside > 0]] = True
    return np.where(kept[parts], labels, 0).astype(labels.dtype)


def _runs_out(labels: Labels, tapped: Mask, box: tuple[int, int, int, int], photo: Photo) -> bool:
    """Whether tapped dough reaches a side of the crop that is no side of the photo."""
    parts, _ = ndimage.label(labels > 0)
    ours = np.isin(parts, np.unique(parts[tapped & (labels > 0)]))
    left, top, right, bottom = box
    sides = []
    if left > 0:
        sides.append(ours[:, 0])
    if top > 0:
        sides.append(ours[0])
    if right < photo.width:
        sides.append(ours[:, -1])
    if bottom < photo.height:
        sides.append(ours[-1])
    return any(np.mean(side) > 0.03 for side in sides)


def _conducts(palette: Sequence[Colour]) -> NDArray[np.bool_]:
    """Whether each label conducts, (256,)."""
    out = np.zeros(256, bool)
    for i, colour in enumerate(doughs_of(palette), start=1):
        out[i] = colour.role == "conductive"
    return out


def _on_photo(labels: Labels, fine: Raster, photo: Photo) -> Labels:
    """Labels (h, w) of a crop laid out on the whole photo (H, W)."""
    out = np.zeros((photo.height, photo.width), np.uint8)
    large = cv2.resize(labels, None, fx=fine.px, fy=fine.px, interpolation=cv2.INTER_NEAREST)
    left, top = (int(v) for v in fine.view.origin_px)
    large = large[: photo.height - top, : photo.width - left]
    out[top : top + large.shape[0], left : left + large.shape[1]] = large
    return out


def _reduced(labels: Labels) -> tuple[Labels, int, Point]:
    """The part of a label raster that holds something, photo pixels a cell, and its corner [px]."""
    rows, cols = np.nonzero(labels.any(axis=1))[0], np.nonzero(labels.any(axis=0))[0]
    if not len(rows):
        return labels[:1, :1], 1, (0.0, 0.0)
    top, left = int(max(0, rows[0] - 1)), int(max(0, cols[0] - 1))
    part = labels[top : rows[-1] + 2, left : cols[-1] + 2]
    px = int(np.ceil(np.sqrt(part.size / LARGEST_GRID)))
    offset = px // 2 if px > 1 else 0
    return part[offset::px, offset::px], px, (float(left), float(top))


def _put_back(labels: Labels, part: Labels, new: Labels, px: int, corner: Point) -> Labels:
    """The whole label raster with what changed in its reduced part."""
    out = labels.copy()
    rows, cols = np.nonzero(part != new)
    for y in range(px):
        for x in range(px):
            row, col = rows * px + int(corner[1]) + y, cols * px + int(corner[0]) + x
            met = (row < out.shape[0]) & (col < out.shape[1])
            out[row[met], col[met]] = new[rows, cols][met]
    return out


def _scene(
    labels: Labels,
    ground: Ground,
    palette: Sequence[Colour],
    marks: Sequence[Mark],
    cell_mm: float,
    view: TableView,
    tell: Callable[[str], None],
    drawn: bool,
) -> Scene:
    """Pieces, contacts and entries of a ground whose corner is the origin of `view`."""
    roles: tuple[Role, ...] = tuple(colour.role for colour in doughs_of(palette))
    ids = number_pieces(ground)
    grid = Grid(ids, ground, cell_mm, view)
    pieces = list_pieces(ids, ground, roles, cell_mm, view)
    contacts = find_contacts(grid, pieces, drawn)
    tell("contacts")
    entries = find_entries(grid, pieces, marks)
    for array in (labels, ids, ground.guessed):
        array.setflags(write=False)
    return Scene(labels, ids, ground.guessed, cell_mm, view, pieces, contacts, entries)
