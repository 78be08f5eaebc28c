"""Covering what is not to be seen on a photo, and the page for it."""

from hashlib import sha256

import cv2
import numpy as np
from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import HTMLResponse

from api.cover_schemas import CoverAnswer, CoverEntry
from api.covering import Frame, Mask, checked_frame, covered_mask, without
from api.errors import InputError
from api.language.speech import _
from api.opened import forget_opened
from api.records import KeptInspection, KeptPhoto
from api.routes.parts import AnyoneInside, Needs, photo_or_404, tell_of_photo
from api.routes.room import room_page
from api.schemas import Case, Report
from vision.model import Photo
from vision.photo import encode_jpeg, open_photo

router = APIRouter(tags=["photos"], dependencies=[AnyoneInside])
TRIES = 3
"""So often a photo that somebody else covers at the same moment is covered anew."""


@router.get("/rooms/cover", response_class=HTMLResponse)
def cover_room(has: Needs, request: Request, photo: str) -> HTMLResponse:
    """The page on which a photo is covered."""
    kept = photo_or_404(has, photo)
    told = {
        "id": kept.id,
        "width": kept.width,
        "height": kept.height,
        "frame": has.records.covers.frame(kept.id),
    }
    return room_page(request, "cover", {"photo": told}, sheets=("cover",))


@router.put("/photos/{photo_id}/cover")
def cover_photo(has: Needs, photo_id: str, entry: CoverEntry, dry: bool = False) -> CoverAnswer:
    """Destroy parts of a photo for good: areas, and all outside of a frame. It stays as large as it was.

    With `dry` nothing is changed: the answer tells what would be warned of.
    """
    if not entry.areas and entry.frame is None:
        raise InputError("Nothing is marked. Draw over what is to go, or choose the part to keep.")
    for _try in range(TRIES):
        kept = photo_or_404(has, photo_id)
        before = has.records.covers.frame(photo_id)
        frame = before
        if entry.frame is not None:
            frame = checked_frame(entry.frame, kept.width, kept.height, before)
        with has.turn:
            mask = covered_mask(entry.areas, kept.width, kept.height)
            jpeg = b"" if dry else _covered(kept, mask, frame)
        if dry or has.records.covers.replace(photo_id, kept.jpeg, jpeg, frame):
            break
    else:
        raise HTTPException(409, "Somebody else is covering this photo. Try again.")
    if not dry:
        forget_opened([sha256(kept.jpeg).hexdigest()])
        has.tools.forget(photo_id)
        tell_of_photo(has, photo_id)
    warnings = _warnings(has.records.covers.inspections(photo_id), _gone(mask, frame))
    shown = None if frame is None else list(frame)
    return CoverAnswer(id=kept.id, width=kept.width, height=kept.height, frame=shown, warnings=warnings)


def _covered(kept: KeptPhoto, mask: Mask, frame: Frame | None) -> bytes:
    """The photo as it will be, as JPEG."""
    return encode_jpeg(Photo(without(open_photo(kept.jpeg).pixels, mask, frame)))


def _gone(mask: Mask, frame: Frame | None) -> Mask:
    """(H, W): all that is destroyed."""
    gone = mask.copy()
    if frame is not None:
        left, top, right, bottom = frame
        gone[:] = True
        gone[top:bottom, left:right] = mask[top:bottom, left:right]
    return gone


def _warnings(told: list[KeptInspection], gone: Mask) -> list[str]:
    """What was looked at and lies under the cover."""
    parts = sorted({name for one in told for name, at in _entries(one.case) if _lies_in(at, gone)})
    warnings = [_("This covers an entry of {part}. Its answer stays.", part=part) for part in parts]
    if any(_touches(one.report, gone) for one in told):
        warnings.append(_("This covers dough that was looked at. The answer stays as it is."))
    return warnings


def _entries(case: Case) -> list[tuple[str, tuple[float, float]]]:
    """Parts of a case by name, with each place where one goes in [px]."""
    found = [(_("the pack"), at) for at in ((case.pack.plus, case.pack.minus) if case.pack else ()) if at]
    found += [(led.id, at) for led in case.leds for at in (led.long_leg, led.short_leg) if at]
    return found + [(part.id, at) for part in case.parts for at in (part.a, part.b) if at]


def _lies_in(at: tuple[float, float], gone: Mask) -> bool:
    x, y = int(at[0]), int(at[1])
    return 0 <= y < gone.shape[0] and 0 <= x < gone.shape[1] and bool(gone[y, x])


def _touches(report: Report, gone: Mask) -> bool:
    """Whether any dough of the report is gone."""
    dough = np.zeros(gone.shape, np.uint8)
    for piece in report.pieces:
        if len(piece.outline) > 2:
            cv2.fillPoly(dough, [np.round(np.array(piece.outline)).astype(np.int32)], color=1)
    return bool((dough.astype(bool) & gone).any())
