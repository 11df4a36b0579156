"""Comparisons, answers about mixtures, and plans, for the terminal."""

from __future__ import annotations

from math import hypot
from typing import Any

from rich.console import Console, Group, RenderableType
from rich.text import Text

from swatchread.colour.screen import hex_colours
from swatchread.comparison.across_cards import Across, Effect
from swatchread.comparison.comparison_result import Amount, Change, Comparison, Series
from swatchread.note.phrases import NEVER_PAINTED, minus, plain, signed
from swatchread.report.cautions import cautions_of
from swatchread.report.comparison_page import elapsed, is_sure, short_verdict
from swatchread.report.console import DOUBTFUL, ConsoleTable, block
from swatchread.report.sheets import ROLES, remarks_on, sentences

Facts = dict[str, Any]

_FAR = 4.0
"""ΔE00 above which the answer says that the tubes come no nearer (choice: a difference that anyone sees)."""


def series_table(series: Series) -> RenderableType:
    """Lay out a comparison, or the comparisons of a series one after the other."""
    parts: list[RenderableType] = []
    for comparison in series.comparisons:
        parts += [*_comparison(comparison), Text()]
    parts += map(Text, cautions_of(change.recipe for c in series.comparisons for change in c.changes))
    return Group(*parts)


def across_table(across: Across) -> RenderableType:
    """Lay out which tubes, grounds and media shift most."""
    if not across.effects:
        why = (
            f"{across.cards} cards have two readings or more, and three with the same tube, ground or medium are needed"
        )
        return Text(f"The archive holds too few readings to answer this yet: {why}.")
    heads = ("", "", "", "shift", "95 % interval", "cards", "swatches", "days", "")
    rows = [_effect_row(effect) for effect in across.effects]
    parts: list[RenderableType] = [
        ConsoleTable(heads, rows, numbers=frozenset({3, 5, 6, 7}), whole=frozenset({0})),
        Text(
            "A tube's shift is what its swatches did beyond the others on their cards; "
            "a ground's or a medium's is the mean of its cards."
        ),
        Text("* stands clear of the noise when all of its kind are judged together (Holm)."),
    ]
    if across.too_few:
        words = ", ".join(f"{name} ({count})" for _, name, count in across.too_few)
        parts.append(Text(f"Too few cards to tell: {words}."))
    return Group(*parts)


def print_prediction(facts: Facts, console: Console | None = None) -> None:
    """Print what a recipe is predicted to give; `facts` are what its JSON says."""
    out = console or Console(highlight=False)
    for word, tube in facts["readings"].items():
        out.print(Text(f"“{word}” is read as {tube}."))
    if "lab" in facts:
        u = facts["uncertainty"]
        lab = "  ".join(f"{n}* {minus(x)} ± {u[n]:.1f}" for n, x in zip(("L", "a", "b"), facts["lab"], strict=True))
        out.print(_chip(facts["lab"]), Text(f" {facts['recipe']}", style="bold"))
        out.print(Text(f"{lab}   ΔE00 ± {u['de00']:.1f}   {facts['munsell']}, {facts['value_name']}"))
        _print_nearest(out, facts, "Recorded mixtures nearest in recipe")
    else:
        _print_missing(out, facts)
        _print_nearest(out, facts, f"No prediction of {facts['recipe']}; recorded mixtures nearest in recipe")
    _print_end(out, facts)


def print_matches(facts: Facts, console: Console | None = None) -> None:
    """Print recipes for a colour; `facts` are what its JSON says."""
    out = console or Console(highlight=False)
    out.print(_named_colour(facts["target"]))
    recipes = facts["recipes"]
    if recipes:
        numbers = ("de00", "uncertainty_de00", "expected_de00")
        rows: list[tuple[str | Text, ...]] = [
            (_chip(r["lab"]), _recipe(r), *(f"{r[key]:.1f}" for key in numbers)) for r in recipes
        ]
        heads = ("", "Recipe", "ΔE00", "±", "expected")
        out.print(ConsoleTable(heads, rows, numbers=frozenset({2, 3, 4}), whole=frozenset({0})))
        out.print(Text("expected: ΔE00 and ± together, as far as the mixture is likely to be off", style="dim"))
        if recipes[0]["de00"] > _FAR:
            out.print(Text("These tubes come no nearer in small whole parts."))
    if facts["nearer_as_painted"]:
        out.print(
            Text(
                f"{plain(facts['nearer_as_painted'])} as it was painted is nearer than a new mixture is likely to come."
            )
        )
    _print_missing(out, facts)
    _print_nearest(out, facts, "Recorded mixtures nearest in colour")
    _print_end(out, facts)


