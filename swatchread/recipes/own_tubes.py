"""The painter's own words for tubes: which tube each word means, and what is still to be asked.

The painter's word is the name of the tube: every output prints it. The list that comes with the program only suggests
which pigments a word stands for, and carries the cautions.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from swatchread.errors import UsageError
from swatchread.recipes.tubes import PIGMENT_CODE, Tube, TubeList, tokens

MAX_WORD_LETTERS: Final = 120
MAX_TUBES: Final = 500
"""Words that one painter may name; a studio holds far fewer tubes."""

_REMEDY: Final = 'Write it like "white = titanium white", "earth = my red earth PR102" or "tro = PR101"'
_MINE: Final = re.compile(r"^\s*(?:my|our|the)\s+", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class OwnTube:
    """One of the painter's words, and the tube that it means.

    Parameters
    ----------
    word : str
        As the painter writes it on cards.
    tube : str
        The tube: the name of a listed one, or the painter's own description.
    pigments : tuple of str
        Colour-index generic names that the painter read off the tube.
    """

    word: str
    tube: str
    pigments: tuple[str, ...] = ()

    def __str__(self) -> str:
        return " ".join([self.word, "=", self.tube, *self.pigments])


@dataclass(frozen=True, slots=True)
class UsedWord:
    """A word for a tube as it stands on the painter's cards, and on how many cards and beside how many swatches."""

    word: str
    cards: int
    swatches: int


@dataclass(frozen=True, slots=True)
class TubeQuestion:
    """A word on the cards of which only the painter can say what it means; asked once for all cards.

    Parameters
    ----------
    used : UsedWord
    suggested : tuple of str
        Tubes that it may mean; those that stand on the cards by name come first.
    """

    used: UsedWord
    suggested: tuple[str, ...]

    @property
    def words(self) -> str:
        """The question in one sentence."""
        cards = f"{self.used.cards} card{'' if self.used.cards == 1 else 's'}"
        count = f"{self.used.swatches} swatch{'' if self.used.swatches == 1 else 'es'}"
        shown = [f"“{name}”" for name in self.suggested[:4]]
        choices = " or ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
        more = ", or another" if len(self.suggested) > len(shown) else ""
        return f"“{self.used.word}” stands on {cards}, {count}: is it {choices}{more}, or a tube of its own?"


def parse_own_tube(text: str, listed: TubeList) -> OwnTube:
    """Read "white = titanium white PW6".

    Parameters
    ----------
    text : str
        The painter's word, an equals sign, and the tube by name, by colour-index names or by both.
    listed : TubeList
        The tubes that come with the program.

    Returns
    -------
    OwnTube

    Raises
    ------
    UsageError
        If a part is missing, too long, or holds no letter.
    """
    word, equals, meant = (" ".join(part.split()) for part in text.partition("="))
    if not equals or not tokens(word) or not tokens(meant):
        raise UsageError(f"“{text[:MAX_WORD_LETTERS].strip()}” does not say which tube a word means", "", _REMEDY)
    if max(len(word), len(meant)) > MAX_WORD_LETTERS:
        raise UsageError("The name of a tube is too long", f"over {MAX_WORD_LETTERS} letters", _REMEDY)
    pigments = tuple(_spelled(code) for code in PIGMENT_CODE.findall(meant))
    name = " ".join(PIGMENT_CODE.sub(" ", meant).split()).strip(" ,;()")
    if not tokens(name):
        same = [tube.name for tube in listed.tubes if set(tube.pigments) == set(pigments)]
        name = same[0] if len(same) == 1 else word
    return OwnTube(word, name, pigments)


def read_own_tubes(table: str, listed: TubeList) -> tuple[OwnTube, ...]:
    """Read a CSV table of words and tubes.

    Parameters
    ----------
    table : str
        The first line names the columns: ``word`` and ``tube``, and ``pigments`` if there are any.
    listed : TubeList

    Returns
    -------
    tuple of OwnTube

    Raises
    ------
    UsageError
        If it is not such a table.
    """
    remedy = "Let the first line name the columns: word, tube and, if you like, pigments"
    first = table.partition("\n")[0]
    reader = csv.DictReader(io.StringIO(table), delimiter=";" if ";" in first and "," not in first else ",")
    reader.fieldnames = [(name or "").strip().casefold() for name in reader.fieldnames or ()]
    if not {"word", "tube"} <= set(reader.fieldnames):
        raise UsageError("The table does not name its columns", "", remedy)
    try:
        rows = [{name: (row.get(name) or "").strip() for name in ("word", "tube", "pigments")} for row in reader]
    except csv.Error as error:
        raise UsageError("This is not a CSV table", str(error), remedy) from error
    return tuple(
        parse_own_tube(f"{row['word']} = {row['tube']} {row['pigments']}", listed) for row in rows if any(row.values())
    )


