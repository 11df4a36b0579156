"""The contact sheet as PDF: found swatches, four to a row, each chip on the neutral ground."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from swatchread.archive.results import Found
from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import CARE, plain, swatches
from swatchread.report.contact_sheet import BEYOND, NO_RECIPE, TRUST, card_of, crop_of, facts_of
from swatchread.report.pdf import Pages, Type, colour_of, paper_size
from swatchread.report.value_map import GROUND

if TYPE_CHECKING:
    from PIL.Image import Image

_MARGIN = (12.0, 12.0)
_ACROSS, _GAP, _PAD = 4, (4.0, 5.0), 3.0
_CHIP, _WRITING = 15.0, 12.0
_MOST_PIXELS = 4_000_000

_TITLE, _BODY, _RECIPE = Type(15, bold=True), Type(8.5, leading=1.4), Type(8, bold=True, leading=1.2, most=24)
_FACTS, _CARE = Type(7, leading=1.25, most=8), Type(8.5, bold=True)


def contact_pdf(found: Sequence[Found], question: str, paper: str = "a4") -> bytes:
    """Lay found swatches out as a PDF.

    Parameters
    ----------
    found : sequence of Found
        In the order to show.
    question : str
        What was asked, in words; stands under the title. Not trusted.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    bytes

    Raises
    ------
    UsageError
        If the paper is neither.
    """
    pages = Pages(paper_size(paper), _MARGIN, "Found swatches", _texts(found, question))
    pages.flow(swatches(len(found)), _TITLE)
    pages.flow(question, _BODY)
    pages.flow(TRUST, _BODY, after=4.0)
    codes, shown = hex_colours([one.lab for one in found]) if found else ([], [])
    for first in range(0, len(found), _ACROSS):
        row = slice(first, first + _ACROSS)
        _row(pages, [_Item(*item) for item in zip(found[row], codes[row], shown[row], strict=True)])
    if not all(shown):
        pages.flow(BEYOND, _BODY)
    if any(plain(one.recipe) for one in found):
        pages.make_room(10.0)
        pages.rule(pages.y + 1.0, 0.5)
        pages.y += 2.5
        pages.flow(CARE, _CARE)
    return pages.data()


def _texts(found: Sequence[Found], question: str) -> Iterator[str]:
    yield from (question, TRUST, BEYOND, CARE, swatches(len(found)), NO_RECIPE)
    for one in found:
        yield from (one.recipe, card_of(one), *facts_of(one, inside=False))


class _Item:
    """One swatch, with what stands under its chip."""

    def __init__(self, one: Found, code: str, inside: bool) -> None:
        self.colour = colour_of(code)
        self.recipe = plain(one.recipe) or NO_RECIPE
        self.lines = [*facts_of(one, inside), card_of(one)]
        self.crop = _crop(one)

    def crop_size(self, width: float) -> tuple[float, float]:
        """Return the size of the handwriting on paper; nothing where there is none."""
        if self.crop is None:
            return 0.0, 0.0
        scale = min(width / self.crop.width, _WRITING / self.crop.height)
        return self.crop.width * scale, self.crop.height * scale

    def height(self, pages: Pages, width: float) -> float:
        """Return how high the item stands."""
        words = pages.height(self.recipe, width, _RECIPE)
        words += sum(pages.height(line, width, _FACTS) for line in self.lines)
        return _CHIP + 2.0 + words + self.crop_size(width)[1] + 2 * _PAD + 2.0

    def draw(self, pages: Pages, place: tuple[float, float], width: float) -> None:
        """Set the item; `width` is that of its chip."""
        x, y = place
        pages.chip((x, y), (width, _CHIP), self.colour)
        y += _CHIP + 1.5
        y += pages.write(self.recipe, (x, y), width, _RECIPE) + 0.5
        if self.crop is not None:
            size = self.crop_size(width)
            pages.picture(self.crop, (x, y), size)
            y += size[1] + 0.5
        for line in self.lines:
            y += pages.write(line, (x, y), width, _FACTS)


def _row(pages: Pages, items: Sequence[_Item]) -> None:
    outer = (pages.width - (_ACROSS - 1) * _GAP[0]) / _ACROSS
    inner = outer - 2 * _PAD
    height = max(item.height(pages, inner) for item in items)
    pages.make_room(height)
    for number, item in enumerate(items):
        x = pages.left + number * (outer + _GAP[0])
        pages.fill((x, pages.y), (outer, height), colour_of(GROUND))
        item.draw(pages, (x + _PAD, pages.y + _PAD), inner)
    pages.y += height + _GAP[1]


def _crop(one: Found) -> Image | None:
    """Open the cropped handwriting; what is no modest picture is left out."""
    from PIL import Image, UnidentifiedImageError

    crop = crop_of(one)
    if crop is None:
        return None
    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(crop[0])) as picture:
            warnings.simplefilter("ignore")  # size is judged here, before a pixel is decoded
            if picture.width * picture.height > _MOST_PIXELS:
                return None
            return picture.convert("RGB")
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, ValueError, SyntaxError):
        return None
