"""Each note gets a checksum and an edition, and what was measured is stored as it was measured.

The value of a swatch is the Munsell value of its CIELAB; it was stored to two decimals. Texts have no greatest length
any more, which only PostgreSQL had kept to.
"""

import hashlib
from typing import Any

import sqlalchemy as sa
from alembic import op

from swatchread.colour.cielab import value_of_lab

revision = "0002"
down_revision = "0001"

_TEXTS = {
    "readings": ("tool_version", "made"),
    "swatches": ("swatch", "munsell", "value_name", "temperature", "relative", "lean"),
}
"""Table -> its columns that had a greatest length."""


def upgrade() -> None:
    """Add the columns and fill them from the notes."""
    columns: dict[str, tuple[sa.types.TypeEngine[Any], str]] = {
        "edition": (sa.Integer(), "1"),
        "note_sha256": (sa.String(64), ""),
        "file_words": (sa.Text(), ""),
    }
    for name, (kind, default) in columns.items():
        op.add_column("readings", sa.Column(name, kind, nullable=False, server_default=default))
    if op.get_bind().dialect.name == "postgresql":
        for table, names in _TEXTS.items():
            for name in names:
                op.alter_column(table, name, type_=sa.Text())
        for name in columns:
            op.alter_column("readings", name, server_default=None)
    _fill()


def _fill() -> None:
    connection = op.get_bind()
    readings = sa.table("readings", sa.column("id"), sa.column("note_json"), sa.column("note_sha256"))
    for key in connection.execute(sa.select(readings.c.id)).scalars().all():
        mine = readings.c.id == key
        text = connection.execute(sa.select(readings.c.note_json).where(mine)).scalar_one()
        # Bytes that are no text count as they are, so that the damage shows and is not sealed.
        found = hashlib.sha256(str(text).encode("utf-8", "surrogateescape")).hexdigest()
        connection.execute(sa.update(readings).where(mine).values(note_sha256=found))
    columns = ("id", "lab_l", "lab_a", "lab_b", "value")
    swatches = sa.table("swatches", *(sa.column(name) for name in columns))
    rows = connection.execute(sa.select(*(swatches.c[name] for name in columns[:-1]))).all()
    if rows:
        values = value_of_lab([tuple(row[1:]) for row in rows]).tolist()
        exact = [{"key": row.id, "exact": value} for row, value in zip(rows, values, strict=True)]
        changed = sa.update(swatches).where(swatches.c.id == sa.bindparam("key"))
        connection.execute(changed.values(value=sa.bindparam("exact")), exact)