def painters_tubes(listed: TubeList, own: Sequence[OwnTube], used: Iterable[UsedWord] = ()) -> TubeList:
    """Return the list of tubes in which each tube goes under the painter's word for it.

    Parameters
    ----------
    listed : TubeList
        The tubes that come with the program.
    own : sequence of OwnTube
        What the painter has said, in that order. Of several words for one tube the first is its name.
    used : iterable of UsedWord
        Words on the painter's cards. A tube that the painter has not named goes under the word that stands beside the
        most swatches, if that word can mean this tube alone.

    Returns
    -------
    TubeList
        `Tube.kind` says which listed tube it is.
    """
    owned = [_own_tube(words, listed) for words in _words_by_tube(own, listed)]
    kinds, said = {tube.kind for tube in owned}, {tokens(tube.word) for tube in own}
    usual = _usual_words(listed, [word for word in used if tokens(word.word) not in said])
    kept = [_called(tube, usual.get(tube.name, tube.name)) for tube in listed.tubes if tube.name not in kinds]
    # A word that the painter has given to one tube is not the name of another.
    kept = [tube for tube in kept if tokens(tube.name) not in said]
    return TubeList(tubes=(*kept, *owned), hazards=listed.hazards)


def open_questions(listed: TubeList, own: Sequence[OwnTube], used: Sequence[UsedWord]) -> tuple[TubeQuestion, ...]:
    """Return the words on the painter's cards that may mean a listed tube, but do not say so by themselves.

    Parameters
    ----------
    listed : TubeList
    own : sequence of OwnTube
        What the painter has said already.
    used : sequence of UsedWord

    Returns
    -------
    tuple of TubeQuestion
        Those beside the most swatches first.
    """
    said = {tokens(tube.word) for tube in own}
    on_cards = {match.name for word in used if (match := listed.match(word.word)).name}
    asked = []
    for word in used:
        if tokens(word.word) in said:
            continue
        match = listed.match(word.word)
        suggested = () if match.name else match.names or listed.like(word.word)
        if suggested:
            asked.append(TubeQuestion(word, tuple(sorted(suggested, key=lambda name: name not in on_cards))))
    return tuple(sorted(asked, key=lambda question: -question.used.swatches))


def _usual_words(listed: TubeList, used: Iterable[UsedWord]) -> Mapping[str, str]:
    """Return, for each listed tube on the cards, the word that most swatches have for it."""
    best: dict[str, UsedWord] = {}
    for word in used:
        name = listed.match(word.word).name
        if name is None or PIGMENT_CODE.search(word.word):
            continue
        before = best.get(name)
        if before is None or (word.swatches, word.word == name) > (before.swatches, before.word == name):
            best[name] = word
    return {name: word.word for name, word in best.items()}


def _words_by_tube(own: Sequence[OwnTube], listed: TubeList) -> list[list[OwnTube]]:
    grouped: dict[str, list[OwnTube]] = {}
    for tube in own:
        grouped.setdefault(_listed_name(tube.tube, listed) or tube.tube.casefold(), []).append(tube)
    return list(grouped.values())


def _called(tube: Tube, word: str) -> Tube:
    if word == tube.name:
        return tube
    return tube.model_copy(update={"name": word, "kind": tube.name, "words": (tube.name, *tube.words)})


def _own_tube(words: list[OwnTube], listed: TubeList) -> Tube:
    """Return the tube that some of the painter's words mean, with the pigments and cautions of the listed one."""
    kind = listed.tube(_listed_name(words[0].tube, listed) or "")
    pigments = tuple(dict.fromkeys(code for tube in words for code in tube.pigments))
    alike = [tube for tube in listed.tubes if set(tube.pigments) & set(pigments)]
    name, *others = [tube.word for tube in words]
    usual = (kind.name, *kind.words) if kind else ()
    return Tube(
        name=name,
        kind=kind.name if kind else "",
        pigments=pigments or (kind.pigments if kind else ()),
        words=tuple(word for word in dict.fromkeys((*usual, words[0].tube, *others)) if word != name),
        hazards=tuple(dict.fromkeys(key for tube in (*([kind] if kind else []), *alike) for key in tube.hazards)),
    )


def _listed_name(words: str, listed: TubeList) -> str | None:
    """Return the name of the listed tube that some words mean, or None; "my red earth" is a red earth."""
    for text in (words, _MINE.sub("", words)):
        match = listed.match(text)
        if match.name is not None:
            return match.name
    return None


def _spelled(code: str) -> str:
    """Return a colour-index name as it is written: PBr7, PW6."""
    letters = re.match(r"[a-z]+", code.casefold())
    kind = letters.group()[1:] if letters else ""
    return f"P{kind.capitalize()}{code[len(kind) + 1 :]}"
