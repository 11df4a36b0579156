"""Bringing the tables of an archive up to date when it is opened."""

from __future__ import annotations

from typing import Final

from sqlalchemy import Connection, inspect, text

from swatchread.archive.tables import Base
from swatchread.errors import ArchiveError

REVISION: Final = "0001"
"""The newest revision in `swatchread.archive.migrations.versions`: what the tables in `tables.py` look like."""
VERSION_TABLE: Final = "swatchread_revision"
"""The table in which alembic notes the revision."""

_DEVELOPMENT_TABLE = "swatchread_schema"
"""A table that only archives from before the first release have."""


def is_up_to_date(connection: Connection) -> bool:
    """Say whether an archive has the tables that this program works with; this needs no alembic."""
    return _revision(connection) == REVISION


def bring_up_to_date(connection: Connection) -> None:
    """Make the tables of an empty archive, or change older ones into today's.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        The only one that may write meanwhile. All is done in its transaction.

    Raises
    ------
    ArchiveError
        If a later version of swatchread or a development version made the archive, or the database is something else.
    """
    found = _revision(connection)
    if found is None:
        _refuse_other_tables(connection)
    from alembic import command
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", "swatchread.archive:migrations")
    known = {script.revision for script in ScriptDirectory.from_config(config).walk_revisions()}
    if found is not None and found not in known:
        raise ArchiveError(
            "The archive was made by a newer swatchread",
            f"its tables are of revision {found}, this program knows up to {REVISION}",
            "Update swatchread",
        )
    command.upgrade(config, "head")


def _revision(connection: Connection) -> str | None:
    """Return the revision of the archive's tables, or None if there are none."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    revision: str | None = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608
    return revision


def _refuse_other_tables(connection: Connection) -> None:
    present = set(inspect(connection).get_table_names())
    if _DEVELOPMENT_TABLE in present:
        raise ArchiveError(
            "The archive was made by a development version of swatchread",
            "its tables are older than the first release",
            "Name a new archive with --archive and add the note files to it: `swatchread archive add NOTE`",
        )
    taken = present & set(Base.metadata.tables)
    if taken:
        raise ArchiveError("This database is not an archive", f"it has a table {min(taken)} of another kind")
