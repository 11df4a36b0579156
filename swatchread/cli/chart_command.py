"""`swatchread chart`: the chart alone, in photos or as definitions."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from swatchread.cli.custom_chart_command import learn, measured
from swatchread.cli.messages import tell
from swatchread.cli.output import print_json, print_table
from swatchread.cli.shared_options import ChartOption, JsonOption, command_group
from swatchread.errors import SOME_FAILED, SwatchreadError

_CHECK = "check"


class ChartGroup(TyperGroup):
    """Commands of which `check` may be left out: ``swatchread chart card.jpg``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Add the word if a photo or one of its options stands first."""
        if args and args[0] not in self.commands and args[0] != "--help":
            args = [_CHECK, *args]
        return super().parse_args(ctx, args)


app = command_group(
    "chart", "Judge the chart in photos; name the charts that are known; make one of your own.", cls=ChartGroup
)


@app.command("check")
def check(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photos of a chart.")],
    chart: ChartOption = None,
    as_json: JsonOption = False,
) -> None:
    """Find and judge the chart in photos, and the light on a card beside it. The word `check` may be left out.

    Pictures that a reading wrote are skipped, unless nothing else is named.
    """
    from swatchread.batch.jobs import photos_of
    from swatchread.chart.definition import load_chart

    definition = load_chart(chart) if chart else load_chart()
    found: list[dict[str, Any]] = []
    failures, alone = 0, len(photos) == 1
    for photo in photos_of(photos):
        try:
            found.append(_facts(photo, definition))
        except SwatchreadError as error:
            if alone:
                raise
            tell(error, str(photo))
            failures += 1
    _show(found, as_json=as_json, alone=alone)
    if failures:
        raise typer.Exit(SOME_FAILED)


def _facts(path: Path, definition: Any) -> dict[str, Any]:
    from swatchread.note.composition import chart_facts
    from swatchread.reading import judge_chart

    calibration, warnings = judge_chart(path, definition)
    facts = chart_facts(calibration).model_dump(mode="json")
    return {"photo": path.name, **facts, "warnings": [w.model_dump(mode="json") for w in warnings]}


def _show(found: list[dict[str, Any]], *, as_json: bool, alone: bool) -> None:
    if as_json:
        print_json(found[0] if alone else found)
        return
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    from swatchread.correction.calibration import TRUSTED_DE00
    from swatchread.note.phrases import plain

    console = Console(highlight=False)
    for facts in found:
        corners = "  ".join(f"{x:.0f},{y:.0f}" for x, y in facts["corners"])
        fit = facts["fit"]
        console.print(Text(plain(f"{facts['photo']}: {_verdict(facts)}")), soft_wrap=True)
        told = (
            f"its colours came out ΔE00 {fit['mean_de00']:.2f} off on average, and "
            f"{fit['cross_validated_de00']:.2f} on patches that were left out to test it "
            f"(a reading needs {TRUSTED_DE00:.0f} or less)"
        )
        lines = (
            f"chart {facts['name']}, {facts['patches_used']} patches used; corners (x,y) {corners}",
            told,
            *(f"{warning['message']}. {warning['remedy']}." for warning in facts["warnings"]),
        )
        for line in lines:
            console.print(Padding(Text(plain(line)), (0, 0, 0, 2)))


def _verdict(facts: dict[str, Any]) -> str:
    """Say in words whether a card could be read from the photo, as far as the chart tells."""
    from swatchread.correction.calibration import TRUSTED_DE00

    if facts["fit"]["cross_validated_de00"] > TRUSTED_DE00:
        return "too poor to read a card by"
    return "good to read a card by, but mind the warnings" if facts["warnings"] else "good to read a card by"


@app.command("list", short_help="Name the charts that are known.")
def list_charts(as_json: JsonOption = False) -> None:
    """Name the charts that are known, of which batch they are, and where their values come from."""
    from swatchread.chart.definition import known_charts

    charts = known_charts()
    if as_json:
        told = ("name", "title", "rows", "columns", "source")
        print_json([{name: getattr(chart, name) for name in told} for chart in charts])
        return
    from swatchread.report.console import ConsoleTable

    rows = [(c.name, f"{c.rows} × {c.columns}", c.title, c.source) for c in charts]
    heads = ("Name", "Patches", "What it is", "Source of the values")
    print_table(ConsoleTable(heads, rows, whole=frozenset({0})))  # not broken: the name is what --chart takes


app.command("measured", short_help="Make a chart of an instrument's values.")(measured)
app.command("learn", short_help="Make a chart of your own strip of chips.")(learn)
