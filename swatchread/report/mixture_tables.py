"""Answers about mixtures for the terminal."""

from __future__ import annotations

from math import hypot
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from swatchread.colour.screen import hex_colours
from swatchread.note.phrases import minus, plain

Facts = dict[str, Any]


def print_prediction(facts: Facts, console: Console | None = None) -> None:
    """Print what a recipe is predicted to give; `facts` of `swatchread.palette.answers.predict_facts`."""
    out = console or Console(highlight=False)
    for word, tube in facts["readings"].items():
        out.print(Text(f"“{word}” is read as {tube}."))
    if "lab" in facts:
        u = facts["uncertainty"]
        lab = "  ".join(f"{n}* {minus(x)} ± {u[n]:.1f}" for n, x in zip(("L", "a", "b"), facts["lab"], strict=True))
        out.print(chip(facts["lab"]), Text(f" {facts['recipe']}", style="bold"))
        out.print(Text(f"{lab}   ΔE00 ± {u['de00']:.1f}   {facts['munsell']}, {facts['value_name']}"))
        _nearest(out, facts, "Recorded mixtures nearest in recipe")
    else:
        _say_missing(out, facts)
        _nearest(out, facts, f"No prediction of {facts['recipe']}; recorded mixtures nearest in recipe")
    _end(out, facts)


def print_matches(facts: Facts, console: Console | None = None) -> None:
    """Print recipes for a colour; `facts` of `swatchread.palette.answers.match_facts`."""
    out = console or Console(highlight=False)
    out.print(_head(facts["target"]))
    if facts["recipes"]:
        table = _table("", "Recipe", "ΔE00", "±", "to expect")
        for r in facts["recipes"]:
            numbers = (f"{r[key]:.1f}" for key in ("de00", "uncertainty_de00", "expected_de00"))
            table.add_row(chip(r["lab"]), Text(r["recipe"]), *numbers)
        out.print(table)
        if facts["recipes"][0]["de00"] > 4.0:
            out.print(Text("These tubes come no nearer in small whole parts."))
    _say_missing(out, facts)
    _nearest(out, facts, "Recorded mixtures nearest in colour")
    _end(out, facts)


def print_nudge(facts: Facts, console: Console | None = None) -> None:
    """Print what to add; `facts` of `swatchread.palette.answers.nudge_facts`."""
    out = console or Console(highlight=False)
    out.print(_head(facts["from"]), Text(" now"))
    out.print(_head(facts["to"]), Text(f" wanted, ΔE00 {facts['de00']:.1f} away"))
    out.print(Text(facts["words"][:1].upper() + facts["words"][1:] + ".", style="bold"))
    for place, addition in enumerate(facts["additions"], start=1):
        told = f" after {addition['tube']}: ΔE00 {addition['de00']:.1f} left"
        if place == len(facts["additions"]):  # no surer than the two colours were, however good the prediction
            u = hypot(facts["uncertainty_de00"], *(facts[end]["uncertainty_de00"] for end in ("from", "to")))
            told += f", ± {u:.1f}"
        out.print(chip(addition["lab"]), Text(told))
    _say_missing(out, facts)
    if facts["method"] != "model":
        _nearest(out, facts, "Recorded mixtures nearest to the colour wanted")
    _end(out, facts)


def chip(lab: list[float]) -> Text:
    """Return a patch of a colour as the terminal shows it; a guide only."""
    return Text("      ", style=f"on {hex_colours([lab])[0][0]}", end="")


def _head(wanted: Facts) -> Text:
    lab = ", ".join(minus(x) for x in wanted["lab"])
    told = Text(f" {plain(wanted['name'])}: L*a*b* {lab}, {wanted['munsell']}, {wanted['value_name']}")
    return Text.assemble(chip(wanted["lab"]), told)


def _table(*names: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0), header_style="underline")
    for place, name in enumerate(names):
        table.add_column(name, justify="right" if place > 1 else "left", no_wrap=place != 1)
    return table


def _nearest(out: Console, facts: Facts, title: str) -> None:
    if not facts["nearest"]:
        return
    by_colour = "de00" in facts["nearest"][0]
    out.print(Text(f"\n{title}:"))
    table = _table("", "Recipe", "ΔE00" if by_colour else "differs", "where")
    for r in facts["nearest"]:
        far = f"{r['de00']:.1f}" if by_colour else f"{50 * r['share_difference']:.0f} %"
        table.add_row(chip(r["lab"]), Text(plain(r["recipe"])), far, Text(plain(r["swatch"])))
    out.print(table)


def _say_missing(out: Console, facts: Facts) -> None:
    if facts["missing"]:
        out.print(Text("\nWhat is missing for a prediction:"))
        for line in facts["missing"]:
            out.print(Text(f"  {plain(line)}"))


def _end(out: Console, facts: Facts) -> None:
    trust = facts["left_out_cards"]
    if trust:
        out.print(Text(f"\n{trust['words']}", style="dim"))
    for line in facts["care"]:
        out.print(Text(line))
