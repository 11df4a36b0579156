"""Commands that take a colour as a painter types it: `60 18 29` and `5YR 6/4` without quotes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from swatchread.cli.grouped_help import GroupedCommand

_NUMBER = re.compile(r"[-−+]?\d+(?:\.\d+)?")
_HUE = re.compile(r"\d*(?:\.\d+)?[RYGBP]{1,2}", re.IGNORECASE)
_VALUE_AND_CHROMA = re.compile(r"\d+(?:\.\d+)?/\d+(?:\.\d+)?")
_NEAR = "--near"


class ColourCommand(GroupedCommand):
    """A command one of whose words is a colour."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Bring the words into the form that typer takes."""
        flags = {name for param in self.params if getattr(param, "is_flag", False) for name in param.opts}
        return super().parse_args(ctx, colours_joined(args, {_NEAR, *flags}))


def colours_joined(words: Sequence[str], before: set[str]) -> list[str]:
    """Make one word of each colour that was typed as three numbers, or as hue and value/chroma.

    Parameters
    ----------
    words : sequence of str
    before : set of str
        Options after which a colour may stand; the word after another option belongs to that option.
    """
    joined: list[str] = []
    rest = list(words)
    while rest:
        owned = bool(joined) and joined[-1].startswith("--") and joined[-1] not in before
        count = 1 if owned else _words_of_colour(rest)
        joined.append((" " if count == 2 else ",").join(rest[:count]))
        del rest[:count]
    return joined


def _words_of_colour(words: Sequence[str]) -> int:
    """Return how many of the first words are one colour: 3 numbers, 2 of a Munsell notation, or 1 as they stand."""
    if len(words) > 2 and all(_NUMBER.fullmatch(word) for word in words[:3]):
        return 3
    return 2 if len(words) > 1 and _HUE.fullmatch(words[0]) and _VALUE_AND_CHROMA.fullmatch(words[1]) else 1
