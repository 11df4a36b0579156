"""Finding swatches: the database applies all conditions but the colour, one call of CIEDE2000 does the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import ColumnElement, Connection, Select, String, cast, func, select

from swatchread.archive.conditions import VISIBLE_DE00, Near, Query, conditions
from swatchread.archive.note_rows import WITHOUT_WARNINGS, unpack
from swatchread.archive.results import Found
from swatchread.archive.tables import CardRow, ReadingRow, SwatchRow
from swatchread.archive.tube_words import known_words
from swatchread.note.safe_files import writing_file
from swatchread.recipes.tubes import TubeList

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

SIGMAS_PER_UNCERTAINTY: Final = 1.87796
"""Radius, in standard deviations of one axis, that holds 68.27 % of a normal error in three dimensions."""

_EXACT_SIGMA: Final = 1e-3
"""CIEDE2000 below which an error is none; no photo measures so well, and the squares below stay finite."""

_KEYS_AT_ONCE = 5000
"""Keys in one statement; SQLite takes at most 32766 values."""

_ORDER = (SwatchRow.value, ReadingRow.card_id, SwatchRow.row_number, SwatchRow.column_number, SwatchRow.id)
_DETAILS = (
    *(ReadingRow.card_id.label("card"), ReadingRow.tool_version, ReadingRow.title, ReadingRow.sitter, ReadingRow.date),
    *(ReadingRow.medium, ReadingRow.photo_file.label("photo"), ReadingRow.folder, CardRow.photo_sha256),
    SwatchRow.u_de00.label("uncertainty_de00"),
)
_AS_STORED = {field.name for field in fields(Found)} - {"lab", "writing", "de00", "same", "doubtful"}
"""What is found of a swatch just as the selected columns hold it, by the same names."""


def find_swatches(connection: Connection, query: Query, tubes: TubeList) -> tuple[Found, ...]:
    """Answer a question.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    query : Query
    tubes : TubeList
        With which the tubes in the question are understood.

    Returns
    -------
    tuple of Found
        In the order of CIEDE2000 if a colour was given, else dark to light. With a radius and no limit, every swatch
        within the radius.
    """
    known = known_words(connection) if query.with_tubes or query.without_tubes else ()
    where = conditions(query, tubes, known)
    details = _joined(*SwatchRow.__table__.c, *_DETAILS)
    if query.near is None:
        rows = connection.execute(details.where(*where).order_by(*_ORDER).limit(query.limit))
        return _marked(connection, [_found(row) for row in rows])
    nearest = _nearest(connection, query.near, where, query.limit)
    keys = list(nearest)
    found = []
    for start in range(0, len(keys), _KEYS_AT_ONCE):
        rows = connection.execute(details.where(SwatchRow.id.in_(keys[start : start + _KEYS_AT_ONCE])))
        found += [_found(row, query.near, nearest[row.id]) for row in rows]
    # Equal differences are in the same order in every database.
    found.sort(key=lambda one: (one.de00, one.card, _place(one.swatch), one.tool_version))
    return _marked(connection, found[: query.limit])


def found_by_key(
    connection: Connection, keys: Sequence[int], near: Near | None, differences: Sequence[float] | None
) -> tuple[Found, ...]:
    """Return the swatches of some keys, in that order, with their CIEDE2000 from the colour that was asked for."""
    rows = connection.execute(_joined(*SwatchRow.__table__.c, *_DETAILS).where(SwatchRow.id.in_(keys)))
    by_key = {row.id: row for row in rows}
    far: Sequence[float | None] = differences or [None] * len(keys)
    found = [_found(by_key[key], near, de00) for key, de00 in zip(keys, far, strict=True) if key in by_key]
    return _marked(connection, found)


def _marked(connection: Connection, found: Sequence[Found]) -> tuple[Found, ...]:
    """Return what was found, with a mark on the swatches whose photo was read with warnings."""
    cards = sorted({one.card for one in found})
    doubtful: set[tuple[int, str]] = set()
    for start in range(0, len(cards), _KEYS_AT_ONCE):
        some = ReadingRow.card_id.in_(cards[start : start + _KEYS_AT_ONCE])
        warned = ~ReadingRow.note_json.contains(WITHOUT_WARNINGS)
        rows = connection.execute(select(ReadingRow.card_id, ReadingRow.tool_version).where(some, warned))
        doubtful.update((row.card_id, row.tool_version) for row in rows)
    return tuple(replace(one, doubtful=True) if (one.card, one.tool_version) in doubtful else one for one in found)


def _joined(*columns: Any) -> Select[Any]:
    """Select columns of swatches, each with its reading and its card."""
    return (
        select(*columns)
        .select_from(SwatchRow)
        .join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
        .join(CardRow, CardRow.id == ReadingRow.card_id)
    )


def _nearest(
    connection: Connection, near: Near, where: list[ColumnElement[bool]], limit: int | None
) -> dict[int, float]:
    """Return key and CIEDE2000 of the nearest swatches that meet the conditions, with all that tie with the last."""
    import numpy as np

    from swatchread.colour.cielab import delta_e_2000

    colours = unpack(connection.execute(select(ReadingRow.colours)).scalars())
    colours = colours[np.isin(colours["key"], keys_of(connection, where))]
    de00 = delta_e_2000(np.array(near.lab), colours["lab"])
    farthest = np.inf if near.radius is None else near.radius
    if limit is not None and limit < len(de00):
        farthest = min(farthest, np.partition(de00, limit - 1)[limit - 1])
    inside = de00 <= farthest
    return dict(zip(colours["key"][inside].tolist(), de00[inside].tolist(), strict=True))


def keys_of(connection: Connection, where: list[ColumnElement[bool]]) -> npt.NDArray[np.int64]:
    """Return the keys of the swatches that meet the conditions."""
    import numpy as np

    # One text of all keys comes out of a database ten times faster than as many rows.
    joined = func.aggregate_strings(cast(SwatchRow.id, String), ",")
    keys = connection.execute(_joined(joined).where(*where)).scalar()
    return np.fromstring(keys, dtype=np.int64, sep=",") if keys else np.empty(0, dtype=np.int64)


def _found(row: Any, near: Near | None = None, de00: float | None = None) -> Found:
    writing = writing_file(Path(row.folder), row.writing) if row.writing and row.folder else None
    return Found(
        **{name: getattr(row, name) for name in _AS_STORED},
        lab=(row.lab_l, row.lab_a, row.lab_b),
        writing=str(writing or ""),
        de00=de00,
        same=None if near is None or de00 is None else _same(row, de00, near),
    )


def _same(row: Any, de00: float, near: Near) -> float:
    shared = near.swatch is not None and near.swatch[0] == row.photo_sha256 and near.own_de00 > 0.0 < row.own_de00
    pair = (near.own_de00, row.own_de00) if shared else (near.uncertainty_de00, row.u_de00)
    return same_probability(de00, pair, near.visible)


def _place(swatch: str) -> tuple[int, int]:
    """Return row and column, as numbers, from the id of a swatch."""
    row, column = swatch[1:].split("c")
    return int(row), int(column)


def same_probability(de00: float, uncertainties: tuple[float, float], visible: float = VISIBLE_DE00) -> float:
    """Return the probability that two colours are truly closer than an eye can see.

    The model: close together, CIEDE2000 is a plain distance in a space of three axes. Each reading is off by a normal
    error. It is alike along the three axes, independent of the other reading's, and as large as the stated uncertainty
    says: its length stays below that uncertainty 68.27 % of the time (this is what `uncertainty.de00` of a note means).
    Nothing is assumed about where the true colours lie (flat prior). Then the true difference is normal round the
    measured one with σ² = (u1² + u2²)/1.87796² on each axis. The square of its length over σ follows a non-central
    chi-square distribution with 3 degrees of freedom. The result is the distribution function at `visible`.

    Large uncertainties therefore make the probability small even for equal readings: such readings cannot tell.

    Parameters
    ----------
    de00 : float
        Measured CIEDE2000 difference, >= 0.
    uncertainties : (float, float)
        One-sigma CIEDE2000 uncertainty of each colour, >= 0; 0 for a colour given exactly.
    visible : float
        Differences up to this count as one colour, > 0.

    Returns
    -------
    float
        0 to 1.
    """
    from scipy.special import chndtr

    sigma = hypot(*uncertainties) / SIGMAS_PER_UNCERTAINTY
    if sigma < _EXACT_SIGMA:
        return 1.0 if de00 <= visible else 0.0
    return float(chndtr((visible / sigma) ** 2, 3, (de00 / sigma) ** 2))
