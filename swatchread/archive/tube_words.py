"""The painter's words for tubes: what each painter has said of them, and where they stand on the archived cards.

The archive keeps the words of recipes as they were written. Which tube a word means is decided when a question is
asked, so that what a painter says today holds for all cards at once.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Connection, Select, delete, distinct, func, insert, select

from swatchread.archive.note_rows import search_key, storable
from swatchread.archive.tables import OwnTubeRow, ReadingRow, SwatchRow, TubeRow
from swatchread.errors import UsageError
from swatchread.recipes.own_tubes import MAX_TUBES, OwnTube, UsedWord
from swatchread.recipes.tubes import TubeList, tokens

PAINTER_ENVIRONMENT: Final = "SWATCHREAD_PAINTER"
"""Names the painter whose words count, where several painters share one archive."""


def painter_at_work() -> str:
    """Return the name of the painter whose words count; empty where only one uses the archive."""
    return storable(os.environ.get(PAINTER_ENVIRONMENT, "").strip())[:120]


def said_tubes(connection: Connection) -> tuple[OwnTube, ...]:
    """Return what the painter has said of tubes, in that order."""
    mine = select(OwnTubeRow.word, OwnTubeRow.tube, OwnTubeRow.pigments)
    rows = connection.execute(mine.where(OwnTubeRow.painter == painter_at_work()).order_by(OwnTubeRow.id))
    return tuple(OwnTube(row.word, row.tube, tuple(row.pigments.split())) for row in rows)


def say_tubes(connection: Connection, tubes: Sequence[OwnTube]) -> None:
    """Keep what the painter says; a word that had another meaning gets the new one.

    Raises
    ------
    UsageError
        If there are more words than a studio can hold.
    """
    said = {_key(tube.word): tube for tube in said_tubes(connection)}
    changed = {_key(tube.word): tube for tube in tubes}
    if len(said | changed) > MAX_TUBES:
        raise UsageError(f"The archive keeps at most {MAX_TUBES} words for tubes", "", "Forget some of them first")
    again = [key for key, tube in changed.items() if key in said]
    if again:
        connection.execute(delete(OwnTubeRow).where(*_mine(again)))
    rows = [
        {
            "painter": painter_at_work(),
            "word_key": key,
            "word": storable(tube.word),
            "tube": storable(tube.tube),
            "pigments": " ".join(tube.pigments),
        }
        for key, tube in changed.items()
    ]
    if rows:
        connection.execute(insert(OwnTubeRow), rows)


def forget_tube(connection: Connection, word: str) -> bool:
    """Take back what the painter said of a word; return whether anything had been said."""
    return bool(connection.execute(delete(OwnTubeRow).where(*_mine([_key(word)]))).rowcount)


def words_on_cards(connection: Connection) -> tuple[UsedWord, ...]:
    """Return the words for tubes on all cards, as they are compared, those beside the most swatches first."""
    cards, swatches = func.count(distinct(SwatchRow.reading_id)), func.count()
    statement = (
        select(TubeRow.tube, cards.label("cards"), swatches.label("swatches"))
        .join(SwatchRow, SwatchRow.id == TubeRow.swatch_id)
        .join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
        .where(ReadingRow.newest == 1)
        .group_by(TubeRow.tube)
        .order_by(swatches.desc(), TubeRow.tube)
    )
    return tuple(UsedWord(row.tube, row.cards, row.swatches) for row in connection.execute(statement))


def known_words(connection: Connection) -> tuple[str, ...]:
    """Return every word for a tube in the archive, as it is compared."""
    return tuple(connection.execute(select(TubeRow.tube).distinct()).scalars())


def swatches_with_tube(words: str, known: Sequence[str], tubes: TubeList) -> Select[Any]:
    """Select the swatches whose recipe holds a word that may mean what some words may mean.

    Parameters
    ----------
    words : str
        As the painter asks.
    known : sequence of str
        All words for tubes in the archive (`known_words`).
    tubes : TubeList
        The painter's.
    """
    wanted = set(tubes.match(words).names)
    keys = {word for word in known if wanted.intersection(tubes.match(word).names)} | {search_key(words)}
    return select(TubeRow.swatch_id).where(TubeRow.tube.in_(sorted(keys)))


def _key(word: str) -> str:
    return " ".join(tokens(word))


def _mine(keys: Sequence[str]) -> tuple[Any, ...]:
    return OwnTubeRow.painter == painter_at_work(), OwnTubeRow.word_key.in_(keys)
