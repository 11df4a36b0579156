"""The note holds one reading of one card: its model, its JSON, and its published JSON Schema.

CIELAB is for CIE illuminant D50, 1931 2 degree observer. Points are (x, y) in pixels of the photo after its EXIF turn;
the centre of the first pixel is (0, 0).
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from swatchread.errors import NewerNoteError, NoteError
from swatchread.note.flags_and_warnings import Warn
from swatchread.note.identity import fused_identity, identity_of
from swatchread.note.record_files import Record, parse_record, read_capped
from swatchread.note.safe_files import write_text

NOTE_VERSION = 1
"""Version of the note's schema. It is raised when a program that knows the old one would misread the new one."""

MAX_NOTE_BYTES = 64 * 1024 * 1024
"""A larger file is not read; a note of a large card has a few hundred kilobytes."""

_FARTHEST = 1000.0
"""Far beyond any colour: a larger number is a fault of the file, and would overflow in later computations."""

_MOST_PLACES = 2**31 - 1
"""Rows, or columns, of a card at most: the largest number that every database holds."""

Point = tuple[float, float]
Coordinate = Annotated[float, Field(ge=-_FARTHEST, le=_FARTHEST)]
Triple = tuple[Coordinate, Coordinate, Coordinate]
Corners = tuple[Point, Point, Point, Point]
NonNegative = Annotated[float, Field(ge=0, le=_FARTHEST)]


class Tool(Record):
    """What wrote the note."""

    name: Literal["swatchread"] = "swatchread"
    version: str = Field(max_length=200)


class PhotoFacts(Record):
    """The file of the photo."""

    file: str = Field(description="file name without its folder")
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    width: int = Field(gt=0, description="pixels, after the EXIF turn")
    height: int = Field(gt=0)
    taken: str | None = Field(default=None, description="ISO 8601 local time from the photo, if it says")
    camera: str | None = None
    profile: str = Field(description="the embedded ICC profile's description, or 'assumed sRGB', or 'linear'")


class FusedPhoto(Record):
    """One of several photos that a note was fused from."""

    file: str = Field(description="file name without its folder")
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    taken: str | None = Field(default=None, description="ISO 8601 local time from the photo, if it says")
    camera: str | None = None
    swatches: int = Field(ge=0, description="how many swatches it had a say in")
    left_out: str = Field(default="", description="why it has no say, if it has none")


class Conditions(Record):
    """What every CIELAB value in the note refers to."""

    illuminant: Literal["D50"] = "D50"
    observer: Literal["2 degree"] = "2 degree"


class Fit(Record):
    """How well the correction reproduces the chart, CIEDE2000."""

    model: str
    mean_de00: NonNegative
    max_de00: NonNegative
    cross_validated_de00: NonNegative = Field(description="mean over patches, each left out in turn")
    departure_de00: NonNegative = Field(default=0.0, description="how unlike the eye camera and light see the patches")
    light: Literal["daylight", "tungsten", "fluorescent", "led", "unknown"] = "unknown"
    daylight: float | None = Field(default=None, ge=0, le=1, description="probability that the light is daylight")


class ChartFacts(Record):
    """The chart that was found."""

    name: str
    corners: Corners = Field(description="outer corners of the patches: dark-skin, bluish-green, black and white")
    fit: Fit
    patches_used: int = Field(ge=0)
    patches_left_out: tuple[str, ...] = ()


class Ground(Record):
    """The card's bare surface."""

    lab: Triple
    value: Coordinate


class CardFacts(Record):
    """The card that carries the swatches."""

    corners: Corners
    ground: Ground
    letter: str = Field(default="", pattern="^[a-z]?$", description="which of several cards in the photo; else empty")
    cards: int = Field(default=1, ge=1, description="how many cards were read from the photo")
    light_shown: bool = Field(default=True, description="whether the photo shows that it lies in the chart's light")


class Uncertainty(Record):
    """One standard uncertainty of a swatch's colour, if the chart has the values of its definition."""

    L: NonNegative
    a: NonNegative
    b: NonNegative
    de00: NonNegative = Field(description="about 68 % of the errors, in CIEDE2000, are smaller than this")
    own_de00: NonNegative = Field(default=0.0, description="the part that is this swatch's own (paint, pixels)")
    mixture_de00: NonNegative = Field(default=0.0, description="the part that only one camera in one light repeats")
    burnt_de00: NonNegative = Field(default=0.0, description="the part that burnt-out channels leave")


class Temperature(Record):
    """Warmth, and how it compares with a reference."""

    warmth: Coordinate = Field(description="Ou, Luo, Woodcock & Wright (2004) warm-cool score + 0.5: a grey is 0")
    name: Literal["warm", "neutral", "cool"]
    relative: Literal["warmer", "even", "cooler"]
    against: str = Field(description="'run' (the card's own run at this value), 'ground', or a swatch id")


