"""The painter's tubes: their names, other words for them, colour-index names and hazards.

The list that comes with swatchread is small on purpose. A painter adds tubes, or words for them, in a file of the same
format (see `load_tubes`).
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cached_property
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from swatchread.colour.shipped_data import data_file
from swatchread.errors import TubeListError

TUBES_ENVIRONMENT = "SWATCHREAD_TUBES"
MAX_TUBES_BYTES = 4 * 1024 * 1024
MIN_ABBREVIATION = 3
"""Letters of the shortest beginning that stands for a word; shorter abbreviations must be listed."""

PIGMENT_CODE = re.compile(r"(?<![^\W_])p(?:w|y|o|r|v|b|g|br|bk|m)\d{1,3}(?::\d)?(?![^\W_])", re.IGNORECASE)
"""A colour-index generic name: PW6, PBr7, PB15:3."""

_ALIKE = 0.8
"""How alike a misspelt word and a name must be, 0 to 1, as `difflib` counts (assumed)."""
_TOKEN = re.compile(r"p(?:w|y|o|r|v|b|g|br|bk|m)\d{1,3}:\d\b|[^\W_]+")

Text = Annotated[str, Field(min_length=1, max_length=120)]


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Tube(_Record):
    """One tube of paint."""

    name: Text = Field(description="its name in recipes, e.g. 'yellow ochre'")
    kind: str = Field(default="", description="the listed tube that goes under this name; empty for its own name")
    pigments: tuple[Annotated[str, Field(pattern=r"^P(W|Y|O|R|V|B|G|Br|Bk|M)\d{1,3}(:\d)?$")], ...] = Field(
        default=(), description="colour-index generic names"
    )
    words: tuple[Text, ...] = Field(default=(), description="other usual names and abbreviations")
    hazards: tuple[Text, ...] = Field(default=(), description="keys of the list's hazards")


class TubeFile(_Record):
    """The contents of a file of tubes."""

    format: Literal["swatchread-tubes"]
    version: Literal[1]
    source: str = ""
    hazards: dict[str, str] = {}
    tubes: tuple[Tube, ...]

    @model_validator(mode="after")
    def _each_word_means_one_tube(self) -> Self:
        owners: dict[tuple[str, ...], str] = {}
        for tube in self.tubes:
            for word in (tube.name, *tube.words):
                key = tokens(word)
                if not key:
                    raise ValueError(f"{word!r} holds no letter or digit")
                if owners.setdefault(key, tube.name) != tube.name:
                    raise ValueError(f"{word!r} stands for both {owners[key]} and {tube.name}")
        return self


class Match(_Record):
    """The tubes that some words may mean."""

    names: tuple[str, ...] = Field(description="tubes that the words fit")
    how: Literal["exact", "abbreviation", "part", "none"]

    @property
    def name(self) -> str | None:
        """The one tube that is meant, or None. A part of a name does not decide: "red oxide" is asked about."""
        return self.names[0] if len(self.names) == 1 and self.how != "part" else None


class TubeList(_Record):
    """Tubes, to be looked up by words."""

    tubes: tuple[Tube, ...]
    hazards: Mapping[str, str]

    def tube(self, name: str) -> Tube | None:
        """Return the tube of this exact name, or None."""
        return self._by_name.get(name)

    def match(self, words: str) -> Match:
        """Return which tubes some words may mean.

        The words are compared with the listed names, words and colour-index names; then with the beginnings of every
        word of a name ("cad red"); then with some of the words of a name ("ochre"), and with beginnings of a letter
        or two ("y. ochre"). The first that fits decides, and the last two only suggest.

        Parameters
        ----------
        words : str
            As a painter writes them.

        Returns
        -------
        Match
        """
        given = tokens(words)
        codes = {token for token in given if PIGMENT_CODE.fullmatch(token)}
        plain = tuple(token for token in given if token not in codes)
        pool = [tube for tube in self.tubes if codes <= {code.casefold() for code in tube.pigments}]
        if not given or (codes and not pool):
            return Match(names=(), how="none")
        if not plain:
            return Match(names=tuple(t.name for t in pool if len(t.pigments) == len(codes)), how="exact")
        allowed = {tube.name for tube in pool}
        exact = self._by_words.get(plain)
        if exact in allowed:
            return Match(names=(str(exact),), how="exact")
        for how, fits in (("abbreviation", _abbreviates), ("part", _is_part), ("part", _shortens)):
            names = {owner: None for key, owner in self._by_words.items() if owner in allowed and fits(plain, key)}
            if names:
                return Match(names=tuple(names), how=how)
        return Match(names=(), how="none")

    def cautions(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Return the hazards of these tubes, each once, in the order of the names.

        A name may also be a painter's word for one of several tubes: a hazard that all of these share counts.
        """
        return tuple(self.hazards[key] for key in dict.fromkeys(key for name in names for key in self._certain(name)))

    def possible_cautions(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Return one line for the words that may mean a dangerous tube, beyond what `cautions` says, or nothing."""
        certain = {key for name in names for key in self._certain(name)}
        maybe = []
        for name in names:
            dangerous = [fit for fit in self._fitting(name) if not certain.issuperset(self._by_name[fit].hazards)]
            maybe += [f"“{name}” may be {dangerous[0]}"] if dangerous else []
        return (f"{', '.join(maybe)}: take care accordingly until that is settled",) if maybe else ()

    def _fitting(self, name: str) -> tuple[str, ...]:
        return (name,) if self.tube(name) else self.match(name).names

    def _certain(self, name: str) -> list[str]:
        """Return the hazards that all tubes share that a name may mean."""
        of_each = [self._by_name[fit].hazards for fit in self._fitting(name)]
        return [key for key in of_each[0] if all(key in other for other in of_each)] if of_each else []

    def kind_of(self, name: str) -> str:
        """Return the name of the listed tube that goes under a painter's name; that name itself if none does."""
        tube = self.tube(name)
        return (tube and tube.kind) or name

    def like(self, words: str) -> tuple[str, ...]:
        """Return the tubes of which some words may be a misspelling ("whte") or initials ("UB"); often none."""
        given = tokens(words)
        initials = ["".join(word[0] for word in key) for key in self._by_words]
        called = [name for short, name in zip(initials, self._by_words.values(), strict=True) if given == (short,)]
        if called and len(given[0]) > 1:
            return tuple(dict.fromkeys(called))
        spelled = {" ".join(key): name for key, name in self._by_words.items()}
        near = get_close_matches(" ".join(given), spelled, n=1, cutoff=_ALIKE)
        return tuple(spelled[key] for key in near)

    @cached_property
    def _by_name(self) -> dict[str, Tube]:
        return {tube.name: tube for tube in self.tubes}

    @cached_property
    def _by_words(self) -> dict[tuple[str, ...], str]:
        # A word that two tubes list means the later one: the painter's own.
        return {tokens(word): tube.name for tube in self.tubes for word in (tube.name, *tube.words)}


def tokens(words: str) -> tuple[str, ...]:
    """Return the words as they are compared: lower case, without accents and punctuation, 'grey' for 'gray'."""
    plain = unicodedata.normalize("NFKD", words.casefold())
    plain = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return tuple("grey" if word == "gray" else word for word in _TOKEN.findall(plain))


def load_tubes(own: Path | None = None) -> TubeList:
    """Return swatchread's tubes, with the painter's own on top.

    Parameters
    ----------
    own : pathlib.Path, optional
        The painter's file. Default: what the environment variable ``SWATCHREAD_TUBES`` names, else
        ``tubes.json`` in the user's configuration directory if it exists. A tube with the name of a shipped one
        replaces it, and a word that is listed for a shipped tube then means the painter's tube.

    Returns
    -------
    TubeList

    Raises
    ------
    TubeListError
        If the file cannot be read, is malformed, contradicts itself or names an unknown hazard.
    """
    shipped = parse_tubes(data_file("tubes.json").read_bytes(), "tubes.json")
    path = own or _own_file()
    if path is None:
        return _checked(shipped.tubes, shipped.hazards, "tubes.json")
    try:
        if path.stat().st_size > MAX_TUBES_BYTES:
            raise TubeListError(f"{path.name} is too large to be a list of tubes")
        added = parse_tubes(path.read_bytes(), path.name)
    except OSError as error:
        raise TubeListError(f"{path.name} cannot be read", error.strerror or str(error)) from error
    replaced = {tube.name for tube in added.tubes}
    kept = tuple(tube for tube in shipped.tubes if tube.name not in replaced)
    return _checked(kept + added.tubes, {**shipped.hazards, **added.hazards}, path.name)


def parse_tubes(text: bytes | str, source: str) -> TubeFile:
    """Read a list of tubes from JSON.

    Raises
    ------
    TubeListError
        If it is malformed or contradicts itself.
    """
    try:
        return TubeFile.model_validate_json(text)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise TubeListError(f"{source} is not a list of tubes", f"{place}: {first['msg']}") from error


def _own_file() -> Path | None:
    named = os.environ.get(TUBES_ENVIRONMENT)
    if named:
        return Path(named)
    from platformdirs import user_config_path

    usual = user_config_path("swatchread", appauthor=False) / "tubes.json"
    return usual if usual.is_file() else None


def _checked(tubes: tuple[Tube, ...], hazards: Mapping[str, str], source: str) -> TubeList:
    for tube in tubes:
        for key in tube.hazards:
            if key not in hazards:
                raise TubeListError(f"{source} does not hold together", f"{tube.name}: unknown hazard {key!r}")
    return TubeList(tubes=tubes, hazards=hazards)


def _begins(short: str, whole: str) -> bool:
    return short == whole or (len(short) >= MIN_ABBREVIATION and whole.startswith(short))


def _abbreviates(given: tuple[str, ...], key: tuple[str, ...]) -> bool:
    return len(given) == len(key) and all(_begins(short, whole) for short, whole in zip(given, key, strict=True))


def _shortens(given: tuple[str, ...], key: tuple[str, ...]) -> bool:
    """Tell whether each word is a beginning, however short, of a name's words in turn: "y. ochre", "titanium wh."."""
    return 1 < len(given) == len(key) and all(whole.startswith(short) for short, whole in zip(given, key, strict=True))


def _is_part(given: tuple[str, ...], key: tuple[str, ...]) -> bool:
    if len(given) >= len(key):
        return False
    rest = iter(key)
    return all(any(_begins(word, other) for other in rest) for word in given)
