"""Finding swatches: an index narrows, CIEDE2000 decides.

Three ways lead to the nearest swatches, and each misses nothing:

* only a colour is asked for: a box of CIELAB that holds all colours within a radius
  (`swatchread.archive.search_bounds`) is
  read from the index, for growing radii until enough lie within;
* few swatches meet the other conditions: all of them are measured;
* many meet them, or the colour lies far from everything: the packed colours of the whole archive are sorted by what
  their difference is at least, and measured in that order until no other can be nearer.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Connection, func, select

from swatchread.archive.conditions import Near, Query, conditions
from swatchread.archive.packed_colours import unpack
from swatchread.archive.results import Found
from swatchread.archive.same_colour import same_probability
from swatchread.archive.search_bounds import least_de00, reach
from swatchread.archive.tables import CardRow, ColoursRow, ReadingRow, RecipeRow, SwatchRow
from swatchread.note.handwriting_files import writing_file
from swatchread.recipes.tubes import TubeList

if TYPE_CHECKING:
    import numpy.typing as npt

_RADII = (1.5, 4.0)
"""CIEDE2000 radii to look within first."""
_WIDE = 24.0
"""A box longer than this in CIELAB is dearer than the whole archive packed."""
_FEW = 4000
"""So many swatches are measured one by one."""
_AT_ONCE = 5000
"""Keys in one question: SQLite takes 32766 values at most."""

_KEYS_BEFORE_OTHERS = 200

_COLOUR = (SwatchRow.lab_l, SwatchRow.lab_a, SwatchRow.lab_b)
_ORDER = (SwatchRow.card_id, SwatchRow.row_number, SwatchRow.column_number, SwatchRow.id)

Hits = list[tuple[int, float]]
"""(row key, CIEDE2000) of some swatches."""


def find_swatches(connection: Connection, query: Query, tubes: TubeList) -> tuple[Found, ...]:
    """Answer a question.

    Parameters
    ----------
    connection : sqlalchemy.Connection
    query : Query
    tubes : TubeList
        To understand the tubes asked for.

    Returns
    -------
    tuple of Found
        By CIEDE2000 if a colour was asked for, else by card and place on it. With a radius and no limit, every
        swatch within the radius.
    """
    where = conditions(query, tubes)
    if query.near is None:
        keys = select(SwatchRow.id).where(*where).order_by(*_ORDER).limit(query.limit)
        hits: Hits = [(key, 0.0) for key in connection.execute(keys).scalars()]
    else:
        hits = _nearest(connection, query, query.near, where)
    rows = _details(connection, [key for key, _ in hits])
    found = [_found(rows[key], de00, query.near) for key, de00 in hits]
    if query.near is not None:
        # Equal differences stand in the same order in every database.
        found.sort(key=lambda f: (f.de00, f.card, _place(f.swatch), f.tool_version))
    return tuple(found[: query.limit])


def _nearest(connection: Connection, query: Query, near: Near, where: list[ColumnElement[bool]]) -> Hits:
    asked = inf if near.radius is None else near.radius
    limit = inf if query.limit is None else query.limit
    newest = where[: int(not query.every_reading)]
    rest = where[len(newest) :]
    if rest:
        counted = select(SwatchRow.id).where(*where).limit(_FEW + 1).subquery()
        if connection.execute(select(func.count()).select_from(counted)).scalar_one() <= _FEW:
            return _cut(_measure(connection.execute(_colours(where)).all(), near.lab, asked), limit)
        # An index for the colour and one for a condition cannot be used together.
        return _anywhere(connection, query, rest, asked)
    for radius in _RADII:
        box = reach(near.lab, min(radius, asked))
        if any(high - low > _WIDE for low, high in zip(box.low, box.high, strict=True)):
            break
        sides = [column.between(low, high) for column, low, high in zip(_COLOUR, box.low, box.high, strict=True)]
        hits = _measure(connection.execute(_colours([*newest, *sides])).all(), near.lab, min(radius, asked))
        # All that lie closer than the radius are among the hits, so enough hits are the nearest ones.
        if radius >= asked or len(hits) >= limit:
            return _cut(hits, limit)
    return _anywhere(connection, query, rest, asked)


def _anywhere(connection: Connection, query: Query, rest: list[ColumnElement[bool]], asked: float) -> Hits:
    """Measure the whole archive, those first that can be nearest; keep what meets the rest of the conditions.

    The packs themselves meet the first one: they are those of the newest readings, unless all are asked.
    """
    import numpy as np

    packs = select(ColoursRow.packed)
    if not query.every_reading:
        packs = packs.where(ColoursRow.newest == 1)
    keys, labs = unpack(bytes(part) for part in connection.execute(packs).scalars())
    if query.near is None or not len(keys):
        return []
    limit = inf if query.limit is None else query.limit
    least = least_de00(query.near.lab, labs)
    order = np.argsort(least)
    hits: Hits = []
    farthest = asked
    for start, stop in _blocks(len(order)):
        block = order[start:stop]
        if least[block[0]] > farthest:
            break
        de00 = _de00(query.near.lab, labs[block])
        inside = de00 <= farthest
        measured = list(zip(keys[block[inside]].tolist(), de00[inside].tolist(), strict=True))
        hits = _cut(hits + _meeting(connection, measured, rest, limit), limit)
        if len(hits) >= limit:
            farthest = min(asked, max(distance for _, distance in hits))
    return hits


def _meeting(connection: Connection, measured: Hits, rest: list[ColumnElement[bool]], limit: float) -> Hits:
    """Return those of the measured swatches that meet the conditions: the nearest `limit`, ties included, or more."""
    if not rest:
        return measured
    nearest = sorted(measured, key=lambda hit: hit[1])
    hits: Hits = []
    # Few keys at once keep SQLite on the keys' own index; the nearest usually suffice.
    step = _KEYS_BEFORE_OTHERS if limit < inf else _AT_ONCE
    for start in range(0, len(nearest), step):
        if len(hits) >= limit and nearest[start][1] > hits[int(limit) - 1][1]:
            break
        chunk = dict(nearest[start : start + step])
        kept = connection.execute(select(SwatchRow.id).where(SwatchRow.id.in_(list(chunk)), *rest)).scalars()
        hits += sorted(((key, chunk[key]) for key in kept), key=lambda hit: hit[1])
    return hits


def _blocks(count: int) -> Iterator[tuple[int, int]]:
    """Cut a range into blocks that fit a processor's cache: a small one first, it often is enough."""
    start, size = 0, 1000
    while start < count:
        yield start, min(count, start + size)
        start, size = start + size, _AT_ONCE


