r"""A note as CGATS.17 text (ISO 28178), which colour-measurement software reads.

The file is 7-bit ASCII. Strings are in quotes, and a quote inside a string is doubled. Names that the standard does not
define are declared with KEYWORD, as the standard asks (from memory). What such a file cannot carry (letters beyond
ASCII, line breaks, a comment sign) is written as \uXXXX. That escape is our own; `parse_cgats` undoes it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from swatchread.colour.cielab import lab_to_xyz
from swatchread.errors import CgatsError
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import fused_from, has_recipe

_FILE_TYPE: Final = "CGATS.17"

RECIPE_COMMENT: Final = "STRING holds the recipe; treat pigments and solvents as their labels say"

OWN_FIELDS: Final = (
    "SAMPLE_NAME",
    "STDEV_OWN_DE",
    "MUNSELL",
    "MUNSELL_VALUE",
    "VALUE_NAME",
    "WARMTH",
    "FLAGS",
)
"""Fields that the standard does not define."""

_FIELDS = (
    *("SAMPLE_ID", "SAMPLE_NAME", "STRING"),
    *("LAB_L", "LAB_A", "LAB_B", "LAB_C", "LAB_H"),
    *("XYZ_X", "XYZ_Y", "XYZ_Z"),
    *("STDEV_L", "STDEV_A", "STDEV_B", "STDEV_DE", "STDEV_OWN_DE"),
    *("MUNSELL", "MUNSELL_VALUE", "VALUE_NAME", "WARMTH", "FLAGS"),
)
_TOKEN = re.compile(r'"(?:[^"]|"")*"|#.*|[^\s"#]+')
_ESCAPE = re.compile(r"\\u([0-9A-F]{4})|\\U(00(?:0[0-9A-F]|10)[0-9A-F]{4})")


@dataclass(frozen=True)
class Cgats:
    """What a CGATS file says.

    Attributes
    ----------
    file_type : str
        The first line.
    keywords : dict of str to str
        Keyword -> text. Where a keyword is repeated, the last one counts.
    fields : tuple of str
    rows : tuple of dict of str to str
        One for each sample: field -> text of the file without its quotes.
    """

    file_type: str
    keywords: dict[str, str]
    fields: tuple[str, ...]
    rows: tuple[dict[str, str], ...]


def note_to_cgats(note: Note) -> str:
    """Write a note as CGATS.17 text.

    Parameters
    ----------
    note : Note

    Returns
    -------
    str
        ASCII; CIELAB and XYZ for D50 and the 2 degree observer, Y of the white is 100. The STDEV fields
        hold standard uncertainties.
    """
    header = {
        "ORIGINATOR": f"{note.tool.name} {note.tool.version}",
        "FILE_DESCRIPTOR": note.card_info.title or note.photo.file,
        "CREATED": note.made,
        "MEASUREMENT_SOURCE": f"photo {note.photo.file} sha256 {note.photo.sha256}"
        + (f", fused from {fused_from(note)}" if note.photos else ""),
    }
    own = {"PHOTO_CHART": note.chart.name, "CARD_MEDIUM": note.card_info.medium}
    comments = ["STDEV_* are standard uncertainties; letters beyond ASCII are written as \\uXXXX or \\UXXXXXXXX"]
    comments += [RECIPE_COMMENT] * has_recipe(note)
    head = [*head_lines(header, comments, (*own, *OWN_FIELDS)), *keyword_lines(own)]
    return cgats_text(head, _FIELDS, [_cells(swatch) for swatch in note.swatches])


def keyword_lines(values: Mapping[str, str]) -> list[str]:
    """Return a line for each keyword with its text."""
    return [f"{name} {quoted(text)}" for name, text in values.items()]


def head_lines(header: Mapping[str, str], comments: Iterable[str], own: Iterable[str]) -> list[str]:
    """Return the first lines of a file of colours for D50 and the 2 degree observer.

    Parameters
    ----------
    header : mapping of str to str
        Keyword of the standard -> text.
    comments : iterable of str
    own : iterable of str
        Keywords and fields to declare, for the standard does not define them.
    """
    return [
        _FILE_TYPE,
        *keyword_lines(header),
        'WEIGHTING_FUNCTION "ILLUMINANT, D50"',
        'WEIGHTING_FUNCTION "OBSERVER, 2 degree"',
        *(f"# {comment}" for comment in comments),
        *(f'KEYWORD "{name}"' for name in own),
    ]


def cgats_text(head: Iterable[str], fields: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Put the lines of the head and a table together to the text of a file.

    Parameters
    ----------
    head : iterable of str
    fields : sequence of str
    rows : sequence of sequence of str
        One for each sample, in the order of the fields; texts are `quoted` already.
    """
    lines = [
        *head,
        f"NUMBER_OF_FIELDS {len(fields)}",
        "BEGIN_DATA_FORMAT",
        " ".join(fields),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(rows)}",
        "BEGIN_DATA",
        *(" ".join(row) for row in rows),
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def parse_cgats(text: str) -> Cgats:
    """Read CGATS text with one data table.

    Parameters
    ----------
    text : str

    Returns
    -------
    Cgats

    Raises
    ------
    CgatsError
        If the file is empty, a section does not end, or the counts and the data disagree.
    """
    lines = [_tokens(line, number) for number, line in enumerate(text.splitlines(), start=1)]
    lines = [tokens for tokens in lines if tokens]
    if not lines:
        raise CgatsError("The CGATS file is empty")
    keywords: dict[str, str] = {}
    sections: dict[str, list[str]] = {"DATA_FORMAT": [], "DATA": []}
    within = ""
    for tokens in lines[1:]:
        name = tokens[0]
        if within and name == f"END_{within}":
            within = ""
        elif within:
            sections[within] += tokens
        elif name in {"BEGIN_DATA_FORMAT", "BEGIN_DATA"}:
            within = name.removeprefix("BEGIN_")
        elif name != "KEYWORD":  # which only declares a name
            keywords[name] = " ".join(_unquoted(token) for token in tokens[1:])
    if within:
        raise CgatsError("The CGATS file breaks off", f"END_{within} is missing")
    fields = tuple(sections["DATA_FORMAT"])
    rows = _rows(fields, [_unquoted(token) for token in sections["DATA"]], keywords)
    return Cgats(" ".join(lines[0]), keywords, fields, rows)


