"""What a painter's hand was taken for: confirmed words, and the letters that were seen in their place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import SequenceMatcher
from typing import Final

from swatchread.writing.ink_lines import Floats
from swatchread.writing.offers import spelled_as_seen
from swatchread.writing.recipe_language import split_words

_LEAST_ALIKE: Final = 0.35
"""How alike letters must be to a word to be its misreading, 0 to 1, as `difflib` counts ("y2" and "1/2": 0.4)."""


def misread_words(confirmed: Iterable[tuple[Sequence[Floats], str]]) -> dict[str, set[str]]:
    """Collect how confirmed words were seen where they were seen otherwise.

    Parameters
    ----------
    confirmed : iterable of (sequence of ndarray, str)
        Letters of each line of a crop (`Recogniser.letters`), and the recipe that the painter confirmed for it.

    Returns
    -------
    dict
        Word -> spellings, for `RecipeLanguage`.
    """
    found: dict[str, set[str]] = {}
    for lines, recipe in confirmed:
        seen = [word for line in lines for word in split_words(spelled_as_seen(line))]
        meant = split_words(recipe)
        for how, a, b, c, d in SequenceMatcher(None, seen, meant, autojunk=False).get_opcodes():
            if how != "replace":
                continue
            for spelling, word in _paired("".join(seen[a:b]), seen[a:b], meant[c:d]):
                found.setdefault(word, set()).add(spelling)
    return found


def _paired(joined: str, seen: list[str], meant: list[str]) -> list[tuple[str, str]]:
    """Return which spelling stands for which word, of a stretch that was seen otherwise than meant."""
    if len(meant) == 1 < len(seen):  # a word that fell apart
        seen = [joined]
    if len(seen) != len(meant):
        return []
    pairs = zip(seen, meant, strict=True)
    return [(s, w) for s, w in pairs if SequenceMatcher(None, s, w).ratio() >= _LEAST_ALIKE]
