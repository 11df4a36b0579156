"""The tables of the archive.

A note's own JSON is the truth. All other columns are derived from it for searching, and `swatchread.archive.note_rows`
can derive them again. A change of these tables needs a new revision in `swatchread.archive.migrations.versions`.
"""

from __future__ import annotations

from sqlalchemy import Double, ForeignKey, Integer, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column


class Base(DeclarativeBase):
    """Base of all tables."""


class CardRow(Base):
    """A card: one photo, however often it was read."""

    __tablename__ = "cards"

    id: Mapped[int] = mapped_column(primary_key=True)
    photo_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    added: Mapped[str] = mapped_column(String(40))


class ReadingRow(Base):
    """One reading of a card by one version of the tool; the newest of a card's readings is the one that is searched.

    `colours` holds the colours of all its swatches (`swatchread.archive.note_rows`). `edition` counts the changes of
    the note, and `note_sha256` is the checksum of its JSON. `file_words` are the words that a note file brought last
    (`swatchread.note.entered_words.words_of` as JSON). The note, which is long, comes last: a search does not read that
    far.
    """

    __tablename__ = "readings"
    __table_args__ = (UniqueConstraint("card_id", "tool_version", name="one_reading_a_version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    card_id: Mapped[int] = mapped_column(ForeignKey("cards.id", ondelete="CASCADE"))
    tool_version: Mapped[str] = mapped_column(Text)
    made: Mapped[str] = mapped_column(Text)
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
    colours: Mapped[bytes] = mapped_column(LargeBinary)
    edition: Mapped[int] = mapped_column(Integer)
    note_sha256: Mapped[str] = mapped_column(String(64))
    file_words: Mapped[str] = mapped_column(Text)
    note_json: Mapped[str] = mapped_column(Text)


class SwatchRow(Base):
    """One swatch of a reading; CIELAB for D50, 2 degree.

    `value` is the Munsell value of that CIELAB, unrounded: a note may state it to two decimals only.
    """

    __tablename__ = "swatches"

    id: Mapped[int] = mapped_column(primary_key=True)
    reading_id: Mapped[int] = mapped_column(ForeignKey("readings.id", ondelete="CASCADE"), index=True)
    swatch: Mapped[str] = mapped_column(Text)
    row_number: Mapped[int] = mapped_column(Integer)
    column_number: Mapped[int] = mapped_column(Integer)
    lab_l: Mapped[float] = mapped_column(Double)
    lab_a: Mapped[float] = mapped_column(Double)
    lab_b: Mapped[float] = mapped_column(Double)
    u_de00: Mapped[float] = mapped_column(Double)
    own_de00: Mapped[float] = mapped_column(Double)
    munsell: Mapped[str] = mapped_column(Text)
    munsell_hue: Mapped[float | None] = mapped_column(Double)
    munsell_chroma: Mapped[float | None] = mapped_column(Double)
    value: Mapped[float] = mapped_column(Double)
    value_name: Mapped[str] = mapped_column(Text)
    temperature: Mapped[str] = mapped_column(Text)
    relative: Mapped[str] = mapped_column(Text)
    lean: Mapped[str] = mapped_column(Text)
    writing: Mapped[str] = mapped_column(Text)
    recipe: Mapped[str] = mapped_column(Text)
    recipe_key: Mapped[str] = mapped_column(Text)


class TubeRow(Base):
    """A word for a tube in the recipe of a swatch, as it is compared; the question says which tube it means."""

    __tablename__ = "swatch_tubes"

    swatch_id: Mapped[int] = mapped_column(
        ForeignKey("swatches.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    tube: Mapped[str] = mapped_column(Text, primary_key=True, index=True)


class PictureRow(Base):
    """A picture under the SHA-256 of its bytes."""

    __tablename__ = "pictures"

    digest: Mapped[str] = mapped_column(String(64), primary_key=True)
    media_type: Mapped[str] = mapped_column(String(40))
    data: Mapped[bytes] = mapped_column(LargeBinary)


class CardPictureRow(Base):
    """A picture of a card: `role` says what it shows, `step` is 0 today, or the key of a `CorrectionRow`."""

    __tablename__ = "card_pictures"

    card_id: Mapped[int] = mapped_column(
        ForeignKey("cards.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    step: Mapped[int] = mapped_column(Integer, primary_key=True, autoincrement=False)
    role: Mapped[str] = mapped_column(String(40), primary_key=True)
    digest: Mapped[str] = mapped_column(ForeignKey("pictures.digest"), index=True)


class CorrectionRow(Base):
    """How a card was read before the painter corrected it: what can be undone, the newest first."""

    __tablename__ = "corrections"

    id: Mapped[int] = mapped_column(primary_key=True)
    card_id: Mapped[int] = mapped_column(ForeignKey("cards.id", ondelete="CASCADE"), index=True)
    hints: Mapped[str] = mapped_column(Text)
    note_json: Mapped[str] = mapped_column(Text)


class CardHintsRow(Base):
    """What the painter pointed at on a card, as JSON of whoever asked for the reading."""

    __tablename__ = "card_hints"

    card_id: Mapped[int] = mapped_column(
        ForeignKey("cards.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    hints: Mapped[str] = mapped_column(Text)


class OwnTubeRow(Base):
    """A painter's word for a tube; `painter` is empty in an archive that one painter uses."""

    __tablename__ = "own_tubes"
    __table_args__ = (UniqueConstraint("painter", "word_key", name="one_meaning_a_word"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    painter: Mapped[str] = mapped_column(String(120))
    word_key: Mapped[str] = mapped_column(Text)
    word: Mapped[str] = mapped_column(Text)
    tube: Mapped[str] = mapped_column(Text)
    pigments: Mapped[str] = mapped_column(Text)
