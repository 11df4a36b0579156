"""Bringing an older archive's tables up to date, one step a version, all in one transaction."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from sqlalchemy import Column, Connection, ForeignKey, Integer, MetaData, Table, Text, inspect, text

from swatchread.archive.models import Base, SchemaVersion
from swatchread.errors import ArchiveError

SCHEMA_VERSION: Final = 2
"""Version of the tables in `swatchread.archive.models`."""

_TABLE = SchemaVersion.__tablename__


def bring_up_to_date(connection: Connection) -> bool:
    """Make missing tables, or change older ones into today's.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        That alone may write.

    Returns
    -------
    bool
        Whether older tables were changed; the derived rows are then to be built again.

    Raises
    ------
    ArchiveError
        If a later version of swatchread made the archive, or the database is something else.
    """
    version = schema_version(connection)
    if version is None:
        taken = set(inspect(connection).get_table_names()) & set(Base.metadata.tables)
        if taken:
            raise ArchiveError("This database is not an archive", f"it has a table {min(taken)} of another kind")
        Base.metadata.create_all(connection)
        connection.execute(text(f"INSERT INTO {_TABLE} (version) VALUES (:v)"), {"v": SCHEMA_VERSION})  # noqa: S608
        return False
    if version == SCHEMA_VERSION:
        return False
    for step in range(version, SCHEMA_VERSION):
        _STEPS[step](connection)
    connection.execute(text(f"UPDATE {_TABLE} SET version = :v"), {"v": SCHEMA_VERSION})  # noqa: S608
    return True


def schema_version(connection: Connection) -> int | None:
    """Return the version of the archive's tables, or None if there are none.

    Raises
    ------
    ArchiveError
        If it is later than this program knows.
    """
    if not inspect(connection).has_table(_TABLE):
        return None
    version = connection.execute(text(f"SELECT max(version) FROM {_TABLE}")).scalar()  # noqa: S608
    if not isinstance(version, int) or version < 1:
        raise ArchiveError("The archive does not say which version it is")
    if version > SCHEMA_VERSION:
        raise ArchiveError(
            "The archive was made by a newer swatchread",
            f"its tables are version {version}, this program knows up to {SCHEMA_VERSION}",
            "Update swatchread",
        )
    return version


def _from_1(connection: Connection) -> None:
    """Version 2 searches by tube, by words and by date, and knows each swatch's own uncertainty."""
    for table, column in (
        ("swatches", "own_de00 DOUBLE PRECISION NOT NULL DEFAULT 0"),
        ("swatches", "words TEXT NOT NULL DEFAULT ''"),
        ("readings", "date_first INTEGER"),
        ("readings", "date_last INTEGER"),
    ):
        connection.execute(text(f"ALTER TABLE {table} ADD COLUMN {column}"))
    frozen = MetaData()
    Table("swatches", frozen, Column("id", Integer, primary_key=True))
    ingredients = Table(
        "ingredients",
        frozen,
        Column("id", Integer, primary_key=True),
        Column("swatch_id", ForeignKey("swatches.id", ondelete="CASCADE"), nullable=False, index=True),
        Column("tube", Text, nullable=False, index=True),
        Column("sure", Integer, nullable=False),
    )
    ingredients.create(connection)


_STEPS: Final[dict[int, Callable[[Connection], None]]] = {1: _from_1}