def print_nudge(facts: Facts, console: Console | None = None) -> None:
    """Print what to add; `facts` are what its JSON says."""
    out = console or Console(highlight=False)
    out.print(_named_colour(facts["from"]), Text(" now"))
    out.print(_named_colour(facts["to"]), Text(f" wanted, ΔE00 {facts['de00']:.1f} away"))
    out.print(Text(facts["words"][:1].upper() + facts["words"][1:] + ".", style="bold"))
    for place, addition in enumerate(facts["additions"], start=1):
        told = f" after {addition['tube']}: ΔE00 {addition['de00']:.1f} left"
        if place == len(facts["additions"]):  # no surer than the two colours were, however good the prediction
            u = hypot(facts["uncertainty_de00"], *(facts[end]["uncertainty_de00"] for end in ("from", "to")))
            told += f", ± {u:.1f}"
        out.print(_chip(addition["lab"]), Text(told))
    _print_missing(out, facts)
    if facts["method"] != "model":
        _print_nearest(out, facts, "Recorded mixtures nearest to the colour wanted")
    _print_end(out, facts)


def print_plan(facts: Facts, console: Console | None = None) -> None:
    """Print a plan, dark to light; `facts` are what its JSON says."""
    out = console or Console(highlight=False)
    rows = [_plan_row(step, role) for step in facts["steps"] for role in ROLES]
    kept = f" The run keeps to {facts['hue']['name']} hues." if facts["hue"] else ""
    each = f" {facts['in_all']} of each." if facts["in_all"] else ""
    out.print(Text(f"Mix from dark to light.{each}{kept}", style="bold"))
    heads = ("step", "value", "", "", "Recipe", "where")
    out.print(ConsoleTable(heads, rows, numbers=frozenset({1}), whole=frozenset({0, 2, 3})))
    for line in _plan_remarks(facts):
        out.print(Text(line))
    if facts["left_out_cards"]:
        out.print(Text(f"\n{facts['left_out_cards']}", style="dim"))
    _print_care(out, facts)


def _comparison(comparison: Comparison) -> list[RenderableType]:
    time = elapsed(comparison.seconds)
    title = f"{plain(comparison.before.photo.file)} → {plain(comparison.after.photo.file)}"
    heads = ("", "ΔL*", "±", "ΔC*", "Δh", "Δb*", "value", "warmth", "ΔE00", "±", "verdict")
    details = frozenset({3, 4, 5})
    table = ConsoleTable(
        heads,
        [_change_row(change) for change in comparison.changes],
        numbers=frozenset(range(1, 10)),
        whole=frozenset({0}),
        spare=[details, details | {6, 7}],
    )
    common = comparison.common
    tied = f" Taken as unchanged: {', '.join(comparison.anchors)}." if comparison.anchors else ""
    means = f"mean L* {_amount(common.L)}, a* {_amount(common.a)}, b* {_amount(common.b)}"
    surely = (
        f"; {len(comparison.surely)} of them (*) still stand clear when all swatches are judged together"
        if comparison.changed
        else ""
    )
    return [
        Text(title + (f", {time} apart" if time else ""), style="bold"),
        Text(),
        table,
        Text(),
        Text(f"The card as a whole: {common.verdict} ({means})."),
        Text(
            f"{len(comparison.changed)} of {common.count} swatches changed as far as this pair can show{surely}.{tied}"
        ),
        *block("Know before you believe it", map(plain, comparison.remarks)),
    ]


def _change_row(change: Change) -> tuple[str, ...]:
    return (
        change.id,
        signed(change.L.by, 1),
        f"{change.L.u:.1f}",
        signed(change.C.by, 1),
        signed(change.h.by, 0),
        signed(change.b.by, 1),
        signed(change.value.by),
        signed(change.warmth.by),
        f"{change.de00.by:.1f}",
        f"{change.de00.u:.1f}",
        short_verdict(change) + (" *" if is_sure(change) else ""),
    )


