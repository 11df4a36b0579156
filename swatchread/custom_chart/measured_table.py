"""Values that an instrument has measured on the painter's own copy of a chart, from a table."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchread.chart.definition import MAX_BYTES, ChartDefinition
from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.colour.standards import (
    ILLUMINANTS,
    OBSERVERS,
    SPACINGS_NM,
    converted_to_d50,
    lab_of_spectra,
)
from swatchread.errors import MeasuredTableError, UsageError
from swatchread.note.record_files import read_capped
from swatchread.report.cgats import parse_cgats

_CGATS = {"LAB_L": "l", "LAB_A": "a", "LAB_B": "b", "SAMPLE_NAME": "name", "STDEV_DE": "u"}
_CSV = {"l*": "l", "a*": "a", "b*": "b", "lab_l": "l", "lab_a": "a", "lab_b": "b", "patch": "name", "de00": "u"}
_WAVELENGTH = re.compile(r"(?:spectral_?)?(?:nm_?)?(\d{3})(?: ?nm)?", re.IGNORECASE)
"""Heading of a column of reflectances: ``SPECTRAL_NM400``, ``nm400``, ``400 nm``, ``400``."""

_INSTRUMENT = 0.3
"""CIEDE2000 taken where the table says nothing: between models of hand-held instruments it is about this or more
(value from memory)."""

_ASTRAY = 20.0
"""CIEDE2000 from the published value above which a patch cannot be the chart's (common practice)."""

_USUALLY = 8.0
"""The same for half of the patches."""

_LONGEST_START, _SHORTEST_END = 400, 700
"""Wavelengths, nm, that spectra must begin and end at, or beyond: as far as hand-held instruments reach."""

_FEWEST_BANDS = 16
"""Columns of reflectances that make a spectrum: 400 to 700 nm in steps of 20 nm."""

_PER_CENT = 2.0
"""Reflectances above this are taken for per cent: no paint that does not glow reflects more than all light."""

_DARK_NOISE = 0.01
"""Reflectance below zero that an instrument's noise may show on a black."""

Row = dict[str, str]


def chart_of_table(
    path: Path, like: ChartDefinition, name: str, illuminant: str = "D50", observer: int = 2
) -> ChartDefinition:
    """Make a chart of measured values.

    Parameters
    ----------
    path : pathlib.Path
        CSV with a head line (L, a, b; perhaps name, u), or CGATS.17 text (ISO 28178) with LAB_L, LAB_A, LAB_B.
        Columns of reflectances, one a wavelength, are used instead of L, a, b where there are any.
    like : ChartDefinition
        The chart that was measured.
    name : str
        Of the new chart.
    illuminant : str
        The CIE illuminant that L, a, b are for: one of `swatchread.colour.standards.ILLUMINANTS`.
    observer : int
        The CIE standard observer that they are for: 2 or 10 (degrees).

    Returns
    -------
    ChartDefinition
        With the layout of `like` and the values of the table for D50 and the 2 degree observer.

    Raises
    ------
    MeasuredTableError
        If the table cannot be read, or its values are clearly not those of the chart in its order.
    UsageError
        If there is no such illuminant or observer.
    """
    if illuminant not in ILLUMINANTS or observer not in OBSERVERS:
        raise UsageError(
            f"No values are known for illuminant {illuminant} and an observer of {observer} degrees",
            "",
            f"Choose one of {', '.join(ILLUMINANTS)}, and 2 or 10 degrees",
        )
    rows = _ordered(_rows(_text(path), path.name), like, path.name)
    lab, error, source = _values(rows, illuminant, observer, path.name)
    u = np.array([_number(row, "u", path.name) if row.get("u", "").strip() else _INSTRUMENT for row in rows])
    if not ((lab >= [0, -160, -160]) & (lab <= [105, 160, 160])).all() or not ((u >= 0) & (u <= 20)).all():
        raise MeasuredTableError(f"{path.name} holds values that no patch can have")
    _require_like(lab, like, path.name)
    de00 = np.hypot(u, error)
    return replace(
        like,
        name=name,
        title=f"{like.title}: one copy, as measured"[:200],
        source=source,
        spread_de00=round(float(np.sqrt((de00**2).mean())), 2),
        lab=lab,
        de00=de00,
    )


def _text(path: Path) -> str:
    try:
        return read_capped(path, MAX_BYTES, "a table of patches", MeasuredTableError).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise MeasuredTableError(f"{path.name} is not UTF-8 text", "", "Save the table as CSV UTF-8") from error


