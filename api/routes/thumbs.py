"""Photos as small pictures, for the queue and the gallery."""

from typing import Literal

from fastapi import APIRouter, Response

from api.routes.parts import AnyoneInside, Needs, photo_or_404
from api.thumbs import LARGER_PX, SHORT_PX, small_jpeg

router = APIRouter(tags=["photos"])


@router.get(
    "/photos/{photo_id}/small.jpg",
    response_class=Response,
    responses={200: {"content": {"image/jpeg": {}}}},
    dependencies=[AnyoneInside],
)
def get_small_photo(has: Needs, photo_id: str, size: Literal["list", "wide"] = "list") -> Response:
    """The part of the photo that is to be shown, as JPEG: its shorter side has 240 px, or 720 if `wide`."""
    kept = photo_or_404(has, photo_id)
    jpeg = small_jpeg(
        kept.jpeg, has.records.covers.frame(photo_id), LARGER_PX if size == "wide" else SHORT_PX
    )
    return Response(jpeg, media_type="image/jpeg", headers={"cache-control": "private, no-store"})
