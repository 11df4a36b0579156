"""Help in groups, for commands of many options: the usual ones first, the rare ones last."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from typer.core import TyperCommand

RARE = "Rarely needed"
"""Heading of the last group."""


class GroupedCommand(TyperCommand):
    """A command whose help lists its options in groups.

    Attributes
    ----------
    sections : mapping of str to tuple of str
        Heading -> names of the parameters under it. The others come first, as those of every day.
    """

    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {}

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments, then the options under the headings of `sections`."""
        told = {param.name: record for param in self.get_params(ctx) if (record := param.get_help_record(ctx))}
        sections = {head: [told.pop(name) for name in names if name in told] for head, names in self.sections.items()}
        places = [told.pop(param.name) for param in self.params if param.param_type_name == "argument"]
        for heading, records in {"Arguments": places, "Options": list(told.values()), **sections}.items():
            if records:
                with formatter.section(heading):
                    formatter.write_dl(records)