def _values(rows: list[Row], illuminant: str, observer: int, source: str) -> tuple[Floats, float, str]:
    """Return CIELAB for D50 and 2 degree, the CIEDE2000 that its computation may be off, and where it comes from."""
    if columns := _spectral_columns(rows[0]):
        lab = lab_of_spectra(np.array(list(columns.values())), _reflectances(rows, columns, source))
        return lab, 0.0, "Reflectances measured by its owner, CIELAB for D50, 2 degree by ASTM E308"
    lab = np.array([[_number(row, key, source) for key in "lab"] for row in rows])
    if (illuminant, observer) == ("D50", 2):
        return lab, 0.0, "Values measured by its owner, CIELAB for D50, 2 degree"
    converted, error = converted_to_d50(lab, illuminant, observer)
    origin = (
        f"Values measured by its owner, CIELAB for {illuminant}, {observer} degree, converted to D50, 2 degree by a "
        f"matrix fitted on published reflectances of the classic 24 patches; these are CIEDE2000 {error:.1f} off "
        "(root mean square, each left out in turn), which the uncertainty of each patch holds"
    )
    return converted, error, origin


def _spectral_columns(row: Row) -> dict[str, int]:
    """Return the columns of reflectances with their wavelengths in nm, in order; none if they make no spectrum."""
    found = {key: match for key in row if (match := _WAVELENGTH.fullmatch(key))}
    if len(found) < _FEWEST_BANDS:
        return {}
    return dict(sorted(((key, int(match[1])) for key, match in found.items()), key=lambda item: item[1]))


def _reflectances(rows: list[Row], columns: dict[str, int], source: str) -> Floats:
    """Return reflectance factors, one row a patch, one column a wavelength."""
    steps = set(np.diff(list(columns.values())).tolist())
    first, last = min(columns.values()), max(columns.values())
    if len(steps) != 1 or not steps <= set(SPACINGS_NM) or first > _LONGEST_START or last < _SHORTEST_END:
        raise MeasuredTableError(
            f"The spectra in {source} cannot be used",
            f"their columns go from {first} to {last} nm",
            f"Give at least {_LONGEST_START} to {_SHORTEST_END} nm in even steps of 1, 5, 10 or 20 nm",
        )
    values = np.array([[_number(row, key, source) for key in columns] for row in rows])
    reflectance = values / 100.0 if values.max() > _PER_CENT else values
    if reflectance.min() < -_DARK_NOISE:
        raise MeasuredTableError(f"{source} holds reflectances below zero")
    return np.maximum(reflectance, 0.0)


def _rows(text: str, source: str) -> list[Row]:
    """Return the table's rows with plain keys: l, a, b, name, u; columns of reflectances keep theirs."""
    if "BEGIN_DATA" in text:
        return [{_CGATS.get(key, key): value for key, value in row.items()} for row in parse_cgats(text).rows]
    head = text.splitlines()[0] if text.strip() else ""
    reader = csv.DictReader(io.StringIO(text), delimiter=";" if head.count(";") > head.count(",") else ",")
    try:
        rows = [
            {_CSV.get(key.strip().lower(), key.strip().lower()): value or "" for key, value in row.items() if key}
            for row in reader
        ]
    except csv.Error as error:
        raise MeasuredTableError(f"{source} cannot be read as CSV", str(error)) from error
    return [row for row in rows if any(value.strip() for value in row.values() if isinstance(value, str))]


def _ordered(rows: list[Row], like: ChartDefinition, source: str) -> list[Row]:
    """Return one row a patch, in the chart's order."""
    count = len(like.patch_names)
    if len(rows) != count:
        raise MeasuredTableError(f"{source} has {len(rows)} rows of values, {like.name} has {count} patches")
    names = [row.get("name", "").strip().lower() for row in rows]
    if set(names) == set(like.patch_names):
        return [rows[names.index(name)] for name in like.patch_names]
    # Instruments write numbers and places (1, A1) for names. Where most names are the chart's, another one is a slip.
    # The rows may then stand in any order, and two greys in each other's place are too alike to show it.
    known = sum(name in like.patch_names for name in names)
    if known > count // 2:
        strange = [name or "no name" for name in names if name not in like.patch_names]
        twice = sorted({name for name in names if names.count(name) > 1})
        missing = [name for name in like.patch_names if name not in names]
        raise MeasuredTableError(
            f"The names in {source} are not those of {like.name}",
            f"there is {', '.join(strange or twice)}, and no {', '.join(missing)}",
            "Correct the names, or leave the column away where the rows stand in the chart's order",
        )
    return rows


def _number(row: Row, key: str, source: str) -> float:
    text = row.get(key, "").strip()
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = np.nan
    if not np.isfinite(value):
        raise MeasuredTableError(f"{source} has no number for {key.upper() if key == 'l' else key} in a row", text)
    return float(value)


def _require_like(lab: Floats, like: ChartDefinition, source: str) -> None:
    """Refuse values that stand in another order or were measured for another illuminant."""
    off = delta_e_2000(lab, like.lab)
    worst = int(np.argmax(off))
    if off[worst] > _ASTRAY or float(np.median(off)) > _USUALLY:
        raise MeasuredTableError(
            f"The values in {source} are not those of {like.name}",
            f"{like.patch_names[worst]} would be CIEDE2000 {off[worst]:.0f} from the published value, "
            f"half of the patches more than {float(np.median(off)):.0f}",
        )
