"""Values that an instrument has measured on the painter's own copy of a chart, from a table."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchread.chart.definition import MAX_BYTES, ChartDefinition
from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.errors import MeasuredTableError, why_unread
from swatchread.report.cgats import parse_cgats

_CGATS = {"LAB_L": "l", "LAB_A": "a", "LAB_B": "b", "SAMPLE_NAME": "name", "STDEV_DE": "u"}
_CSV = {"l*": "l", "a*": "a", "b*": "b", "lab_l": "l", "lab_a": "a", "lab_b": "b", "patch": "name", "de00": "u"}
_INSTRUMENT = 0.3
"""CIEDE2000 taken where the table says nothing: between models of hand-held instruments it is about this or more
(value from memory)."""

_ASTRAY = 20.0
_USUALLY = 8.0

Row = dict[str, str]


def chart_of_table(path: Path, like: ChartDefinition, name: str) -> ChartDefinition:
    """Make a chart of measured values.

    Parameters
    ----------
    path : pathlib.Path
        CSV with a head line (L, a, b; perhaps name, u), or CGATS.17 text (ISO 28178) with LAB_L, LAB_A, LAB_B.
    like : ChartDefinition
        The chart that was measured.
    name : str
        Of the new chart.

    Returns
    -------
    ChartDefinition
        With the layout of `like` and the values of the table.

    Raises
    ------
    MeasuredTableError
        If the table cannot be read, or its values are clearly not those of the chart in its order.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise MeasuredTableError(f"{path.name} is too large to be a table of patches")
        text = path.read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        raise MeasuredTableError(f"{path.name} is not UTF-8 text", "", "Save the table as CSV UTF-8") from error
    except (OSError, ValueError) as error:
        raise MeasuredTableError(f"{path.name} cannot be read", *why_unread(error)) from error
    rows = _ordered(_rows(text, path.name), like, path.name)
    lab = np.array([[_number(row, key, path.name) for key in "lab"] for row in rows])
    u = np.array([_number(row, "u", path.name) if row.get("u", "").strip() else _INSTRUMENT for row in rows])
    if not ((lab >= [0, -160, -160]) & (lab <= [105, 160, 160])).all() or not ((u >= 0) & (u <= 20)).all():
        raise MeasuredTableError(f"{path.name} holds values that no patch can have")
    _require_like(lab, like, path.name)
    return replace(
        like,
        name=name,
        title=f"{like.title}: one copy, as measured"[:200],
        source="Values measured by its owner, CIELAB for D50, 2 degree",
        spread_de00=round(float(np.sqrt((u**2).mean())), 2),
        lab=lab,
        de00=u,
    )


def _rows(text: str, source: str) -> list[Row]:
    """Return the table's rows with plain keys: l, a, b, name, u."""
    if "BEGIN_DATA" in text:
        return [{_CGATS[k]: v for k, v in row.items() if k in _CGATS} for row in parse_cgats(text).rows]
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
    # Numbers and places (1, A1) are an instrument's own; but among patch names one that is none is a slip, and in their
    # order the rows need not stand: greys in each other's place are not far enough off to show.
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
