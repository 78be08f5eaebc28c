"""Runs the steps within the transaction of whoever asks (`api/records/upgrading.py`)."""

from alembic import context

from api.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    transactional_ddl=True,  # SQLite can, though Alembic does not take it for granted
)
with context.begin_transaction():
    context.run_migrations()
