"""What the HTML pages share: the templates' environment, the card's grid and embedded pictures.

The pages need no network and no script. Every text is cleaned of control characters and escaped on its way into a page.
"""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from swatchread.note.phrases import CARE, minus, plain, signed
from swatchread.note.safe_files import read_writing

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

OUTSIDE_MARK: Final = "†"
"""Follows the id of a swatch whose colour an sRGB screen cannot show."""

DOUBT_MARK: Final = "*"
"""Follows the card of a swatch whose photo was read with warnings."""

_EMBEDDED: Final = ("latin", "greek")
"""Parts of the type that a page carries: letters, and the Δ of differences."""

_MOST_LINES: Final = 100
"""Rows or columns up to which a card's bare places are kept bare; no card has more, and a note may claim millions."""


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    def cleaned(value: object) -> object:
        return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value

    environment = Environment(
        loader=PackageLoader("swatchread", ""),
        autoescape=True,
        finalize=cleaned,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(plain=plain, signed=signed, decimals=minus, screen=_screen_code)
    marks = {"OUTSIDE_MARK": OUTSIDE_MARK, "DOUBT_MARK": DOUBT_MARK}
    environment.globals.update(CARE=CARE, typeface=_typeface, root="", **marks)
    return environment


def _screen_code(lab: Sequence[float]) -> str:
    """Return one CIELAB colour as a code for the screen."""
    from swatchread.colour.screen import hex_colours

    return hex_colours([lab])[0][0]


@cache
def _typeface() -> Markup:
    """Return the type's style with its files in it, for pages that stand alone; other scripts find a system's type."""
    folder = files("swatchread.report") / "look"
    style = (folder / "typeface.css").read_text(encoding="utf-8")
    faces = [
        face for face in style.split("@font-face")[1:] if any(f"sans-3-{name}.woff2" in face for name in _EMBEDDED)
    ]

    def embedded(found: re.Match[str]) -> str:
        data = base64.b64encode((folder / found[1]).read_bytes()).decode("ascii")
        return f"url(data:font/woff2;base64,{data})"

    return markup(re.sub(r"url\(([\w./-]+)\)", embedded, "".join(f"@font-face{face}" for face in faces)))


def render(template: str, **facts: Any) -> str:
    """Fill a template in.

    Parameters
    ----------
    template : str
        Its path inside the package, for instance ``report/templates/note.html``.
    **facts
        What it shows. Texts are not trusted; only drawings wrapped by `markup` are taken for markup.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    return _environment().get_template(template).render(**facts) + "\n"


def markup(svg: str) -> Markup:
    """Mark an SVG drawing of our own as markup, so that a template does not escape it."""
    from markupsafe import Markup

    return Markup(svg)  # noqa: S704 - our own drawing, whose texts are escaped


def grid_lines(numbers: Sequence[int]) -> dict[int, int]:
    """Give each row or column of a card its line in the page's grid; of a huge grid the gaps are left out."""
    if max(numbers) <= _MOST_LINES:
        return {number: number for number in numbers}
    return {number: line for line, number in enumerate(sorted(set(numbers)), start=1)}


def crop_address(folder: Path, name: str | None) -> str | None:
    """Return the address of a crop of handwriting that stands in the page itself; None if there is no such crop.

    Parameters
    ----------
    folder, name
        As for `swatchread.note.safe_files.read_writing`.
    """
    crop = read_writing(folder, name)
    return f"data:{crop[1]};base64,{base64.b64encode(crop[0]).decode('ascii')}" if crop else None


def halved_address(folder: Path, name: str, least: int) -> str | None:
    """Return the address of a JPEG picture that stands in the page itself, halved while it is large, or None.

    Parameters
    ----------
    folder, name
        As for `swatchread.note.safe_files.read_writing`.
    least : int
        Long side, pixels, that halving leaves it at least.
    """
    found = read_writing(folder, name)
    if found is None:
        return None
    from PIL import Image, UnidentifiedImageError

    buffer = io.BytesIO()
    try:
        with Image.open(io.BytesIO(found[0]), formats=("JPEG",)) as picture:
            wide = picture.width >= picture.height
            picture.draft("RGB", (least, 1) if wide else (1, least))  # halved while it is read, in no time
            picture.convert("RGB").save(buffer, "JPEG", quality=80, icc_profile=picture.info.get("icc_profile"))
    except (UnidentifiedImageError, OSError, Image.DecompressionBombError):
        return None
    return f"data:image/jpeg;base64,{base64.b64encode(buffer.getvalue()).decode('ascii')}"
