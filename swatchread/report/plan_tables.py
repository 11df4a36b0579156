"""A plan for the terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from swatchread.note.phrases import plain
from swatchread.report.plan_sheet import remarks_on

_ROLES = (("cooler", "cooler"), ("run", "run"), ("warmer", "warmer"))


def print_plan(facts: dict[str, Any], console: Console | None = None) -> None:
    """Print a plan, dark to light; `facts` of `swatchread.palette.plan_answer.plan_facts`."""
    out = console or Console(highlight=False)
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
    for place, name in enumerate(("", "value", "", "", "Recipe", "where")):
        table.add_column(name, justify="right" if place == 1 else "left", no_wrap=place < 4)
    for step in facts["steps"]:
        for key, name in _ROLES:
            option = step[key]
            lead = str(step["number"]) if key == "cooler" else ""
            if option is None:
                table.add_row(lead, "", "", name, Text("none", style="dim"), "")
                continue
            where = plain(option["where"]) or "only an interpolation"
            chip = Text("    ", style=f"on {option['chip']}")
            table.add_row(lead, f"{option['value']:.1f}", chip, name, Text(plain(option["recipe"])), Text(where))
    out.print(Text("Mix from dark to light.", style="bold"))
    out.print(table)
    for line in _remarks(facts):
        out.print(Text(line))
    if facts["left_out_cards"]:
        out.print(Text(f"\n{facts['left_out_cards']}", style="dim"))
    for line in facts["care"]:
        out.print(Text(line))


def _remarks(facts: dict[str, Any]) -> list[str]:
    """Return what is to be said of the steps, a line each, and of the whole."""
    steps = facts["steps"]
    lines = [f"{step['number']}: {remarks}" for step in steps if (remarks := remarks_on(step))]
    if any(step[key] and not step[key]["where"] for step in steps for key, _ in _ROLES):
        lines.append("Make a trial of what is only an interpolation before the sitting.")
    return lines + [plain(remark) for remark in facts["remarks"]]
