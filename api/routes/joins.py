"""Ways in: opened and closed by the owner, used by phones."""

import io
from typing import Annotated

import segno
from fastapi import APIRouter, HTTPException, Query, Request, Response

from api.access import COOKIE, OF_OWNER
from api.errors import InputError
from api.join_schemas import CodeEntry, DeviceOut, JoinEntry, JoinOut, WelcomeOut
from api.language.speech import N_, _
from api.records.clock import now
from api.records.joins import DIGITS, KeptDevice, KeptJoin
from api.routes.parts import Needs, OpenToAll, OwnerOnly, Parts
from api.routes.workshops import OVER, workshop_or_404
from api.tries import TooManyError

router = APIRouter(tags=["joins"])

GO = {"owner": "", "helper": "rooms/queue", "bench": "rooms/help"}
"""The first page of each role."""
OWNER_S = 7 * 24 * 3600
"""How long an owner's browser keeps its cookie [s]; it is worth nothing after the server has stopped."""


@router.get("/workshops/{workshop_id}/joins", dependencies=[OwnerOnly])
def get_joins(has: Needs, request: Request, workshop_id: str) -> list[JoinOut]:
    """The open ways in of a workshop, with the devices that came by each."""
    workshop_or_404(has, workshop_id)
    return [_told(has, request, one) for one in has.records.joins.of_workshop(workshop_id)]


@router.post("/workshops/{workshop_id}/joins", status_code=201, dependencies=[OwnerOnly])
def add_join(has: Needs, request: Request, workshop_id: str, body: JoinEntry) -> JoinOut:
    """Open a way in for helpers or for benches; 409 where the workshop is over."""
    if workshop_or_404(has, workshop_id).ended is not None:
        raise HTTPException(409, OVER)
    return _told(has, request, has.records.joins.add(workshop_id, body.role, body.hours))


@router.delete("/workshops/{workshop_id}/joins/{join_id}", status_code=204, dependencies=[OwnerOnly])
def delete_join(has: Needs, workshop_id: str, join_id: str) -> None:
    """Close a way in: whoever came by it is out."""
    _join_or_404(has, workshop_id, join_id)
    has.records.joins.revoke(join_id)
    has.records.calls.let_go(workshop_id)
    has.live.tell(workshop_id)


@router.delete("/workshops/{workshop_id}/devices/{device_id}", status_code=204, dependencies=[OwnerOnly])
def delete_device(has: Needs, workshop_id: str, device_id: str) -> None:
    """Put one device out."""
    if not has.records.joins.revoke_device(workshop_id, device_id):
        raise HTTPException(404, "This device is not in this workshop. Look at the list again.")
    has.records.calls.let_go(workshop_id)
    has.live.tell(workshop_id)


@router.get(
    "/workshops/{workshop_id}/joins/{join_id}/qr.svg",
    response_class=Response,
    responses={200: {"content": {"image/svg+xml": {}}}},
    dependencies=[OwnerOnly],
)
def get_qr(
    has: Needs,
    request: Request,
    workshop_id: str,
    join_id: str,
    border: Annotated[int, Query(ge=4, le=16)] = 4,
) -> Response:
    """The link of a way in as a QR code.

    `border` is its quiet zone in modules; 4 at the least (ISO/IEC 18004, from memory).
    """
    link = _link(has, request, _join_or_404(has, workshop_id, join_id))
    out = io.BytesIO()
    # Dark on light in both rooms: cameras read it, and the page needs no style in it.
    segno.make(link, error="m", micro=False).save(
        out, kind="svg", border=border, light="#fff", svgclass=None, lineclass=None, omitsize=True
    )
    return Response(out.getvalue(), media_type="image/svg+xml")


