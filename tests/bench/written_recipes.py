"""Two hundred recipes as painters write them, each with what it means, or with the fact that nobody can tell.

All of them are invented. They were written down before the program was asked about any of them, so they do not know
what it understands. Half are drawn from mixtures by ways of writing; half are lines of their own, most with a catch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

TOUCH = "touch"
"""The amount of what is added by the least bit, whatever the painter calls it."""

WHITE, OCHRE, RED_EARTH, BLACK = "titanium white", "yellow ochre", "red ochre", "ivory black"
GREEN, RED, BLUE = "viridian", "cadmium red", "ultramarine blue"

SHORT = {
    "white": WHITE,
    "ochre": OCHRE,
    "earth": RED_EARTH,
    "black": BLACK,
    "viridian": GREEN,
    "red": RED,
    "blue": BLUE,
}
LETTERS = {"W": WHITE, "YO": OCHRE, "RE": RED_EARTH, "IB": BLACK, "V": GREEN, "CR": RED, "UB": BLUE}
FOREIGN = {
    "Weiß": WHITE,
    "Ocker": OCHRE,
    "rote Erde": RED_EARTH,
    "Schwarz": BLACK,
    "Grün": GREEN,
    "Rot": RED,
    "Blau": BLUE,
}
FULL = {tube: tube for tube in SHORT.values()}

PAINTERS: dict[str, dict[str, str]] = {"short": SHORT, "letters": LETTERS, "foreign": FOREIGN, "nothing said": {}}
"""What each painter has said: a word, and the listed tube that it stands for."""

Amounts = dict[str, float | str]


@dataclass(frozen=True)
class Written:
    """One written recipe.

    Parameters
    ----------
    words : str
        As they stand on the card.
    painter : str
        Whose they are, of ``PAINTERS``.
    amounts : dict or None
        Parts by listed tube; None where nobody can tell what was meant, so that the painter must be asked.
    way : str
        The way of writing.
    """

    words: str
    painter: str
    amounts: Amounts | None
    way: str


Writer = Callable[[list[tuple[str, float]]], str]
"""From (word, amount) pairs to the line on the card."""


def _number(amount: float) -> str:
    return f"{amount:g}"


def _fraction(amount: float) -> str:
    whole, rest = divmod(amount, 1)
    part = {0.0: "", 0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}[rest]
    return " ".join(piece for piece in (_number(whole) if whole else "", part) if piece)


def _vulgar(amount: float) -> str:
    signs = {" 1/4": "¼", " 1/2": "½", " 3/4": "¾"}
    written = " " + _fraction(amount)
    for plain, sign in signs.items():
        written = written.replace(plain, sign)
    return written.strip()


def _percent(pairs: list[tuple[str, float]]) -> list[tuple[str, int]]:
    total = sum(amount for _, amount in pairs)
    whole = [(word, round(100 * amount / total)) for word, amount in pairs]
    return [(whole[0][0], 100 - sum(percent for _, percent in whole[1:])), *whole[1:]]


SPELT = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}

WHOLE: dict[str, Writer] = {
    "plus signs": lambda pairs: " + ".join(f"{n:g} {word}" for word, n in pairs),
    "parts": lambda pairs: ", ".join(f"{n:g} part{'s' if n > 1 else ''} {word}" for word, n in pairs),
    "parts of": lambda pairs: " and ".join(f"{n:g} parts of {word}" for word, n in pairs),
    "amounts behind": lambda pairs: ", ".join(f"{word} {n:g}" for word, n in pairs),
    "no separators": lambda pairs: " ".join(f"{n:g} {word}" for word, n in pairs),
    "lines": lambda pairs: "\n".join(f"{n:g} {word}" for word, n in pairs),
    "millilitres": lambda pairs: ", ".join(f"{2 * n:g} ml {word}" for word, n in pairs),
    "millilitres, joined": lambda pairs: " + ".join(f"{n:g}ml {word}" for word, n in pairs),
    "grams": lambda pairs: ", ".join(f"{n:g} g {word}" for word, n in pairs),
    "drops": lambda pairs: ", ".join(f"{3 * n:g} drops {word}" for word, n in pairs),
    "centimetres of tube": lambda pairs: " + ".join(f"{n:g} cm {word}" for word, n in pairs),
    "times before": lambda pairs: " + ".join(f"{n:g}x {word}" for word, n in pairs),
    "times sign": lambda pairs: ", ".join(f"{n:g} × {word}" for word, n in pairs),
    "times behind": lambda pairs: ", ".join(f"{word} x{n:g}" for word, n in pairs),
    "ratio first": lambda pairs: ":".join(f"{n:g}" for _, n in pairs) + " " + " : ".join(word for word, _ in pairs),
    "ratio last": lambda pairs: " : ".join(word for word, _ in pairs) + " " + ":".join(f"{n:g}" for _, n in pairs),
    "ratio inside": lambda pairs: " : ".join(f"{n:g} {word}" for word, n in pairs),
    "to": lambda pairs: " to ".join(f"{n:g} {word}" for word, n in pairs),
    "ampersand": lambda pairs: " & ".join(f"{n:g} {word}" for word, n in pairs),
    "capitals": lambda pairs: " + ".join(f"{n:g} {word.upper()}" for word, n in pairs),
    "spelt": lambda pairs: ", ".join(f"{SPELT[round(n)]} {word}" for word, n in pairs),
    "semicolons": lambda pairs: "; ".join(f"{n:g} {word}" for word, n in pairs),
    "equals": lambda pairs: ", ".join(f"{word} = {n:g}" for word, n in pairs),
}
BROKEN: dict[str, Writer] = {
    "fractions": lambda pairs: " + ".join(f"{_fraction(n)} {word}" for word, n in pairs),
    "fraction signs": lambda pairs: " + ".join(f"{_vulgar(n)} {word}" for word, n in pairs),
    "decimal points": lambda pairs: ", ".join(f"{n:g} {word}" for word, n in pairs),
    "decimal commas": lambda pairs: " + ".join(f"{n:g}".replace(".", ",") + f" {word}" for word, n in pairs),
    "decimal commas and commas": lambda pairs: ", ".join(f"{n:g}".replace(".", ",") + f" {word}" for word, n in pairs),
}
PERCENT: dict[str, Writer] = {
    "per cent": lambda pairs: ", ".join(f"{n:g} % {word}" for word, n in pairs),
    "per cent, joined": lambda pairs: " ".join(f"{n:g}% {word}" for word, n in pairs),
    "per cent behind": lambda pairs: ", ".join(f"{word} {n:g} %" for word, n in pairs),
}
TOUCHES = ("touch of", "a touch of", "touch", "tiny bit of", "a speck of", "dab of", "a hint of", "tch", "pinch of")


def _drawn(seed: int) -> Iterator[Written]:
    """Mixtures by ways of writing, with the words of each painter in turn."""
    rng = np.random.default_rng(seed)
    tables = [("short", SHORT), ("letters", LETTERS), ("foreign", FOREIGN), ("nothing said", FULL)]

    def mixture(steps: tuple[float, ...], table: dict[str, str]) -> list[tuple[str, float]]:
        words = rng.permutation(list(table))[: rng.integers(2, 4)]
        return [(str(word), float(rng.choice(steps))) for word in words]

    turn = 0
    for ways, steps, rounds in (
        (WHOLE, (1, 2, 3, 4, 5, 6), 3),
        (BROKEN, (0.25, 0.5, 0.75, 1.5, 2.5, 3.5), 4),
        (PERCENT, (1, 2, 3, 5), 2),
    ):
        for way, write in ways.items():
            for _ in range(rounds):
                painter, table = tables[turn % len(tables)]
                pairs = mixture(steps, table)
                pairs = list(_percent(pairs)) if ways is PERCENT else pairs
                yield Written(write(pairs), painter, {table[word]: n for word, n in pairs}, way)
                turn += 1
    for touch in TOUCHES:
        painter, table = tables[turn % len(tables)]
        (first, amount), (second, _), *_ = mixture((2, 3, 4), table)
        yield Written(
            f"{amount:g} {first} + {touch} {second}", painter, {table[first]: amount, table[second]: TOUCH}, "touch"
        )
        turn += 1


def _own(painter: str, way: str, *lines: tuple[str, Amounts | None]) -> Iterator[Written]:
    for words, amounts in lines:
        yield Written(words, painter, amounts, way)


def _odd() -> Iterator[Written]:
    """Lines of their own."""
    yield from _own(
        "nothing said",
        "short word that several tubes answer to",
        ("3 white + 1 yellow ochre", None),
        ("2 titanium white + 1 ochre", None),
        ("2 titanium white + 1 red oxide", None),
        ("1 umber + 3 titanium white", None),
        ("4 titanium white + 1 sienna", None),
        ("3 titanium white + 1 red", None),
        ("3 titanium white + 1 blue + touch black", None),
        ("2 W + 1 YO", None),
        ("3 titanium white + 1 earth", None),
        ("3 titanium white + 1 green", None),
        ("2 titanium white + 1 grey", None),
        ("1 my mix + 2 titanium white", None),
    )
    yield from _own(
        "nothing said",
        "usual abbreviation",
        ("3 ti white + 1 yellow ochre", {WHITE: 3, OCHRE: 1}),
        ("3 titanium wh. + 1 yel. ochre", {WHITE: 3, OCHRE: 1}),
        ("3 Tit. White, 1 Y. Ochre", {WHITE: 3, OCHRE: 1}),
        ("2 titanium white + 1 cad red", {WHITE: 2, RED: 1}),
        ("2 titanium white + 1 ultramarine", {WHITE: 2, BLUE: 1}),
        ("2 titanium white + 1 ultra blue", {WHITE: 2, BLUE: 1}),
        ("3 PW6 + 1 PY43", {WHITE: 3, OCHRE: 1}),
        ("3 titanium white PW6 + 1 yellow ochre PY43", {WHITE: 3, OCHRE: 1}),
    )
    yield from _own(
        "short",
        "typing error",
        ("3 whit + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("3 whte + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("3 white + 1 ocre", {WHITE: 3, OCHRE: 1}),
        ("3 white + 1 virdian", {WHITE: 3, GREEN: 1}),
        ("3 white + 1 eath", {WHITE: 3, RED_EARTH: 1}),
        ("3 white + 1 blck", {WHITE: 3, BLACK: 1}),
        ("3 white + 1 bleu", {WHITE: 3, BLUE: 1}),
        ("3 white + 1 rd", None),
        ("3 white + 1 bl", None),
        ("3 white + l ochre", None),
        ("3 white + O,5 ochre", None),
        ("3 white ++ 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("3 wh1te + 1 ochre", {WHITE: 3, OCHRE: 1}),
    )
    yield from _own(
        "nothing said",
        "typing error in a full name",
        ("3 titanium whte + 1 yellow ochre", {WHITE: 3, OCHRE: 1}),
        ("3 titanum white + 1 yelow ochre", {WHITE: 3, OCHRE: 1}),
        ("3 titanium white + 1 cadmiun red", {WHITE: 3, RED: 1}),
        ("2 titanium white + 1 ultramrine blue", {WHITE: 2, BLUE: 1}),
    )
    yield from _own(
        "short",
        "points at another swatch",
        ("ditto", None),
        ("same as above", None),
        ("same as above + 1 white", None),
        ("↑ + 1 white", None),
        ("→ + touch red", None),
        ("as left, 1 more white", None),
        ("+ a bit more white", None),
        ("+1 white", None),
        ('" + 1 ochre', None),
        ("r1c2 + 1 white", None),
        ("no. 3 with 1 blue", None),
        ("above : white 2:1", None),
        ("last one + 2 ochre", None),
        ("idem + 1 red", None),
    )
    yield from _own(
        "short",
        "amount that nobody can tell",
        ("white + ochre", None),
        ("3 white + ochre", None),
        ("2-3 white + 1 ochre", None),
        ("some ochre + 2 white", None),
        ("lots of white + 1 ochre", None),
        ("? white + 1 ochre", None),
        ("3? white + 1 ochre", None),
        ("twice as much white as ochre", None),
        ("ochre 3 white", None),
        ("1, 2 white + 1 ochre", None),
        ("3 white + 1 ochre, less red", None),
        ("3 white or 1 ochre", None),
        ("3 white + 1 ochre / red", None),
        ("2 white + 1 ochre or earth", None),
        ("3 white + 1 ochre?", None),
        ("3 white + -1 ochre", None),
    )
    yield from _own(
        "short",
        "two kinds of measure",
        ("3 ml white + 2 g ochre", None),
        ("3 parts white + 2 ml ochre", None),
        ("50 % white + 2 ochre", None),
        ("3 drops white + 1 cm ochre", None),
        ("80 % white + 40 % ochre", None),
    )
    yield from _own(
        "short",
        "a remark beside it",
        ("3 white + 1 ochre (too pink)", {WHITE: 3, OCHRE: 1}),
        ("3 white + 1 ochre - too cold!", {WHITE: 3, OCHRE: 1}),
        ("3 white (old tube) + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("no white, 2 ochre 1 red", {OCHRE: 2, RED: 1}),
        ("3 white + 1 ochre + a little linseed oil", {WHITE: 3, OCHRE: 1}),
        ("shadow: 2 earth + 1 blue", {RED_EARTH: 2, BLUE: 1}),
        ("A) 2 earth + 1 blue", {RED_EARTH: 2, BLUE: 1}),
        ("2 earth, 1 blue, 2 coats", {RED_EARTH: 2, BLUE: 1}),
        ("about 3 white + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("~3 white + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("3 white + 1 ochre, 12 March", {WHITE: 3, OCHRE: 1}),
        ("3 white + 1 ochre, dried", {WHITE: 3, OCHRE: 1}),
    )
    yield from _own(
        "short",
        "plain, but in its own way",
        ("ochre", {OCHRE: 1}),
        ("pure earth", {RED_EARTH: 1}),
        ("blue straight from the tube", {BLUE: 1}),
        ("equal parts white and ochre", {WHITE: 1, OCHRE: 1}),
        ("half white, half ochre", {WHITE: 1, OCHRE: 1}),
        ("1 part white to 2 parts ochre", {WHITE: 1, OCHRE: 2}),
        ("3 white + 1 (2 ochre + 1 red)", {WHITE: 3, OCHRE: 2 / 3, RED: 1 / 3}),
        ("2 x (1 white + 1 ochre) + 1 red", {WHITE: 2, OCHRE: 2, RED: 1}),
        ("2 white + 1 ochre + 1 white", {WHITE: 3, OCHRE: 1}),
        ("3 titanium white + 1 ochre", {WHITE: 3, OCHRE: 1}),
        ("3 Whites + 1 Ochre", {WHITE: 3, OCHRE: 1}),
        ("  3   white+1 ochre. ", {WHITE: 3, OCHRE: 1}),
        ("3 white, 1 ochre, and a touch of red", {WHITE: 3, OCHRE: 1, RED: TOUCH}),
        ("touch of red in 3 white", {WHITE: 3, RED: TOUCH}),
        ("white 3 ochre 1", {WHITE: 3, OCHRE: 1}),
        ("2 white 1 red ochre", {WHITE: 2, RED_EARTH: 1}),
        ("2 white 1 yellow ochre", {WHITE: 2, OCHRE: 1}),
    )
    yield from _own(
        "short",
        "a tube that was not said",
        ("2 white + 1 burnt sienna", {WHITE: 2, "burnt sienna": 1}),
        ("2 white + 1 cobalt blue", {WHITE: 2, "cobalt blue": 1}),
        ("2 white + 1 zinc white", {WHITE: 2, "zinc white": 1}),
        ("2 white + 1 light blue", None),
        ("2 white + 1 warm white", None),
        ("2 white + 1 green earth", {WHITE: 2, "green earth": 1}),
        ("2 white + 1 green", None),
        ("2 white + 1 blue black", None),
    )
    yield from _own(
        "letters",
        "letters, close",
        ("W3 YO1", {WHITE: 3, OCHRE: 1}),
        ("3W 1YO", {WHITE: 3, OCHRE: 1}),
        ("3w + 1yo", {WHITE: 3, OCHRE: 1}),
    )


SEED = 20_220


def written_recipes(seed: int = SEED) -> list[Written]:
    """Return all of them; the same seed gives the same.

    Parameters
    ----------
    seed : int
        For those that are drawn.

    Returns
    -------
    list of Written
        Two hundred or some more; no two with the same words and painter.
    """
    every = {(one.words, one.painter): one for one in [*_drawn(seed), *_odd()]}
    return list(every.values())
