"""The whole chain: from a photo, or from a label raster, to the scene.

Notation: H, W photo pixels; h, w raster cells; R, C grid cells (rows, columns).
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from vision.bodies import ground_of
from vision.contacts import find_contacts
from vision.corrections import corrected
from vision.doubts import weighed
from vision.entries import find_entries
from vision.errors import PaletteError, VisionError
from vision.eyes import look
from vision.glare import led_cover
from vision.grid import Grid
from vision.likeness import find_alike, that_matter
from vision.model import NOT_DOUGH, Colour, Correction, Mark, Photo, Point, Role, Scene, TableView
from vision.palette import check_names, check_palette, doughs_of
from vision.pieces import Ground, Labels, drawn_ground, list_pieces, number_pieces
from vision.seen import Seen
from vision.straighten import on_photo
from vision.strokes import check_corrections, painted, places, sure_where_told
from vision.suggest import suggestions_of
from vision.walls import find_walls

MOST_PIECES = 1000
"""More pieces of dough are no sculpture, but a photo or a raster gone wrong (estimated)."""
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
    tell("colours")
    seen, box = look(photo, palette, marks, view, places(corrections), within)
    tell("shapes")
    if within:
        seen = _touching(seen, within)
    conducts = _conducts(palette)[: len(seen.chance)]
    ground = ground_of(seen, conducts, led_cover(seen, marks))
    shown = np.where(seen.covered > 0.5, np.uint8(NOT_DOUGH), ground.labels)
    shown, ground = corrected(shown, ground, corrections, palette, seen.cell_mm, seen.view)
    tell("pieces")
    whole = on_photo(shown, view, box, seen.cell_mm, (photo.width, photo.height))
    scene = _scene(whole, ground, palette, marks, seen.cell_mm, seen.view, tell)
    alike = that_matter(find_alike(photo, palette, view), palette, scene.pieces, scene.contacts)
    sure = sure_where_told(_confidence(seen, ground), corrections, palette, seen.cell_mm, seen.view)
    ideas = None if seen.pixels is None else suggestions_of(seen, seen.pixels, palette, marks)
    return replace(scene, alike=alike, confidence=sure, suggestions=ideas)


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
        raise PaletteError(
            "The label image has the shape {shape}; send one grey channel.",
            shape=labels.shape,
        )
    used = np.unique(labels)
    doughs = len(doughs_of(palette))
    unknown = used[(used > doughs) & (used != NOT_DOUGH)]
    if len(unknown):
        raise PaletteError(
            "The label image has label {label}, but the palette has {doughs} dough colours; "
            "add the colour or draw over it.",
            label=unknown[0],
            doughs=doughs,
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
    return _scene(_put_back(labels, part, new, px, corner), ground, palette, marks, cell_mm, here, tell)


def _quiet(_stage: str) -> None:
    """Tell nobody."""


def check_marks(marks: Sequence[Mark], width: int, height: int) -> None:
    """Raise VisionError unless all marks lie on the photo."""
    for mark in marks:
        x, y = mark.at
        if not (0 <= x <= width and 0 <= y <= height):
            raise VisionError(
                "{name} at ({x:g}, {y:g}) lies outside the photo of {width} x {height} pixels; tap "
                "it on the photo.",
                name=mark.name,
                x=x,
                y=y,
                width=width,
                height=height,
            )


def _touching(seen: Seen, corners: Sequence[Point]) -> Seen:
    """What was seen without the dough that lies wholly outside of a polygon [px]."""
    dough = (seen.chance[0] < 0.5).astype(np.uint8)
    inside = np.zeros(dough.shape, np.uint8)
    cells = np.array([seen.view.to_mm(at) for at in corners]) / seen.cell_mm - 0.5
    cv2.fillPoly(inside, [np.rint(cells).astype(np.int32)], 1)
    count, parts = cv2.connectedComponents(dough)
    kept = np.zeros(count, bool)
    kept[parts[inside > 0]] = True
    lost = ~(kept[parts] | (inside > 0))
    chance = seen.chance.copy()
    chance[:, lost] = np.eye(len(chance), 1, dtype=np.float32)
    return replace(seen, chance=chance)


def _confidence(seen: Seen, ground: Ground) -> NDArray[np.float32]:
    """How sure the label of each cell is, (R, C)."""
    label = ground.labels[None].astype(np.intp)
    found = np.asarray(np.take_along_axis(seen.chance, label, axis=0)[0], np.float32)
    found.setflags(write=False)
    return found


def _conducts(palette: Sequence[Colour]) -> NDArray[np.bool_]:
    """Whether each label conducts, (256,)."""
    out = np.zeros(256, bool)
    for i, colour in enumerate(doughs_of(palette), start=1):
        out[i] = colour.role == "conductive"
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
) -> Scene:
    """Pieces, contacts and entries of a ground whose corner is the origin of `view`."""
    roles: tuple[Role, ...] = tuple(colour.role for colour in doughs_of(palette))
    ids = number_pieces(ground)
    count = int(ids.max(initial=0))
    if count > MOST_PIECES:
        raise PaletteError(
            "The dough falls into {count} pieces, at most {most} can be: tap the colours anew.",
            count=count,
            most=MOST_PIECES,
        )
    grid = Grid(ids, ground, cell_mm, view)
    pieces = list_pieces(ids, ground, roles, cell_mm, view)
    contacts = find_contacts(grid, pieces)
    tell("contacts")
    entries = find_entries(grid, pieces, marks)
    if ground.chance is not None:
        contacts = weighed(contacts, pieces, entries, marks)
    walls = find_walls(grid, pieces)
    for array in (labels, ids, ground.guessed):
        array.setflags(write=False)
    return Scene(labels, ids, ground.guessed, cell_mm, view, pieces, contacts, entries, walls=walls)