def _rows(fields: tuple[str, ...], data: list[str], keywords: dict[str, str]) -> tuple[dict[str, str], ...]:
    if not fields:
        raise CgatsError("The CGATS file cannot be read", "it names no fields")
    count, rest = divmod(len(data), len(fields))
    if rest:
        raise CgatsError("The CGATS file cannot be read", "its last sample is short of fields")
    for name, found in (("NUMBER_OF_FIELDS", len(fields)), ("NUMBER_OF_SETS", count)):
        if name in keywords and keywords[name] != str(found):
            raise CgatsError("The CGATS file contradicts itself", f"{name} says {keywords[name]}, it has {found}")
    chunks = (data[i * len(fields) : (i + 1) * len(fields)] for i in range(count))
    return tuple(dict(zip(fields, chunk, strict=True)) for chunk in chunks)


def _cells(swatch: Swatch) -> list[str]:
    u = swatch.uncertainty
    numbers = [*swatch.lab, swatch.lch[1], swatch.lch[2], *(float(x) for x in 100.0 * lab_to_xyz(swatch.lab))]
    return [
        swatch.id,
        quoted(f"row {swatch.row}, column {swatch.column}"),
        quoted(swatch.recipe),
        *(f"{number:.4f}" for number in numbers),
        *(f"{sigma:.4f}" for sigma in (u.L, u.a, u.b, u.de00, u.own_de00)),
        quoted(swatch.munsell),
        f"{swatch.value:.3f}",
        quoted(swatch.value_name),
        f"{swatch.temperature.warmth:.4f}",
        quoted(" ".join(swatch.flags)),
    ]


def quoted(text: str) -> str:
    """Return a text as a CGATS string: in quotes, quotes doubled, 7-bit ASCII."""
    return '"' + "".join(_escaped(letter) for letter in text).replace('"', '""') + '"'


def _escaped(letter: str) -> str:
    code = ord(letter)
    if 32 <= code < 127 and letter not in "\\#":
        return letter
    return f"\\u{code:04X}" if code <= 0xFFFF else f"\\U{code:08X}"


def _unquoted(token: str) -> str:
    if not token.startswith('"'):
        return token
    text = token[1:-1].replace('""', '"')
    return _ESCAPE.sub(lambda found: chr(int(found[1] or found[2], 16)), text)


def _tokens(line: str, number: int) -> list[str]:
    tokens, at = [], 0
    for found in _TOKEN.finditer(line):
        if line[at : found.start()].strip():
            break
        at = found.end()
        if not found[0].startswith("#"):
            tokens.append(found[0])
    if line[at:].strip():
        raise CgatsError("The CGATS file cannot be read", f"a string does not end in line {number}")
    return tokens
