"""The tables of one data folder. A change here needs a migration (`migrations/`)."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, Index, UniqueConstraint, text
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class Base(DeclarativeBase):
    """What all tables share."""


class WorkshopRow(Base):
    """One occasion. `kit`, `doughs` and `challenge` are JSON (`api/workshop_schemas.py`)."""

    __tablename__ = "workshops"

    id: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    day: Mapped[date]
    place: Mapped[str]
    age: Mapped[str]
    kit: Mapped[str]
    doughs: Mapped[str]
    challenge: Mapped[str]
    keep_days: Mapped[int | None]
    """Days after `day` on which everything of it is deleted; None: until somebody does."""
    created: Mapped[datetime]
    ended: Mapped[datetime | None]
    revision: Mapped[int]


class SculptureRow(Base):
    """One maker's work, known by a bench number or a nickname."""

    __tablename__ = "sculptures"
    __table_args__ = (UniqueConstraint("workshop_id", "bench_key"),)

    id: Mapped[str] = mapped_column(primary_key=True)
    workshop_id: Mapped[str] = mapped_column(ForeignKey("workshops.id", ondelete="CASCADE"), index=True)
    bench: Mapped[str]
    bench_key: Mapped[str]
    """`bench` without what does not tell benches apart: case, width, spaces."""
    title: Mapped[str]
    maker: Mapped[str]
    learned: Mapped[str]
    before_id: Mapped[str | None] = mapped_column(
        # Made last: sculptures name cases, which name photos, which name sculptures.
        ForeignKey("cases.id", ondelete="SET NULL", name="sculptures_before", use_alter=True),
        index=True,
    )
    after_id: Mapped[str | None] = mapped_column(
        ForeignKey("cases.id", ondelete="SET NULL", name="sculptures_after", use_alter=True), index=True
    )
    overlay: Mapped[bool]
    started: Mapped[datetime]
    finished: Mapped[datetime | None]
    revision: Mapped[int]


class JoinRow(Base):
    """A way in for phones: its code and link are reckoned from the id and the secret, never kept."""

    __tablename__ = "joins"

    id: Mapped[str] = mapped_column(primary_key=True)
    workshop_id: Mapped[str] = mapped_column(ForeignKey("workshops.id", ondelete="CASCADE"), index=True)
    role: Mapped[str]
    created: Mapped[datetime]
    expires: Mapped[datetime]
    revoked: Mapped[bool]


class DeviceRow(Base):
    """A phone or tablet that has joined. A bench has the sculpture that it works on now."""

    __tablename__ = "devices"

    id: Mapped[str] = mapped_column(primary_key=True)
    join_id: Mapped[str] = mapped_column(ForeignKey("joins.id", ondelete="CASCADE"), index=True)
    workshop_id: Mapped[str] = mapped_column(ForeignKey("workshops.id", ondelete="CASCADE"), index=True)
    role: Mapped[str]
    name: Mapped[str]
    sculpture_id: Mapped[str | None] = mapped_column(
        ForeignKey("sculptures.id", ondelete="SET NULL"), index=True
    )
    joined: Mapped[datetime]
    revoked: Mapped[bool]


class PhotoRow(Base):
    """A photo; the picture lies beside the database, named by its content (`photo_files.py`)."""

    __tablename__ = "photos"

    id: Mapped[str] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(index=True)
    width: Mapped[int]
    height: Mapped[int]
    created: Mapped[datetime]
    workshop_id: Mapped[str | None] = mapped_column(
        ForeignKey("workshops.id", ondelete="CASCADE"), index=True
    )
    sculpture_id: Mapped[str | None] = mapped_column(
        ForeignKey("sculptures.id", ondelete="SET NULL"), index=True
    )
    device_id: Mapped[str | None]
    """Which device sent it; None: the laptop itself."""
    frame: Mapped[str | None]
    """The part to be shown, as JSON [left, top, right, bottom] in photo pixels; None: all of it."""


class UploadRow(Base):
    """Which photo came with which token: sent again after a lost answer, it is kept once."""

    __tablename__ = "uploads"

    token: Mapped[str] = mapped_column(primary_key=True)
    photo_id: Mapped[str] = mapped_column(ForeignKey("photos.id", ondelete="CASCADE"), index=True)


class CaseRow(Base):
    """A case and its report, as JSON."""

    __tablename__ = "cases"
    __table_args__ = (
        # The queue is read often and need not leaf through reports for it.
        Index("ix_cases_seen", "photo_id", "created", "guess", "codes"),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    photo_id: Mapped[str] = mapped_column(ForeignKey("photos.id", ondelete="CASCADE"), index=True)
    underside_id: Mapped[str | None] = mapped_column(index=True)
    """The photo of the underside that the case names; it may be deleted since."""
    case: Mapped[str]
    report: Mapped[str]
    guess: Mapped[str | None]
    """The first finding as JSON {code, level, parts}; None: nothing was found."""
    codes: Mapped[str]
    """Codes of all findings of level stop and fix, as a JSON list, each once."""
    created: Mapped[datetime]


class DraftRow(Base):
    """What was told so far of a photo."""

    __tablename__ = "drafts"

    id: Mapped[str] = mapped_column(primary_key=True)
    photo_id: Mapped[str] = mapped_column(ForeignKey("photos.id", ondelete="CASCADE"), index=True)
    job: Mapped[str]
    revision: Mapped[int]
    inspection_id: Mapped[str | None] = mapped_column(ForeignKey("cases.id", ondelete="SET NULL"), index=True)
    updated: Mapped[datetime]


OPEN = text("state IN ('waiting', 'taken')")


class CallRow(Base):
    """A bench that asks for help. States: waiting, taken, solved, withdrawn."""

    __tablename__ = "calls"
    __table_args__ = (
        # A bench asks once at a time, whoever presses how often.
        Index("one_open_call", "sculpture_id", unique=True, sqlite_where=OPEN, postgresql_where=OPEN),
    )

    id: Mapped[str] = mapped_column(primary_key=True)
    workshop_id: Mapped[str] = mapped_column(ForeignKey("workshops.id", ondelete="CASCADE"), index=True)
    sculpture_id: Mapped[str] = mapped_column(ForeignKey("sculptures.id", ondelete="CASCADE"), index=True)
    state: Mapped[str]
    asked: Mapped[datetime]
    changed: Mapped[datetime]
    device_id: Mapped[str | None]
    """Who took it; None: nobody, or the laptop itself."""
    helper: Mapped[str]
    """How that helper's device is called; empty: nobody has taken it."""
    kind: Mapped[str]
    """What it turned out to be: a code of a finding, a cause, or empty."""
    revision: Mapped[int]
