"""Workshops with sculptures, calls and devices; pictures move out of the database into files."""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision, down_revision = "0002", "0001"


def upgrade() -> None:
    """Make the new tables, and carry over what is there."""
    _make_workshops()
    _make_sculptures()
    _make_devices()
    _make_calls()
    _move_pictures()
    _place_photos()
    _tell_of_cases()


def _text(name: str, *, empty: bool = False, key: bool = False) -> sa.Column[str]:
    return sa.Column(name, sa.String(), nullable=empty, primary_key=key)


def _time(name: str, *, empty: bool = False) -> sa.Column[Any]:
    return sa.Column(name, sa.DateTime(), nullable=empty)


def _of(
    name: str, other: str, *, stays: bool = False, empty: bool = False, called: str | None = None
) -> sa.Column[str]:
    """A row that goes with the other one, or that `stays` without it."""
    rule = "SET NULL" if stays else "CASCADE"
    key = sa.ForeignKey(f"{other}.id", ondelete=rule, name=called)
    return sa.Column(name, sa.String(), key, nullable=stays or empty)


def _index(table: str, *columns: str) -> None:
    for column in columns:
        op.create_index(f"ix_{table}_{column}", table, [column])


def _make_workshops() -> None:
    op.create_table(
        "workshops",
        _text("id", key=True),
        _text("name"),
        sa.Column("day", sa.Date(), nullable=False),
        *(_text(name) for name in ("place", "age", "kit", "doughs", "challenge")),
        sa.Column("keep_days", sa.Integer()),
        _time("created"),
        _time("ended", empty=True),
        sa.Column("revision", sa.Integer(), nullable=False),
    )


def _make_sculptures() -> None:
    op.create_table(
        "sculptures",
        _text("id", key=True),
        _of("workshop_id", "workshops"),
        *(_text(name) for name in ("bench", "bench_key", "title", "maker", "learned")),
        _of("before_id", "cases", stays=True, called="sculptures_before"),
        _of("after_id", "cases", stays=True, called="sculptures_after"),
        sa.Column("overlay", sa.Boolean(), nullable=False),
        _time("started"),
        _time("finished", empty=True),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.UniqueConstraint("workshop_id", "bench_key"),
    )
    _index("sculptures", "workshop_id", "before_id", "after_id")


def _make_devices() -> None:
    op.create_table(
        "joins",
        _text("id", key=True),
        _of("workshop_id", "workshops"),
        _text("role"),
        _time("created"),
        _time("expires"),
        sa.Column("revoked", sa.Boolean(), nullable=False),
    )
    _index("joins", "workshop_id")
    op.create_table(
        "devices",
        _text("id", key=True),
        _of("join_id", "joins"),
        _of("workshop_id", "workshops"),
        _text("role"),
        _text("name"),
        _of("sculpture_id", "sculptures", stays=True),
        _time("joined"),
        sa.Column("revoked", sa.Boolean(), nullable=False),
    )
    _index("devices", "join_id", "workshop_id", "sculpture_id")


def _make_calls() -> None:
    op.create_table(
        "calls",
        _text("id", key=True),
        _of("workshop_id", "workshops"),
        _of("sculpture_id", "sculptures"),
        _text("state"),
        _time("asked"),
        _time("changed"),
        _text("device_id", empty=True),
        _text("helper"),
        _text("kind"),
        sa.Column("revision", sa.Integer(), nullable=False),
    )
    _index("calls", "workshop_id", "sculpture_id")
    still = sa.text("state IN ('waiting', 'taken')")
    op.create_index(
        "one_open_call",
        "calls",
        ["sculpture_id"],
        unique=True,
        sqlite_where=still,
        postgresql_where=still,
    )


def _move_pictures() -> None:
    """Each picture into its file, named by its content."""
    op.add_column("photos", _text("sha256", empty=True))
    keep = op.get_context().config.attributes["keep_picture"]  # type: ignore[union-attr]
    here = op.get_bind()
    read = sa.text("SELECT jpeg FROM photos WHERE id = :id")
    name = sa.text("UPDATE photos SET sha256 = :sha256 WHERE id = :id")
    for photo in here.execute(sa.text("SELECT id FROM photos")).scalars().all():
        sha256 = keep(bytes(here.execute(read, {"id": photo}).scalar_one()))
        here.execute(name, {"id": photo, "sha256": sha256})


def _place_photos() -> None:
    with op.batch_alter_table("photos") as batch:
        batch.drop_column("jpeg")
        batch.alter_column("sha256", existing_type=sa.String(), nullable=False)
        batch.add_column(_of("workshop_id", "workshops", empty=True, called="photos_workshop"))
        batch.add_column(_of("sculpture_id", "sculptures", stays=True, called="photos_sculpture"))
        batch.add_column(_text("device_id", empty=True))
        batch.add_column(_text("frame", empty=True))
    _index("photos", "sha256", "workshop_id", "sculpture_id")


def _tell_of_cases() -> None:
    """What the queue and the chart show of a report, and which photo is the underside."""
    for column in ("underside_id", "guess", "codes"):
        op.add_column("cases", _text(column, empty=True))
    here = op.get_bind()
    read = sa.text('SELECT "case", report FROM cases WHERE id = :id')
    tell = sa.text(
        "UPDATE cases SET underside_id = :underside, guess = :guess, codes = :codes WHERE id = :id"
    )
    for one in here.execute(sa.text("SELECT id FROM cases")).scalars().all():
        case, report = map(json.loads, here.execute(read, {"id": one}).one())
        found = report.get("findings") or []
        guess = {name: found[0].get(name) for name in ("code", "level", "parts")} if found else None
        codes = dict.fromkeys(each["code"] for each in found if each["level"] in ("stop", "fix"))
        told = {
            "underside": (case.get("underside") or {}).get("photo"),
            "guess": None if guess is None else json.dumps(guess),
            "codes": json.dumps(list(codes)),
        }
        here.execute(tell, {"id": one, **told})
    with op.batch_alter_table("cases") as batch:
        batch.alter_column("codes", existing_type=sa.String(), nullable=False)
    _index("cases", "underside_id")
    op.create_index("ix_cases_seen", "cases", ["photo_id", "created", "guess", "codes"])
