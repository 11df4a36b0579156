"""Bringing an older archive's tables up to date, one step a version, all in one transaction."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from sqlalchemy import (
    Column,
    Connection,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    inspect,
    text,
)
from sqlalchemy.types import TypeEngine

from swatchread.archive.tables import Base, SchemaVersion
from swatchread.errors import ArchiveError

SCHEMA_VERSION: Final = 3
"""Version of the tables in `swatchread.archive.tables`."""

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
    """Version 2 keeps notes and recipes in tables of their own, and searches by tube, by words and by date."""
    old = MetaData()
    Table("readings", old, Column("id", Integer, primary_key=True))
    Table("cards", old, Column("id", Integer, primary_key=True))
    _notes(old).create(connection)
    connection.execute(text("INSERT INTO notes (reading_id, json) SELECT id, note_json FROM readings"))
    connection.execute(text("ALTER TABLE readings DROP COLUMN note_json"))
    for column in ("date_first INTEGER", "date_last INTEGER", "words TEXT NOT NULL DEFAULT ''"):
        connection.execute(text(f"ALTER TABLE readings ADD COLUMN {column}"))
    connection.execute(text("DROP TABLE swatches"))  # derived: built again from the notes
    for table in (_recipes(old), _ingredients(old), _colours(old), _swatches(old)):
        table.create(connection)


# Tables as version 2 made them. They stay as they are when the models move on.


def _notes(metadata: MetaData) -> Table:
    return Table(
        "notes",
        metadata,
        Column("reading_id", ForeignKey("readings.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
        Column("json", Text, nullable=False),
    )


def _recipes(metadata: MetaData) -> Table:
    return Table(
        "recipes",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("sha256", String(64), nullable=False, unique=True),
        Column("written", Text, nullable=False),
        Column("words", Text, nullable=False),
    )


def _ingredients(metadata: MetaData) -> Table:
    return Table(
        "ingredients",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("recipe_id", ForeignKey("recipes.id", ondelete="CASCADE"), nullable=False, index=True),
        Column("tube", Text, nullable=False, index=True),
        Column("sure", Integer, nullable=False),
    )


def _colours(metadata: MetaData) -> Table:
    return Table(
        "colours",
        metadata,
        Column("reading_id", ForeignKey("readings.id", ondelete="CASCADE"), primary_key=True, autoincrement=False),
        Column("newest", Integer, nullable=False),
        Column("packed", LargeBinary, nullable=False),
    )


def _swatches(metadata: MetaData) -> Table:
    def needed(name: str, kind: TypeEngine[Any]) -> Column[Any]:
        return Column(name, kind, nullable=False)

    return Table(
        "swatches",
        metadata,
        Column("id", Integer, primary_key=True),
        Column("card_id", ForeignKey("cards.id", ondelete="CASCADE"), nullable=False),
        Column("reading_id", ForeignKey("readings.id", ondelete="CASCADE"), nullable=False, index=True),
        Column("recipe_id", ForeignKey("recipes.id"), index=True),
        needed("newest", Integer()),
        needed("swatch", String(24)),
        needed("row_number", Integer()),
        needed("column_number", Integer()),
        *(needed(name, Double()) for name in ("lab_l", "lab_a", "lab_b", "u_de00", "own_de00")),
        needed("munsell", String(40)),
        Column("munsell_hue", Double),
        Column("munsell_chroma", Double),
        needed("value", Double()),
        needed("value_name", String(40)),
        *(needed(name, String(20)) for name in ("temperature", "relative", "lean")),
        needed("writing", Text()),
        Index("swatches_by_colour", "lab_l", "lab_a", "lab_b", "newest"),
        Index("swatches_by_place", "card_id", "row_number", "column_number", "id"),
    )


def _from_2(_connection: Connection) -> None:
    """Version 3 compares texts without regard to how their accents are written: only what is derived changes."""


_STEPS: Final[dict[int, Callable[[Connection], None]]] = {1: _from_1, 2: _from_2}
