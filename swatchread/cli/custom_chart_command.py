"""`swatchread chart learn` and `chart measured`: charts of the painter's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from swatchread.cli.messages import tell
from swatchread.cli.output import print_table
from swatchread.cli.shared_options import ChartOption, JsonOption
from swatchread.errors import SOME_FAILED, SwatchreadError

if TYPE_CHECKING:
    from swatchread.chart.definition import ChartDefinition
    from swatchread.custom_chart.strip_measurement import StripReading

NameOption = Annotated[
    str, typer.Option("--name", metavar="NAME", help="What the new chart is called: small letters, figures, hyphens.")
]
IntoOption = Annotated[
    Path | None, typer.Option("--into", metavar="DIR", help="Folder for NAME.chart.json. [default: the current one]")
]


def learn(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO", help="Photos of the strip beside a known chart.")],
    name: NameOption,
    layout: Annotated[
        str | None,
        typer.Option(
            "--layout", metavar="ROWSxCOLUMNS", help="How the strip's chips lie: 2x6. [default: as they show]"
        ),
    ] = None,
    chart: ChartOption = None,
    into: IntoOption = None,
    as_json: JsonOption = False,
) -> None:
    """Measure a strip of your own chips beside a known chart, for later use without it.

    Take ten or more flat, matt, lasting chips of one colour each: square, evenly spaced, a white, a grey and a black
    among them, in an order that reads differently from the other end. Several photos, in other places and light, make
    it surer. Then `swatchread read card.jpg --chart NAME.chart.json` needs the strip alone.
    """
    from swatchread.chart.definition import check_name, load_chart
    from swatchread.custom_chart.strip_measurement import learn_strip
    from swatchread.hints.manual_hints import parse_grid

    check_name(name)
    size = parse_grid(layout) if layout is not None else None
    known = load_chart(chart) if chart else load_chart()
    readings = _read_all(photos, known, size)
    if not all(r.even for r in readings):
        typer.echo("No even ground shows how the light falls: lay strip and chart on one sheet of paper.", err=True)
    _keep(learn_strip(readings, name, known.name), into, as_json=as_json)
    if len(readings) < len(photos):
        raise typer.Exit(SOME_FAILED)


def measured(
    table: Annotated[Path, typer.Argument(metavar="TABLE", help="Measured values: CSV or CGATS text.")],
    name: NameOption,
    like: Annotated[
        str, typer.Option("--like", metavar="NAME|FILE", help="The chart that was measured.")
    ] = "classic24",
    illuminant: Annotated[
        str,
        typer.Option(
            "--illuminant",
            metavar="NAME",
            help="Light that L, a, b are for: A, C, D50, D55, D65, D75, E, FL2, FL7 or FL11.",
        ),
    ] = "D50",
    observer: Annotated[
        int, typer.Option("--observer", metavar="DEGREES", help="Observer that they are for: 2 or 10.")
    ] = 2,
    into: IntoOption = None,
    as_json: JsonOption = False,
) -> None:
    """Make a chart of values that an instrument has measured on your own copy of it.

    One row a patch, in the chart's order or with its patch names in a column `name`. Columns `L`, `a`, `b` hold CIELAB;
    values for another light than D50, or for the 10° observer, are converted, which makes them less sure. Columns of
    reflectances (`nm400`, `nm410`, …; 0 to 1 or per cent) are surer: they hold for any light and are used where there
    are any. A column `u` may say how sure each row is, in CIEDE2000.
    """
    from swatchread.chart.definition import check_name, load_chart
    from swatchread.custom_chart.measured_table import chart_of_table

    check_name(name)
    _keep(chart_of_table(table, load_chart(like), name, illuminant.upper(), observer), into, as_json=as_json)


def _read_all(photos: list[Path], known: ChartDefinition, size: tuple[int, int] | None) -> list[StripReading]:
    """Read the strip in each photo; of several, those that cannot be used are reported and skipped."""
    from swatchread.custom_chart.strip_measurement import read_strip

    readings: list[StripReading] = []
    for k, photo in enumerate(photos):
        try:
            readings.append(read_strip(photo, known, size))
        except SwatchreadError as error:
            if not readings and k == len(photos) - 1:
                raise
            tell(error, str(photo))
    return readings


def _keep(chart: ChartDefinition, into: Path | None, *, as_json: bool) -> None:
    from swatchread.chart.definition import SUFFIX, definition_json
    from swatchread.note.safe_files import write_text

    path = (into or Path()) / f"{chart.name}{SUFFIX}"
    text = definition_json(chart)
    write_text(path, text)
    if as_json:
        typer.echo(text, nl=False)
    else:
        _show(chart)
    typer.echo(f"Written: {path}", err=True)


def _show(chart: Any) -> None:
    from swatchread.note.phrases import minus
    from swatchread.report.console import ConsoleTable

    rows = [
        (patch, *(minus(v) for v in lab), f"{u:.2f}" if u > 0 else "")
        for patch, lab, u in zip(chart.patch_names, chart.lab, chart.de00, strict=True)
    ]
    print_table(ConsoleTable(("Patch", "L*", "a*", "b*", "± ΔE00"), rows, numbers=frozenset({1, 2, 3, 4})))
