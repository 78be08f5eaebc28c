"""The first tables, made without Alembic: pictures within the database, no workshops."""

import sqlalchemy as sa
from alembic import op

revision, down_revision = "0001", None


def upgrade() -> None:
    """Make them."""
    op.create_table(
        "photos",
        sa.Column("id", sa.String(), primary_key=True),
        sa.Column("jpeg", sa.LargeBinary(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("created", sa.DateTime(), nullable=False),
    )
    op.create_table("uploads", sa.Column("token", sa.String(), primary_key=True), _of_photo())
    op.create_table(
        "cases",
        sa.Column("id", sa.String(), primary_key=True),
        _of_photo(),
        sa.Column("case", sa.String(), nullable=False),
        sa.Column("report", sa.String(), nullable=False),
        sa.Column("created", sa.DateTime(), nullable=False),
    )
    op.create_table(
        "drafts",
        sa.Column("id", sa.String(), primary_key=True),
        _of_photo(),
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("inspection_id", sa.String(), sa.ForeignKey("cases.id", ondelete="SET NULL")),
        sa.Column("updated", sa.DateTime(), nullable=False),
    )
    for table in ("uploads", "cases", "drafts"):
        op.create_index(f"ix_{table}_photo_id", table, ["photo_id"])
    op.create_index("ix_drafts_inspection_id", "drafts", ["inspection_id"])


def _of_photo() -> sa.Column[str]:
    return sa.Column("photo_id", sa.String(), sa.ForeignKey("photos.id", ondelete="CASCADE"), nullable=False)
