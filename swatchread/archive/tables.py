"""The tables.

The notes' own JSON is the truth; the other columns of a reading and the rows of `swatches`, `recipes`, `ingredients`
and `colours` are derived from it for searching and can be built again (`swatchread.archive.note_rows`). What is scanned
is kept narrow: long texts have tables of their own. A change of these tables needs a new step in
`swatchread.archive.migrations`.
"""

from __future__ import annotations

from sqlalchemy import Double, ForeignKey, Index, Integer, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class Base(DeclarativeBase):
    """Base of all tables."""


class SchemaVersion(Base):
    """The one row that says how old the tables are."""

    __tablename__ = "swatchread_schema"

    version: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)


class CardRow(Base):
    """A card: one photo, however often it was read."""

    __tablename__ = "cards"

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    added: Mapped[str] = mapped_column(String(40))


class ReadingRow(Base):
    """One reading of a card by one version of the tool."""

    __tablename__ = "readings"
    __table_args__ = (UniqueConstraint("card_id", "tool_version", name="one_reading_a_version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    card_id: Mapped[int] = mapped_column(ForeignKey("cards.id", ondelete="CASCADE"), index=True)
    tool_version: Mapped[str] = mapped_column(String(60))
    made: Mapped[str] = mapped_column(String(40))
    added: Mapped[str] = mapped_column(String(40))
    newest: Mapped[int] = mapped_column(Integer)
    folder: Mapped[str] = mapped_column(Text)
    photo_file: Mapped[str] = mapped_column(Text)
    title: Mapped[str] = mapped_column(Text)
    sitter: Mapped[str] = mapped_column(Text)
    date: Mapped[str] = mapped_column(Text)
    medium: Mapped[str] = mapped_column(Text)
    sitter_key: Mapped[str] = mapped_column(Text)
    medium_key: Mapped[str] = mapped_column(Text)
    date_first: Mapped[int | None] = mapped_column(Integer)
    date_last: Mapped[int | None] = mapped_column(Integer)
    words: Mapped[str] = mapped_column(Text)


class NoteRow(Base):
    """The note of a reading, as JSON."""

    __tablename__ = "notes"

    reading_id: Mapped[int] = mapped_column(
        ForeignKey("readings.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    json: Mapped[str] = mapped_column(Text)


class RecipeRow(Base):
    """A recipe's text, kept once however many swatches carry it."""

    __tablename__ = "recipes"

    id: Mapped[int] = mapped_column(primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    written: Mapped[str] = mapped_column(Text)
    words: Mapped[str] = mapped_column(Text)


class SwatchRow(Base):
    """One swatch of a reading; CIELAB for D50, 2 degree."""

    __tablename__ = "swatches"
    __table_args__ = (
        Index("swatches_by_colour", "lab_l", "lab_a", "lab_b", "newest"),
        Index("swatches_by_place", "card_id", "row_number", "column_number", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    card_id: Mapped[int] = mapped_column(ForeignKey("cards.id", ondelete="CASCADE"))
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id", ondelete="CASCADE"), index=True)
    recipe_id: Mapped[int | None] = mapped_column(ForeignKey("recipes.id"), index=True)
    newest: Mapped[int] = mapped_column(Integer)
    swatch: Mapped[str] = mapped_column(String(24))
    row_number: Mapped[int] = mapped_column(Integer)
    column_number: Mapped[int] = mapped_column(Integer)
    lab_l: Mapped[float] = mapped_column(Double)
    lab_a: Mapped[float] = mapped_column(Double)
    lab_b: Mapped[float] = mapped_column(Double)
    u_de00: Mapped[float] = mapped_column(Double)
    own_de00: Mapped[float] = mapped_column(Double)
    munsell: Mapped[str] = mapped_column(String(40))
    munsell_hue: Mapped[float | None] = mapped_column(Double)
    munsell_chroma: Mapped[float | None] = mapped_column(Double)
    value: Mapped[float] = mapped_column(Double)
    value_name: Mapped[str] = mapped_column(String(40))
    temperature: Mapped[str] = mapped_column(String(20))
    relative: Mapped[str] = mapped_column(String(20))
    lean: Mapped[str] = mapped_column(String(20))
    writing: Mapped[str] = mapped_column(Text)


class IngredientRow(Base):
    """A paint in a recipe; an ambiguous word makes one row for each tube it could be."""

    __tablename__ = "ingredients"

    id: Mapped[int] = mapped_column(primary_key=True)
    recipe_id: Mapped[int] = mapped_column(ForeignKey("recipes.id", ondelete="CASCADE"), index=True)
    tube: Mapped[str] = mapped_column(Text, index=True)
    sure: Mapped[int] = mapped_column(Integer)


class ColoursRow(Base):
    """All colours of a reading packed together, to run through the whole archive at once.

    `packed` holds little-endian records of `swatchread.archive.packed_colours.RECORD`.
    """

    __tablename__ = "colours"

    reading_id: Mapped[int] = mapped_column(
        ForeignKey("readings.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    newest: Mapped[int] = mapped_column(Integer)
    packed: Mapped[bytes] = mapped_column(LargeBinary)