def _effect_row(effect: Effect) -> tuple[str, ...]:
    return (
        effect.kind,
        plain(effect.name),
        effect.quantity,
        signed(effect.by, 1),
        f"{signed(effect.low, 1)} to {signed(effect.high, 1)}",
        str(effect.cards),
        str(effect.swatches),
        "" if effect.days is None else f"{effect.days:.0f}",
        "*" if effect.clear else "",
    )


def _amount(amount: Amount) -> str:
    return f"{signed(amount.by, 1)} ± {amount.u:.1f}"


def _chip(lab: list[float]) -> Text:
    """Return a patch of a colour, as near as the terminal can show it."""
    return Text("      ", style=f"on {hex_colours([lab])[0][0]}", end="")


def _named_colour(colour: Facts) -> Text:
    lab = ", ".join(minus(x) for x in colour["lab"])
    told = Text(f" {plain(colour['name'])}: L*a*b* {lab}, {colour['munsell']}, {colour['value_name']}")
    return Text.assemble(_chip(colour["lab"]), told)


def _recipe(facts: Facts) -> str:
    """Return a proposed recipe with its portions and the swatch that was painted by it, as far as there are any."""
    to_mix = f" = {facts['to_mix']}" if facts["to_mix"] else ""
    return plain(f"{facts['recipe']}{to_mix}" + (f" ({facts['swatch']})" if facts["swatch"] else ""))


def _print_nearest(out: Console, facts: Facts, title: str) -> None:
    if not facts["nearest"]:
        return
    by_colour = "de00" in facts["nearest"][0]
    rows = [
        (
            _chip(r["lab"]),
            plain(r["recipe"]),
            f"{r['de00']:.1f}" if by_colour else f"{50 * r['share_difference']:.0f} %",
            plain(r["swatch"]),
        )
        for r in facts["nearest"]
    ]
    out.print(Text(f"\n{title}:"))
    heads = ("", "Recipe", "ΔE00" if by_colour else "differs", "where")
    out.print(ConsoleTable(heads, rows, numbers=frozenset({2}), whole=frozenset({0, 3})))


def _print_missing(out: Console, facts: Facts) -> None:
    if facts["missing"]:
        out.print(Text("\nWhat is missing for a prediction:"))
        for line in facts["missing"]:
            out.print(Text(f"  {plain(line)}"))


def _print_end(out: Console, facts: Facts) -> None:
    if facts["left_out_cards"]:
        out.print(Text(f"\n{facts['left_out_cards']['words']}", style="dim"))
    _print_care(out, facts)


def _print_care(out: Console, facts: Facts) -> None:
    """Print the cautions if the recipes hold a dangerous pigment; the first line alone asks for the usual care."""
    for line in facts["care"] if len(facts["care"]) > 1 else ():
        out.print(Text(sentences([line])))


def _plan_row(step: Facts, role: str) -> tuple[str | Text, ...]:
    option = step[role]
    lead = str(step["number"]) if role == ROLES[0] else ""
    if option is None:
        return lead, "", "", role, Text("none", style="dim"), ""
    where = (plain(option["where"]) or NEVER_PAINTED) + ("*" if option["doubtful"] else "")
    chip = Text("    ", style=f"on {option['chip']}")
    recipe = plain(f"{option['recipe']} = {option['to_mix']}" if option["to_mix"] else option["recipe"])
    return lead, f"{option['value']:.1f}", chip, role, recipe, where


def _plan_remarks(facts: Facts) -> list[str]:
    """Return the remarks on the steps, a line for each step, and those on the whole plan."""
    steps = facts["steps"]
    lines = [f"Step {step['number']}: {remarks}." for step in steps if (remarks := remarks_on(step))]
    if any(step[role] and not step[role]["where"] for step in steps for role in ROLES):
        lines.append(f"What was {NEVER_PAINTED} is calculated from your cards: mix a trial before the sitting.")
    if any(step[role] and step[role]["doubtful"] for step in steps for role in ROLES):
        lines.append(DOUBTFUL)
    return lines + [sentences([remark]) for remark in facts["remarks"]]
