"""All that is stored about one sculpture, row by row: whoever made it may have it."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from api.records.tables import Base, CallRow, CaseRow, DraftRow, PhotoRow, SculptureRow

AS_JSON = {"case", "report", "guess", "codes", "job", "frame"}
"""Columns that hold JSON."""
LEFT_OUT = {"bench_key", "underside_id", "device_id"}
"""Columns made of others for the search, and which phone it was: that is not about the sculpture."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Stored:
    """The rows of each table, names of columns to values; times in UTC."""

    sculpture: Row
    photos: list[Row]
    inspections: list[Row]
    drafts: list[Row]
    calls: list[Row]


def stored_about(session: Session, sculpture_id: str) -> Stored | None:
    """All of it, in the order in which it came; None if there is no such sculpture."""
    one = session.get(SculptureRow, sculpture_id)
    if one is None:
        return None
    photos = select(PhotoRow).where(PhotoRow.sculpture_id == sculpture_id)
    ids = photos.with_only_columns(PhotoRow.id)
    cases = select(CaseRow).where(CaseRow.photo_id.in_(ids))
    drafts = select(DraftRow).where(DraftRow.photo_id.in_(ids))
    calls = select(CallRow).where(CallRow.sculpture_id == sculpture_id)
    return Stored(
        sculpture=_row(one),
        photos=_rows(session, photos.order_by(PhotoRow.created)),
        inspections=_rows(session, cases.order_by(CaseRow.created)),
        drafts=_rows(session, drafts.order_by(DraftRow.updated)),
        calls=_rows(session, calls.order_by(CallRow.asked)),
    )


def _rows(session: Session, wish: Select[Any]) -> list[Row]:
    return [_row(one) for one in session.scalars(wish)]


def _row(row: Base) -> Row:
    names = [column.key for column in row.__table__.columns if column.key not in LEFT_OUT]
    return {name: _value(name, getattr(row, name)) for name in names}


def _value(name: str, value: Any) -> Any:
    if isinstance(value, datetime):
        return value.replace(tzinfo=UTC).isoformat()
    return json.loads(value) if name in AS_JSON and value is not None else value
