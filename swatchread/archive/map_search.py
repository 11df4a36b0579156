"""All swatches as points of the value-and-warmth map, and questions to them that are answered while a slider moves.

The points are read once and kept until the archive changes. What only the database knows (words, tubes, sitters) comes
from it as keys, which are kept for as long as the other conditions stay; value, warmth and nearness are told here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import Connection, Engine, select

from swatchread.archive.conditions import Query, conditions
from swatchread.archive.database import reading
from swatchread.archive.note_rows import unpack
from swatchread.archive.results import Found
from swatchread.archive.search import found_by_key, keys_of
from swatchread.archive.tables import ReadingRow, SwatchRow
from swatchread.archive.tube_words import TubeWords, archive_state, known_words

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from swatchread.colour.cielab import Floats

LISTED: Final = 60
"""Swatches of an answer that are told in full; the map shows all."""


@dataclass(frozen=True, eq=False)
class Scatter:
    """The swatches of the newest readings, in the order of their cards.

    Attributes
    ----------
    state : tuple
        What the archive was like (`archive_state`).
    keys, cards : ndarray of int, shape (n,)
        Key of the swatch's row; number of its card.
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    """

    state: tuple[Any, ...]
    keys: npt.NDArray[np.int64]
    cards: npt.NDArray[np.int64]
    lab: Floats

    def __len__(self) -> int:
        return len(self.keys)

    @cached_property
    def value(self) -> Floats:
        """Munsell values, shape (n,)."""
        from swatchread.colour.cielab import value_of_lab

        return value_of_lab(self.lab)

    @cached_property
    def warmth(self) -> Floats:
        """Warmths, shape (n,)."""
        from swatchread.colour.painter_terms import warmth

        return warmth(self.lab)


@dataclass(frozen=True, slots=True)
class MapQuestion:
    """A question, and the box that was drawn on the map.

    Attributes
    ----------
    query : Query
        Its limit does not count.
    warmth : (float, float) or None
        Lowest and highest warmth.
    first : int
        How many answers are passed over before those that are told in full.
    """

    query: Query
    warmth: tuple[float, float] | None = None
    first: int = 0


@dataclass(frozen=True, eq=False)
class MapAnswer:
    """What a question found.

    Attributes
    ----------
    points : ndarray of bool, shape (n,)
        Which points of the scatter answer it.
    total : int
    listed : tuple of Found
        At most `LISTED`, from dark to light, or from near to far if a colour was given.
    """

    points: npt.NDArray[np.bool_]
    total: int
    listed: tuple[Found, ...]


class MapSearch:
    """Answers questions to one archive, and keeps what the next question will need again.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    tubes : TubeWords
    """

    def __init__(self, engine: Engine, tubes: TubeWords) -> None:
        self._engine = engine
        self._tubes = tubes
        self._scatter: Scatter | None = None
        self._known: tuple[Any, npt.NDArray[np.bool_]] | None = None

    def state(self) -> tuple[Any, ...]:
        """Return what changes whenever the archive's cards or the painter's words change."""
        with reading(self._engine) as connection:
            return archive_state(connection)

    def scatter(self) -> Scatter:
        """Return all swatches that are searched, as points."""
        with reading(self._engine) as connection:
            return self._read(connection)

    def uncertainties(self, scatter: Scatter) -> Floats:
        """Return the standard uncertainty of each point, CIEDE2000, shape (n,)."""
        import numpy as np

        known = select(SwatchRow.id, SwatchRow.u_de00).join(ReadingRow).where(ReadingRow.newest == 1)
        with reading(self._engine) as connection:
            stated = {row.id: row.u_de00 for row in connection.execute(known)}
        return np.array([stated.get(key, 0.0) for key in scatter.keys.tolist()], dtype=np.float64)

    def answer(self, question: MapQuestion) -> MapAnswer:
        """Answer a question."""
        with reading(self._engine) as connection:
            return self._answer(connection, question)

    def _read(self, connection: Connection) -> Scatter:
        state = archive_state(connection)
        kept = self._scatter
        if kept is None or kept.state != state:
            kept = self._scatter = _read_scatter(connection, state)
        return kept

    def _answer(self, connection: Connection, question: MapQuestion) -> MapAnswer:
        import numpy as np

        scatter, query = self._read(connection), question.query
        points = self._by_database(connection, scatter, replace(query, value=None, limit=None))
        for numbers, span in ((scatter.value, query.value), (scatter.warmth, question.warmth)):
            if span is not None:
                points = points & (numbers >= span[0]) & (numbers <= span[1])
        order = np.flatnonzero(points)
        far = scatter.lab[order, 0]
        if query.near is not None:
            from swatchread.colour.cielab import delta_e_2000

            far = delta_e_2000(np.array(query.near.lab), scatter.lab[order])
            inside = far <= (np.inf if query.near.radius is None else query.near.radius)
            order, far = order[inside], far[inside]
            points = np.zeros_like(points)
            points[order] = True
        chosen = np.argsort(far, kind="stable")[question.first : question.first + LISTED]
        differences = far[chosen].tolist() if query.near else None
        listed = found_by_key(connection, scatter.keys[order[chosen]].tolist(), query.near, differences)
        return MapAnswer(points, len(order), listed)

    def _by_database(self, connection: Connection, scatter: Scatter, query: Query) -> npt.NDArray[np.bool_]:
        import numpy as np

        anything = replace(query, near=None) == Query(limit=None) and (query.near is None or query.near.swatch is None)
        if anything:
            return np.ones(len(scatter), dtype=bool)
        asked = (scatter.state, query)
        kept = self._known
        if kept is None or kept[0] != asked:
            known = known_words(connection) if query.with_tubes or query.without_tubes else ()
            tubes = self._tubes.for_questions(connection)
            points = np.isin(scatter.keys, keys_of(connection, conditions(query, tubes, known)))
            kept = self._known = asked, points
        return kept[1]


def _read_scatter(connection: Connection, state: tuple[Any, ...]) -> Scatter:
    import numpy as np

    newest = select(ReadingRow.card_id, ReadingRow.colours).where(ReadingRow.newest == 1).order_by(ReadingRow.card_id)
    rows: Sequence[Any] = connection.execute(newest).all()
    records = unpack(row.colours for row in rows)
    sizes = [len(row.colours) // max(records.itemsize, 1) for row in rows]
    cards = np.repeat(np.array([row.card_id for row in rows], dtype=np.int64), sizes)
    return Scatter(state, records["key"], cards, np.ascontiguousarray(records["lab"]))
