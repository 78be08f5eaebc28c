"""The steps from the first tables to those of today, for Alembic."""
