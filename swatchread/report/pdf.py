"""Pages of a PDF, filled from the top: text in any letters, chips, rules; measured before it is set."""

from __future__ import annotations

import logging
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.report.fonts import choose_fonts
from swatchread.report.page_style import HAIRLINE_MM

if TYPE_CHECKING:
    from PIL.Image import Image

Colour = tuple[int, int, int]

SIZES: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Paper -> width and height in millimetres (ISO 216; ANSI/ASME Y14.1)."""


def paper_size(paper: str) -> tuple[float, float]:
    """Return width and height of a paper, millimetres.

    Raises
    ------
    UsageError
        If it is neither A4 nor letter.
    """
    if paper not in SIZES:
        raise UsageError(f"{plain(paper)} is no paper for the sheet", "", f"Use {' or '.join(SIZES)}")
    return SIZES[paper]


POINT: Final = 25.4 / 72
"""A point in millimetres."""


@dataclass(frozen=True)
class Type:
    """How a text is set: size in points, weight, distance of the lines as a multiple of the size, lines at most."""

    size: float
    bold: bool = False
    leading: float = 1.25
    most: int = 40

    @property
    def line(self) -> float:
        """The distance of two lines, millimetres."""
        return self.size * POINT * self.leading


class Pages:
    """Pages of one size with a margin, and a place that moves down as they fill.

    Parameters
    ----------
    size : (float, float)
        Width and height, millimetres.
    margin : (float, float)
        Left and right, top and bottom, millimetres.
    title : str
        Of the document.
    letters : iterable of str
        Texts that will be set, for the choice of fonts.
    ground : (int, int, int), optional
        sRGB of the whole page; white if it is not given.
    """

    def __init__(
        self,
        size: tuple[float, float],
        margin: tuple[float, float],
        title: str,
        letters: Iterable[str],
        ground: Colour | None = None,
    ) -> None:
        from fpdf import FPDF

        logging.getLogger("fpdf").setLevel(logging.ERROR)  # it talks about every odd font table
        logging.getLogger("fontTools").setLevel(logging.ERROR)
        self.left, self.top = margin
        self.width = size[0] - 2 * margin[0]
        self.bottom = size[1] - margin[1]
        self._pdf = FPDF(unit="mm", format=size)
        self._pdf.set_auto_page_break(auto=False)
        self._pdf.set_margin(0)
        self._pdf.c_margin = 0
        self._pdf.set_title(plain(title))
        self._pdf.set_creator("swatchread")
        self._pdf.set_lang("en")
        self._ground = ground
        self._load_fonts({letter for text in letters for letter in plain(text)} | set(plain(title)))
        self._new_page()

    def _new_page(self) -> None:
        self._pdf.add_page()
        self.y = self.top
        if self._ground:
            self.fill((0.0, 0.0), (self._pdf.w, self._pdf.h), self._ground)

    def _load_fonts(self, letters: set[str]) -> None:
        self._fonts = choose_fonts(letters)
        self._family = "helvetica"
        if self._fonts.regular is None:
            return
        self._family = "text"
        self._pdf.add_font("text", "", self._fonts.regular)
        self._pdf.add_font("text", "B", self._fonts.bold or self._fonts.regular)
        for number, file in enumerate(self._fonts.others):
            self._pdf.add_font(f"other{number}", "", file)
        self._pdf.set_fallback_fonts([f"other{number}" for number in range(len(self._fonts.others))], exact_match=False)

    def height(self, text: str, width: float, look: Type) -> float:
        """Return how high a text stands when it is set in this width, millimetres."""
        return len(self._lines(text, width, look)) * look.line

    def write(self, text: str, place: tuple[float, float], width: float, look: Type, ink: Colour = (0, 0, 0)) -> float:
        """Set a text, broken into lines, and return the height it takes.

        Parameters
        ----------
        text : str
            Not trusted; line breaks in it count as spaces.
        place : (float, float)
            x and y of its upper left, millimetres from the page's.
        width : float
            Millimetres.
        look : Type
        ink : (int, int, int)
        """
        lines = self._lines(text, width, look)
        self._pdf.set_text_color(*ink)
        for number, line in enumerate(lines):
            self._pdf.set_xy(place[0], place[1] + number * look.line)
            self._pdf.cell(width, look.line, line, align="L")
        return len(lines) * look.line

    def flow(self, text: str, look: Type, after: float = 0.0) -> None:
        """Set a text over the whole width at the place that moves down, on a new page if there is no room."""
        self.make_room(self.height(text, self.width, look))
        self.y += self.write(text, (self.left, self.y), self.width, look) + after

    def _lines(self, text: str, width: float, look: Type) -> list[str]:
        self._pdf.set_font(self._family, style="B" if look.bold else "", size=look.size)
        shown = self._fonts.settable(plain(text))
        if not shown:
            return []
        broken = self._pdf.multi_cell(width, look.line, shown, align="L", dry_run=True, output="LINES")
        lines = [_in_reading_order(str(line)) for line in broken] if isinstance(broken, list) else []
        if len(lines) > look.most:  # else it would run out of the page
            lines[look.most - 1 :] = [f"{lines[look.most - 1].rstrip()[:-1]}{self._fonts.settable('…')}"]
        return lines

    def fill(self, place: tuple[float, float], size: tuple[float, float], colour: Colour) -> None:
        """Fill a rectangle."""
        self._pdf.set_fill_color(*colour)
        self._pdf.rect(*place, *size, style="F")

    def chip(self, place: tuple[float, float], size: tuple[float, float], colour: Colour) -> None:
        """Fill a rectangle with paint's colour; a hairline keeps it apart from the ground where ink is black alone."""
        self.fill(place, size, colour)
        self._pdf.set_line_width(HAIRLINE_MM)
        self._pdf.rect(*place, *size, style="D")

    def dash(self, place: tuple[float, float], size: tuple[float, float], thick: float) -> None:
        """Draw a rectangle in dashes."""
        self._pdf.set_line_width(thick)
        self._pdf.set_dash_pattern(dash=1.2, gap=0.8)
        self._pdf.rect(*place, *size, style="D")
        self._pdf.set_dash_pattern()

    def rule(self, y: float, thick: float) -> None:
        """Draw a line over the whole width."""
        self._pdf.set_line_width(thick)
        self._pdf.line(self.left, y, self.left + self.width, y)

    def picture(self, picture: Image, place: tuple[float, float], size: tuple[float, float]) -> None:
        """Put a picture into a rectangle."""
        self._pdf.image(picture, *place, *size)

    def make_room(self, height: float) -> bool:
        """Begin a new page if what follows is higher than the rest of this one; say so."""
        if self.y + height <= self.bottom or self.y <= self.top:
            return False
        self._new_page()
        return True

    def data(self) -> bytes:
        """Return the finished document."""
        return bytes(self._pdf.output())


def _in_reading_order(line: str) -> str:
    """Turn the words of right-to-left scripts round, as they stand on paper (Unicode Standard Annex 9)."""
    if not any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in line):
        return line
    from fpdf.bidi import BidiParagraph

    return str(BidiParagraph(line).get_reordered_string())


def colour_of(code: str) -> Colour:
    """Return the three numbers of a colour written like ``#c08a6b``."""
    return int(code[1:3], 16), int(code[3:5], 16), int(code[5:7], 16)
