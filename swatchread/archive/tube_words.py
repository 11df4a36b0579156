"""The painter's words for tubes: what each painter has said of them, and where they stand on the archived cards.

The archive keeps the words of recipes as they were written. Which tube a word means is decided when a question is
asked, so that what a painter says today holds for all cards at once.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Connection, Engine, Select, delete, distinct, func, insert, select

from swatchread.archive.database import reading, writing
from swatchread.archive.note_rows import storable, tube_key
from swatchread.archive.tables import OwnTubeRow, ReadingRow, SwatchRow, TubeRow
from swatchread.errors import UsageError
from swatchread.recipes.own_tubes import (
    MAX_TUBES,
    OwnTube,
    TubeQuestion,
    UsedWord,
    open_questions,
    painters_tubes,
)
from swatchread.recipes.recipe import tube_words
from swatchread.recipes.tubes import TubeList, tokens

PAINTER_ENVIRONMENT: Final = "SWATCHREAD_PAINTER"
"""Names the painter whose words count, where several painters share one archive."""


def painter_at_work() -> str:
    """Return the name of the painter whose words count; empty where only one uses the archive."""
    return storable(os.environ.get(PAINTER_ENVIRONMENT, "").strip())[:120]


class TubeWords:
    """The painter's words for tubes in one archive.

    Parameters
    ----------
    engine : sqlalchemy.Engine
    listed : TubeList
        The tubes that come with the program.
    """

    def __init__(self, engine: Engine, listed: TubeList) -> None:
        self._engine = engine
        self._listed = listed
        self._known: tuple[object, TubeList] | None = None

    def known(self) -> TubeList:
        """Return the tubes under the painter's own words for them."""
        with reading(self._engine) as connection:
            state = archive_state(connection)
            if self._known is None or self._known[0] != state:
                self._known = (
                    state,
                    painters_tubes(self._listed, said_tubes(connection), words_on_cards(connection, self._listed)),
                )
            return self._known[1]

    def for_questions(self, connection: Connection) -> TubeList:
        """Return the tubes under what the painter has said; words on the cards change no question's meaning."""
        return painters_tubes(self._listed, said_tubes(connection))

    def said(self) -> tuple[OwnTube, ...]:
        """Return what the painter has said of tubes, in that order."""
        with reading(self._engine) as connection:
            return said_tubes(connection)

    def say(self, tubes: Sequence[OwnTube]) -> None:
        """Keep what words for tubes mean; it holds for all cards at once.

        Raises
        ------
        UsageError
            If there are more words than a studio can hold.
        """
        with writing(self._engine) as connection:
            _say(connection, tubes)

    def forget(self, word: str) -> bool:
        """Take back what the painter said of a word; return whether anything had been said."""
        with writing(self._engine) as connection:
            return bool(connection.execute(delete(OwnTubeRow).where(*_mine([_key(word)]))).rowcount)

    def on_cards(self) -> tuple[UsedWord, ...]:
        """Return the words for tubes on all cards, those beside the most swatches first."""
        with reading(self._engine) as connection:
            return words_on_cards(connection, self._listed)

    def questions(self) -> tuple[TubeQuestion, ...]:
        """Return the words on the cards of which only the painter can say what they mean."""
        with reading(self._engine) as connection:
            return open_questions(self._listed, said_tubes(connection), words_on_cards(connection, self._listed))


def archive_state(connection: Connection) -> tuple[Any, ...]:
    """Return what changes whenever the archive's cards or the painter's words change."""
    counts = func.count(), func.max(ReadingRow.id), func.max(ReadingRow.added), func.sum(ReadingRow.edition)
    return (*connection.execute(select(*counts)).one(), said_tubes(connection))


def said_tubes(connection: Connection) -> tuple[OwnTube, ...]:
    """Return what the painter has said of tubes, in that order."""
    mine = select(OwnTubeRow.word, OwnTubeRow.tube, OwnTubeRow.pigments)
    rows = connection.execute(mine.where(OwnTubeRow.painter == painter_at_work()).order_by(OwnTubeRow.id))
    return tuple(OwnTube(row.word, row.tube, tuple(row.pigments.split())) for row in rows)


def _say(connection: Connection, tubes: Sequence[OwnTube]) -> None:
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


def words_on_cards(connection: Connection, listed: TubeList) -> tuple[UsedWord, ...]:
    """Return the words for tubes on all cards, those beside the most swatches first.

    They are spelled as in one of the recipes; the archive's rows hold them as they are compared.
    """
    cards, swatches = func.count(distinct(SwatchRow.reading_id)), func.count()
    statement = (
        select(
            TubeRow.tube, cards.label("cards"), swatches.label("swatches"), func.max(SwatchRow.recipe).label("recipe")
        )
        .join(SwatchRow, SwatchRow.id == TubeRow.swatch_id)
        .join(ReadingRow, ReadingRow.id == SwatchRow.reading_id)
        .where(ReadingRow.newest == 1)
        .group_by(TubeRow.tube)
        .order_by(swatches.desc(), TubeRow.tube)
    )
    return tuple(
        UsedWord(_spelled(row.tube, row.recipe, listed), row.cards, row.swatches)
        for row in connection.execute(statement)
    )


def _spelled(key: str, recipe: str, listed: TubeList) -> str:
    return next((word for word in tube_words(recipe, listed) if tube_key(word) == key), key)


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
    keys = {word for word in known if wanted.intersection(tubes.match(word).names)} | {tube_key(words)}
    return select(TubeRow.swatch_id).where(TubeRow.tube.in_(sorted(keys)))


def _key(word: str) -> str:
    return " ".join(tokens(word))


def _mine(keys: Sequence[str]) -> tuple[Any, ...]:
    return OwnTubeRow.painter == painter_at_work(), OwnTubeRow.word_key.in_(keys)
