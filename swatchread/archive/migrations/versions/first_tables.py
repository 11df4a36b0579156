"""The first tables: cards, their readings, swatches, and the tubes in recipes."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables of an empty archive."""
    op.create_table(
        "cards",
        sa.Column("id", sa.Integer, primary_key=True),
        _needed("photo_sha256", sa.String(64)),
        _needed("added", sa.String(40)),
        sa.UniqueConstraint("photo_sha256"),
    )
    op.create_table(
        "readings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("card_id", sa.Integer, sa.ForeignKey("cards.id", ondelete="CASCADE"), nullable=False),
        _needed("tool_version", sa.String(60)),
        _needed("made", sa.String(40)),
        _needed("added", sa.String(40)),
        _needed("newest", sa.Integer()),
        _needed("folder", sa.Text()),
        _needed("photo_file", sa.Text()),
        _needed("title", sa.Text()),
        _needed("sitter", sa.Text()),
        _needed("date", sa.Text()),
        _needed("medium", sa.Text()),
        _needed("sitter_key", sa.Text()),
        _needed("medium_key", sa.Text()),
        sa.Column("date_first", sa.Integer),
        sa.Column("date_last", sa.Integer),
        _needed("words", sa.Text()),
        _needed("colours", sa.LargeBinary()),
        _needed("note_json", sa.Text()),
        sa.UniqueConstraint("card_id", "tool_version", name="one_reading_a_version"),
    )
    _create_swatches()
    op.create_table(
        "swatch_tubes",
        sa.Column(
            "swatch_id",
            sa.Integer,
            sa.ForeignKey("swatches.id", ondelete="CASCADE"),
            primary_key=True,
            autoincrement=False,
        ),
        sa.Column("tube", sa.Text, primary_key=True),
    )
    op.create_index("ix_swatch_tubes_tube", "swatch_tubes", ["tube"])


def _create_swatches() -> None:
    op.create_table(
        "swatches",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("reading_id", sa.Integer, sa.ForeignKey("readings.id", ondelete="CASCADE"), nullable=False),
        _needed("swatch", sa.String(24)),
        _needed("row_number", sa.Integer()),
        _needed("column_number", sa.Integer()),
        _needed("lab_l", sa.Double()),
        _needed("lab_a", sa.Double()),
        _needed("lab_b", sa.Double()),
        _needed("u_de00", sa.Double()),
        _needed("own_de00", sa.Double()),
        _needed("munsell", sa.String(40)),
        sa.Column("munsell_hue", sa.Double),
        sa.Column("munsell_chroma", sa.Double),
        _needed("value", sa.Double()),
        _needed("value_name", sa.String(40)),
        _needed("temperature", sa.String(20)),
        _needed("relative", sa.String(20)),
        _needed("lean", sa.String(20)),
        _needed("writing", sa.Text()),
        _needed("recipe", sa.Text()),
        _needed("recipe_key", sa.Text()),
    )
    op.create_index("ix_swatches_reading_id", "swatches", ["reading_id"])


def _needed(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[Any]:
    """Return a column that every row fills."""
    return sa.Column(name, kind, nullable=False)
