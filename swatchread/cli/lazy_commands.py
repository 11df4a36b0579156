"""The commands by name: the overview shows them all without loading any, so that it answers at once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from importlib import import_module
from typing import Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

COMMANDS: Final = {
    "read": ("swatchread.cli.read_command:read", "Read cards from photos into measured notes."),
    "chart": ("swatchread.cli.chart_command:app", "Judge the chart in photos; known charts; your own."),
    "note": ("swatchread.cli.note_command:app", "Show, fill in or export a note; draw its map."),
    "compare": ("swatchread.cli.compare_command:compare", "What changed between readings of one card."),
    "archive": ("swatchread.cli.archive_command:app", "Keep notes, and find swatches again."),
    "plan": ("swatchread.cli.plan_command:plan", "Lay out the palette for the next sitting."),
    "mix": ("swatchread.cli.mix_command:app", "Predict, match and correct mixtures."),
}
"""Command -> (where it is, what the overview says of it)."""


class LazyCommands(Mapping[str, Any]):
    """The commands, each loaded when it is taken."""

    def __init__(self) -> None:
        self._taken: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._taken:
            self._taken[name] = _load(name, COMMANDS[name][0])
        return self._taken[name]

    def __iter__(self) -> Iterator[str]:
        return iter(COMMANDS)

    def __len__(self) -> int:
        return len(COMMANDS)


class LazyCommandGroup(TyperGroup):
    """A command whose own commands stand on a shelf."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands: Any = LazyCommands()

    def list_commands(self, _ctx: Any) -> list[str]:
        """Name the commands."""
        return list(COMMANDS)

    def format_commands(self, _ctx: Any, formatter: Any) -> None:
        """Write a line for each command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, told) for name, (_, told) in COMMANDS.items()])


def _load(name: str, place: str) -> Any:
    module_name, _, attribute = place.partition(":")
    module = import_module(module_name)
    thing = getattr(module, attribute)
    if isinstance(thing, typer.Typer):
        return _plainly(typer.main.get_command(thing))
    alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    alone.command(name, cls=getattr(module, "COMMAND", TyperCommand))(thing)
    return _plainly(typer.main.get_command(alone))


def _plainly(command: Any) -> Any:
    """Let the help of a command name its arguments in the painter's words alone, without Python's types."""
    for inner in getattr(command, "commands", {}).values():
        _plainly(inner)
    for param in command.params:
        if param.param_type_name == "argument":
            param.display_type_rich = lambda ctx: None  # noqa: ARG005 - the library's own signature
    return command