class Swatch(Record):
    """One painted swatch."""

    id: str = Field(pattern=r"^r\d+c\d+$")
    row: int = Field(ge=1, le=_MOST_PLACES)
    column: int = Field(ge=1, le=_MOST_PLACES)
    outline: tuple[Point, ...] = Field(min_length=3, description="the sampled area")
    lab: Triple
    lch: Triple = Field(description="L*, C*ab, hab in degrees 0 to 360")
    uncertainty: Uncertainty
    munsell: str = Field(description="Munsell notation, e.g. '5YR 6/4', or 'N 5' (ASTM D1535)")
    value: Coordinate = Field(description="Munsell value, 0 to 10 (ASTM D1535)")
    value_name: str
    temperature: Temperature
    lean: Literal["none", "red", "yellow", "green", "blue"]
    spread_de00: NonNegative = Field(description="unevenness of the paint: median CIEDE2000 to its centre")
    flags: tuple[str, ...] = ()
    recipe: str = ""
    writing: str | None = Field(default=None, description="file of the cropped handwriting")


class CardInfo(Record):
    """Free text by the painter."""

    title: str = ""
    sitter: str = ""
    date: str = ""
    medium: str = ""
    support: str = ""
    note: str = ""


class Note(Record):
    """A structured colour note: one reading of one card."""

    format: Literal["swatchread-note"] = "swatchread-note"
    version: int = Field(default=NOTE_VERSION, ge=1)
    tool: Tool
    made: str = Field(description="ISO 8601, UTC")
    photo: PhotoFacts
    conditions: Conditions = Conditions()
    chart: ChartFacts
    card: CardFacts
    swatches: tuple[Swatch, ...] = Field(min_length=1)
    card_info: CardInfo = CardInfo()
    warnings: tuple[Warn, ...] = ()
    settled: tuple[str, ...] = Field(default=(), description="kinds of doubt that the painter has settled")
    photos: tuple[FusedPhoto, ...] = Field(
        default=(), description="the photos of this card that were fused; `photo` is the best of them"
    )

    @property
    def identity(self) -> str:
        """The hash that identifies what was read: the photo's own, that of one card in it, or that of all fused."""
        one = identity_of(self.photo.sha256, self.card.letter)
        return fused_identity(p.sha256 for p in self.photos) if self.photos else one

    @model_validator(mode="after")
    def _ids_hold_together(self) -> Self:
        if len({s.id for s in self.swatches}) != len(self.swatches):
            raise ValueError("two swatches carry the same id")
        for swatch in self.swatches:
            if swatch.id != f"r{swatch.row}c{swatch.column}":
                raise ValueError(f"swatch {swatch.id} does not stand in row {swatch.row}, column {swatch.column}")
        return self

    def swatch(self, swatch_id: str) -> Swatch:
        """Return the swatch with this id.

        Parameters
        ----------
        swatch_id : str
            For instance ``"r2c3"``.

        Returns
        -------
        Swatch

        Raises
        ------
        NoteError
            If the card has no such swatch.
        """
        for swatch in self.swatches:
            if swatch.id == swatch_id:
                return swatch
        known = "it has " + ", ".join(s.id for s in self.swatches)
        raise NoteError(f"The note has no swatch {swatch_id}", known, "Use one of these ids")

    def _repr_html_(self) -> str:
        """Return the note as a notebook shows it."""
        from swatchread.note.notebook import note_html

        return note_html(self)

    def to_json(self) -> str:
        """Return the note as JSON text, keys in the order of the schema, ending in a line feed."""
        text = json.dumps(self.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n"
        # Points and colours are written on one line. No JSON string can match: none contains a line feed.
        return re.sub(r"\[\n[\s\d.,e+-]*\]", lambda numbers: " ".join(numbers[0].split()), text)

    def save(self, path: Path) -> None:
        """Write the note as UTF-8 JSON. If that is interrupted, an older file is left as it was.

        Parameters
        ----------
        path : pathlib.Path

        Raises
        ------
        OutputError
            If the file cannot be written.
        """
        write_text(path, self.to_json())


def note_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a note."""
    described = Note.model_json_schema(mode="serialization") | {"title": "swatchread note"}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | described


def parse_note(text: str | bytes, source: str = "the note") -> Note:
    """Read a note from JSON text.

    Parameters
    ----------
    text : str or bytes
        UTF-8 JSON.
    source : str
        Its name in messages, usually that of the file.

    Returns
    -------
    Note

    Raises
    ------
    NewerNoteError
        If a later version of swatchread wrote it.
    NoteError
        If it is not a note.
    """
    return parse_record(Note, text, source, "a note", NoteError, NewerNoteError)


def load_note(path: Path) -> Note:
    """Read a note from a file: as `parse_note`.

    Parameters
    ----------
    path : pathlib.Path

    Raises
    ------
    NoteError
        If the file cannot be read, is too large or is not a note.
    """
    return parse_note(read_capped(path, MAX_NOTE_BYTES, "a note", NoteError), path.name)
