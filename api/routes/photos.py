"""Photos: in, out, gone."""

from threading import BoundedSemaphore
from typing import Annotated

import cv2
import numpy as np
from fastapi import APIRouter, Depends, Query, Response
from pydantic import BaseModel

from api.language.speech import N_
from api.records import NOWHERE, KeptPhoto, Place
from api.routes.limits import check_photos
from api.routes.parts import AnyoneInside, Needs, Parts, photo_or_404, place_for
from api.uploads import form_with, uploaded
from vision.model import Photo
from vision.photo import SHRINKS, check_large_enough, encode_jpeg, open_photo, photo_size

router = APIRouter(tags=["photos"], dependencies=[AnyoneInside])


class PhotoAnswer(BaseModel):
    """A kept photo: its id and its size in pixels, upright."""

    id: str
    width: int
    height: int


UploadToken = Annotated[str | None, Query(max_length=40, min_length=16, pattern=r"^[A-Za-z0-9_-]+$")]
"""Chosen at random by the page, one for each photo."""
SculptureId = Annotated[str | None, Query(max_length=40)]
SentPhoto = Annotated[
    bytes,
    Depends(uploaded("photo", N_("The form has no photo. Send the picture as the field photo."))),
]
_DECODING = BoundedSemaphore(2)
"""A photo of 60 megapixels takes some 400 MB for a moment: so many are decoded at once (estimated)."""


def keep_photo(has: Parts, data: bytes, token: str | None = None, place: Place = NOWHERE) -> PhotoAnswer:
    """Turn upright, bound the size, drop the metadata, keep, where there is room."""
    check_photos(has, place)
    jpeg, width, height = clean_photo(data, has.settings.max_photo_side_px)
    return _told(has.records.add_photo(jpeg, width, height, token, place))


def clean_photo(data: bytes, most_px: int) -> tuple[bytes, int, int]:
    """A photo as JPEG, upright, at most `most_px` on its longer side, no metadata; its width and height [px].

    Raises PhotoError for what is no photo, or none that can be used.
    """
    size = photo_size(data)
    check_large_enough(*size)
    shrink = next((s for s in SHRINKS if max(size) >= s * most_px), 1)
    with _DECODING:
        photo = _bounded(open_photo(data, shrink), most_px)
        return encode_jpeg(photo), photo.width, photo.height


def _told(kept: KeptPhoto) -> PhotoAnswer:
    return PhotoAnswer(id=kept.id, width=kept.width, height=kept.height)


@router.post("/photos", status_code=201, openapi_extra=form_with("photo"))
def add_photo(
    has: Needs, photo: SentPhoto, token: UploadToken = None, sculpture: SculptureId = None
) -> PhotoAnswer:
    """Keep a photo (JPEG, PNG, WebP or HEIC). It is stored upright and without metadata.

    Sent again with the same token after a lost answer, it is kept once. It becomes one of `sculpture`; from
    a bench, one of the sculpture that it works on, whatever it says.
    """
    place = place_for(has, sculpture)
    mine = None if token is None else _of_device(token, place)
    sent = has.records.photo_sent(mine) if mine is not None else None
    return _told(sent) if sent is not None else keep_photo(has, photo, mine, place)


def _of_device(token: str, place: Place) -> str:
    """The token of this device for this sculpture: another device that sends the same gets no photo by it."""
    return token if place.device is None else f"{place.device}.{place.sculpture}.{token}"


@router.get("/photos/{photo_id}", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
def get_photo(has: Needs, photo_id: str) -> Response:
    """The kept photo as JPEG."""
    kept = photo_or_404(has, photo_id)
    headers = {"cache-control": "private, no-store"}
    return Response(kept.jpeg, media_type="image/jpeg", headers=headers)


@router.delete("/photos/{photo_id}", status_code=204)
def delete_photo(has: Needs, photo_id: str) -> None:
    """Delete the photo with all drafts and inspections of it."""
    photo_or_404(has, photo_id)
    has.records.delete_photo(photo_id)


def _bounded(photo: Photo, most_px: int) -> Photo:
    """The photo with at most `most_px` on its longer side."""
    scale = most_px / max(photo.width, photo.height)
    if scale >= 1:
        return photo
    size = (max(1, round(photo.width * scale)), max(1, round(photo.height * scale)))
    # At more than half the size no pixel is left out, and areas take five times as long.
    smaller = cv2.resize(photo.pixels, size, interpolation=cv2.INTER_LINEAR)
    return Photo(np.ascontiguousarray(smaller, dtype=np.uint8))