def _colours(where: list[ColumnElement[bool]]) -> Any:
    return select(SwatchRow.id, *_COLOUR).where(*where)


def _measure(rows: Any, lab: tuple[float, float, float], radius: float) -> Hits:
    import numpy as np

    if not rows:
        return []
    table = np.array([tuple(row) for row in rows], dtype=np.float64)
    de00 = _de00(lab, table[:, 1:])
    inside = de00 <= radius
    return list(zip(table[inside, 0].astype(np.int64).tolist(), de00[inside].tolist(), strict=True))


def _de00(lab: tuple[float, float, float], labs: npt.NDArray[Any]) -> npt.NDArray[Any]:
    import numpy as np

    from swatchread.colour.cielab import delta_e_2000

    return delta_e_2000(np.array(lab), labs)


def _cut(hits: Hits, limit: float) -> Hits:
    """Return the nearest, with all that are as near as the last of them."""
    if len(hits) <= limit:
        return hits
    hits = sorted(hits, key=lambda hit: hit[1])
    last = hits[int(limit) - 1][1]
    return [hit for hit in hits if hit[1] <= last]


def _details(connection: Connection, keys: list[int]) -> dict[int, Any]:
    statement = (
        select(
            SwatchRow.__table__,
            CardRow.photo_sha256,
            func.coalesce(RecipeRow.written, "").label("recipe"),
            *(getattr(ReadingRow, name) for name in ("tool_version", "title", "sitter", "date", "medium")),
            *(getattr(ReadingRow, name) for name in ("photo_file", "folder")),
        )
        .join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
        .join(CardRow, CardRow.id == SwatchRow.card_id)
        .join(RecipeRow, RecipeRow.id == SwatchRow.recipe_id, isouter=True)
    )
    rows = {}
    for start in range(0, len(keys), _AT_ONCE):
        for row in connection.execute(statement.where(SwatchRow.id.in_(keys[start : start + _AT_ONCE]))):
            rows[row.id] = row
    return rows


def _found(row: Any, de00: float, near: Near | None) -> Found:
    writing = writing_file(Path(row.folder), row.writing) if row.writing and row.folder else None
    return Found(
        card=row.card_id,
        tool_version=row.tool_version,
        swatch=row.swatch,
        lab=(row.lab_l, row.lab_a, row.lab_b),
        uncertainty_de00=row.u_de00,
        munsell=row.munsell,
        value=row.value,
        value_name=row.value_name,
        temperature=row.temperature,
        relative=row.relative,
        lean=row.lean,
        recipe=row.recipe,
        title=row.title,
        sitter=row.sitter,
        date=row.date,
        medium=row.medium,
        photo=row.photo_file,
        writing=str(writing or ""),
        de00=None if near is None else de00,
        same=None if near is None else _same(row, de00, near),
    )


def _same(row: Any, de00: float, near: Near) -> float:
    shared = near.swatch is not None and near.swatch[0] == row.photo_sha256 and near.own_de00 > 0.0 < row.own_de00
    pair = (near.own_de00, row.own_de00) if shared else (near.uncertainty_de00, row.u_de00)
    return same_probability(de00, pair, near.visible)


def _place(swatch: str) -> tuple[int, int]:
    row, column = swatch[1:].split("c")
    return int(row), int(column)