@router.post("/join", dependencies=[OpenToAll])
def join(has: Needs, request: Request, response: Response, body: CodeEntry) -> WelcomeOut:
    """Come in with a code, or with the token of a link; the answer sets the cookie that says who this is.

    429 with Retry-After after too many wrong codes.
    """
    if (body.code is None) == (body.token is None):
        raise InputError("Tell either a code or a token. Scan the QR code, or type in the six digits.")
    mark = has.door.let_owner_in(body.token) if body.token is not None else None
    if mark is not None:
        _end(has)
        _set_cookie(has, request, response, OF_OWNER + mark, OWNER_S)
        return WelcomeOut(role="owner", name="", go=GO["owner"])
    if has.who.role == "owner":
        return WelcomeOut(role="owner", name="", go=GO["owner"])
    found = _found(has, body, request.client.host if request.client else None)
    known = None if has.who.device is None else has.records.joins.device(has.who.device)
    if known is not None and known.join_id == found.id and body.name is None:
        return WelcomeOut(role=known.role, name=known.name, go=GO[known.role])
    device = has.records.joins.enter(found, body.name or _usual_name(found))
    if device is None:
        raise HTTPException(409, "This workshop is full. Take devices off the list on the laptop.")
    _end(has)
    seconds = int((found.expires - now()).total_seconds())
    _set_cookie(has, request, response, device.id, seconds)
    has.live.tell(found.workshop_id)
    return WelcomeOut(role=device.role, name=device.name, go=GO[device.role])


def _found(has: Parts, body: CodeEntry, peer: str | None) -> KeptJoin:
    """The way in that was told; wrong ones are counted."""
    joins = has.records.joins
    try:
        if body.token is not None:
            token = body.token
            found = joins.by_token(token) or has.tries.one(peer, lambda: None, guessable=False)
            wrong = N_("This link is not open any more. Ask for a new code.")
        else:
            digits = _digits(body.code or "")
            found = has.tries.one(peer, lambda: joins.by_code(digits))
            wrong = N_("This code is not open here. Look at it again, or ask for a new one.")
    except TooManyError as error:
        text = _("Too many wrong codes were tried. Wait {n} s, or scan the QR code.", n=error.wait_s)
        raise HTTPException(429, text, {"retry-after": str(error.wait_s)}) from error
    if found is None:
        raise HTTPException(403, wrong)
    return found


def _end(has: Parts) -> None:
    """One device is in once, and never as who it was before."""
    if has.who.device is not None and has.who.workshop is not None:
        has.records.joins.leave(has.who.device)
        has.records.calls.let_go(has.who.workshop)
        has.live.tell(has.who.workshop)


def _digits(code: str) -> str:
    """The six digits, of any script and however they are spaced."""
    close = "".join(code.split())
    if len(close) != DIGITS or not close.isdecimal():
        raise InputError("A code has six digits. Type them in again.")
    return "".join(str(int(one)) for one in close)


def _usual_name(join: KeptJoin) -> str:
    """How a device is called that has no nickname; `enter` puts its number in."""
    return _("helper {n}", n="{n}") if join.role == "helper" else _("tablet {n}", n="{n}")


def _set_cookie(has: Parts, request: Request, response: Response, name: str, seconds: int) -> None:
    """The cookie that names a device.

    Lax and not Strict, so that a sculpture's address that came in a message opens there, too: what is only
    read changes nothing, and a change that another site asks for is refused (`api/guard.py`).
    """
    response.set_cookie(
        COOKIE,
        has.ticket.signed(name),
        max_age=max(1, seconds),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


def _join_or_404(has: Parts, workshop_id: str, join_id: str) -> KeptJoin:
    kept = has.records.joins.get(join_id)
    if kept is None or kept.workshop_id != workshop_id or kept.revoked:
        raise HTTPException(404, "This code is not kept here, or it was taken back. Make a new one.")
    return kept


def _told(has: Parts, request: Request, join: KeptJoin) -> JoinOut:
    joins = has.records.joins
    mine = [one for one in joins.devices(join.workshop_id) if one.join_id == join.id]
    return JoinOut(
        id=join.id,
        role=join.role,
        code=joins.code(join.id),
        link=_link(has, request, join),
        created=join.created,
        expires=join.expires,
        devices=[_device(has, one) for one in mine],
    )


def _link(has: Parts, request: Request, join: KeptJoin) -> str:
    """The token stands behind the sign #, which no browser sends on, so that it comes into no log."""
    return f"{has.door.address(request.headers.get('host'))}/rooms/join#{has.records.joins.token(join.id)}"


def _device(has: Parts, device: KeptDevice) -> DeviceOut:
    at = has.records.sculptures.get(device.sculpture_id) if device.sculpture_id is not None else None
    return DeviceOut(
        id=device.id, name=device.name, joined=device.joined, bench=None if at is None else at.bench
    )
