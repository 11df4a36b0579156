"""Finding swatches: the index narrows, CIEDE2000 decides."""

from __future__ import annotations

from dataclasses import replace
from math import inf
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Select, select

from swatchread.archive.likeness import same_probability
from swatchread.archive.models import CardRow, ReadingRow, SwatchRow
from swatchread.archive.query import Near, Query, asks_readings, not_itself, restrict
from swatchread.archive.reach import reach
from swatchread.archive.records import Found
from swatchread.tubes import TubeList
from swatchread.writing import writing_file

_FIRST_RADIUS = 2.0
_GROWTH = 2.0
_WIDEST_BOX = 16.0
"""CIEDE2000 radius above which a box hardly narrows anything."""
_AT_ONCE = 5000
"""Keys in one question: SQLite takes 32766 values at most."""

_ORDER = (CardRow.id, SwatchRow.row_number, SwatchRow.column_number, SwatchRow.id)


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
    if query.near is None:
        statement = restrict(_details(), query, tubes).order_by(*_ORDER).limit(query.limit)
        return tuple(_found(row) for row in connection.execute(statement))
    nearest = _nearest(connection, query, query.near, tubes)
    details = {}
    for start in range(0, len(nearest), _AT_ONCE):
        keys = [key for key, _ in nearest[start : start + _AT_ONCE]]
        for row in connection.execute(_details().where(SwatchRow.id.in_(keys))):
            details[row.id] = row
    found = [_measured(details[key], de00, query.near) for key, de00 in nearest]
    # Equal differences stand in the same order in every database.
    found.sort(key=lambda f: (f.de00, f.card, _place(f.swatch), f.tool_version))
    return tuple(found[: query.limit])


def _nearest(connection: Connection, query: Query, near: Near, tubes: TubeList) -> list[tuple[int, float]]:
    """Return (key, CIEDE2000) of the swatches to answer, ties at the limit included, unordered."""
    asked = inf if near.radius is None else near.radius
    base: Any = select(SwatchRow.id, SwatchRow.lab_l, SwatchRow.lab_a, SwatchRow.lab_b)
    if asks_readings(query):
        base = base.join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
    base = restrict(base, query, tubes)
    if near.swatch:
        base = base.where(not_itself(near.swatch))
    radius = asked if query.limit is None else min(_FIRST_RADIUS, asked)
    while True:
        if radius > _WIDEST_BOX:
            radius = asked
        hits = _within(connection, base, near, radius)
        # All that lie closer than `radius` are among the hits, so enough hits are the nearest ones.
        if radius >= asked or (query.limit is not None and len(hits) >= query.limit):
            break
        radius = min(radius * _GROWTH, asked)
    if query.limit is None or len(hits) <= query.limit:
        return hits
    hits.sort(key=lambda hit: hit[1])
    last = hits[query.limit - 1][1]
    return [hit for hit in hits if hit[1] <= last]


def _within(connection: Connection, base: Select[Any], near: Near, radius: float) -> list[tuple[int, float]]:
    import numpy as np

    from swatchread.colour import delta_e_2000

    if radius < inf:
        box = reach(near.lab, radius)
        for column, low, high in zip(
            (SwatchRow.lab_l, SwatchRow.lab_a, SwatchRow.lab_b), box.low, box.high, strict=True
        ):
            if high < inf:
                base = base.where(column.between(low, high))
    rows = connection.execute(base).all()
    if not rows:
        return []
    table = np.array([tuple(row) for row in rows], dtype=np.float64)
    de00 = delta_e_2000(np.array(near.lab), table[:, 1:])
    inside = de00 <= radius
    return list(zip(table[inside, 0].astype(np.int64).tolist(), de00[inside].tolist(), strict=True))


def _details() -> Select[Any]:
    return (
        select(
            *(column for column in SwatchRow.__table__.columns if column.name != "words"),
            CardRow.id.label("card"),
            CardRow.photo_sha256,
            *(getattr(ReadingRow, name) for name in ("tool_version", "title", "sitter", "date", "medium")),
            *(getattr(ReadingRow, name) for name in ("photo_file", "folder")),
        )
        .join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
        .join(CardRow, CardRow.id == ReadingRow.card_id)
    )


def _found(row: Any) -> Found:
    writing = writing_file(Path(row.folder), row.writing) if row.writing and row.folder else None
    return Found(
        card=row.card,
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
    )


def _measured(row: Any, de00: float, near: Near) -> Found:
    shared = near.swatch is not None and near.swatch[0] == row.photo_sha256 and near.own_de00 > 0.0 < row.own_de00
    pair = (near.own_de00, row.own_de00) if shared else (near.uncertainty_de00, row.u_de00)
    same = same_probability(de00, pair, near.visible)
    return replace(_found(row), de00=de00, same=same)


def _place(swatch: str) -> tuple[int, int]:
    row, column = swatch[1:].split("c")
    return int(row), int(column)
