"""The commands by name. Help lists them all without loading any of them, so that it answers at once."""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

from swatchread.errors import UsageError

COMMANDS: Final = {
    "open": ("swatchread.cli.open_command:open_page", "Work with your cards on a page in the browser."),
    "read": ("swatchread.cli.read_command:read", "Read cards from photos into measured notes."),
    "chart": ("swatchread.cli.chart_command:app", "Judge the chart in photos; known charts; your own."),
    "note": ("swatchread.cli.note_command:app", "Show, fill in or export a note; draw its map."),
    "doubts": ("swatchread.cli.doubts_command:doubts", "Decide what is in doubt, what matters most first."),
    "compare": ("swatchread.cli.compare_command:compare", "What changed between readings of one card."),
    "archive": ("swatchread.cli.archive_command:app", "Keep notes, and find swatches again."),
    "tubes": ("swatchread.cli.tubes_command:tubes", "Your own words for tubes of paint."),
    "plan": ("swatchread.cli.plan_command:plan", "Lay out the palette for the next sitting."),
    "mix": ("swatchread.cli.mix_command:app", "Predict, match and correct mixtures."),
}
"""Command -> (its module and function, the line about it in the help)."""


class LazyCommands(Mapping[str, Any]):
    """The commands, each loaded when it is looked up."""

    def __getitem__(self, name: str) -> Any:
        return _load(name)

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


_MAY_BE_EMPTY: Final = frozenset({"--sitter", "--medium", "--text", "--tubes"})
"""Options that take words; all others name a thing, and an empty word names none."""


class LazyCommandGroup(TyperGroup):
    """The program's top command, which loads the others when they are called."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands: Any = LazyCommands()

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Refuse an empty word, as a shell makes of a variable that is not set: a path of it is the current folder."""
        for word, before in zip(args, ["swatchread", *args], strict=False):
            if word == "" and before not in _MAY_BE_EMPTY:
                why = f"nothing stands between the quotes after {before}"
                raise UsageError("An argument is empty", why, "Name a file, or leave it out")
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            _refuse_photo(args)
        return super().parse_args(ctx, args)

    def list_commands(self, _ctx: Any) -> list[str]:
        """Return the names of the commands."""
        return list(COMMANDS)

    def format_commands(self, _ctx: Any, formatter: Any) -> None:
        """Write a line for each command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, summary) for name, (_, summary) in COMMANDS.items()])


def _refuse_photo(words: list[str]) -> None:
    """If a photo or a note stands where a command belongs, say which command takes it."""
    name = words[0]
    path = Path(name)
    if name.lower().endswith(".json"):
        wanted = f"swatchread note show {shlex.join(words)}"
    elif path.is_dir() or path.suffix.lower() in _suffixes():
        wanted = f"swatchread read {shlex.join(words)}"
    else:
        return
    raise UsageError(f"{name} is not a command", "a command comes first", f"Give this command: {wanted}")


def _suffixes() -> Collection[str]:
    from swatchread.batch.jobs import SUFFIXES

    return SUFFIXES


@cache
def _load(name: str) -> Any:
    module_name, _, attribute = COMMANDS[name][0].partition(":")
    module = import_module(module_name)
    thing = getattr(module, attribute)
    if isinstance(thing, typer.Typer):
        return _without_type_names(typer.main.get_command(thing))
    alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    alone.command(name, cls=getattr(module, "COMMAND", TyperCommand))(thing)
    return _without_type_names(typer.main.get_command(alone))


def _without_type_names(command: Any) -> Any:
    """Take the names of Python's types out of the help of a command's arguments."""
    for inner in getattr(command, "commands", {}).values():
        _without_type_names(inner)
    for param in command.params:
        if param.param_type_name == "argument":
            param.display_type_rich = lambda ctx: None  # noqa: ARG005 - the library's own signature
    return command
