"""The history of the archive's tables, for alembic."""
