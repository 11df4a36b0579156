"""`swatchread read`: photos in, notes out."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand

from swatchread.cli.hint_options import CardOption, ChartAtOption, GridOption, pointed
from swatchread.cli.reading_output import finish
from swatchread.cli.setup_reading_command import InSetup, read_one_in_setup
from swatchread.cli.shared_options import ChartOption, require_folder

if TYPE_CHECKING:
    from swatchread.archive.store import Archive
    from swatchread.card.manual_hints import ManualHints

SOME_FAILED = 1
_ARCHIVE = "--archive"


class ReadCommand(TyperCommand):
    """A command whose ``--archive`` may stand without an address."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Give a bare ``--archive`` an empty address: it is the last word, or an option or a folder follows."""
        given = []
        for word, following in zip(args, [*args[1:], "-"], strict=False):
            given.append(word)
            if word == _ARCHIVE and (following.startswith("-") or Path(following).is_dir()):
                given.append("")
        return super().parse_args(ctx, given)


COMMAND = ReadCommand


def read(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO|FOLDER", help="Photos of a card beside a chart, or folders of them.")
    ],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="DIR", help="Folder for the results. [default: beside the photo]")
    ] = None,
    archive: Annotated[
        str | None,
        typer.Option(
            _ARCHIVE, metavar="[ADDRESS]", help="Keep the notes in this archive; without ADDRESS, in your own."
        ),
    ] = None,
    chart: ChartOption = None,
    jobs: Annotated[
        int | None, typer.Option("--jobs", metavar="N", min=1, help="Photos read at a time. [default: one a core]")
    ] = None,
    again: Annotated[bool, typer.Option("--again", help="Of several photos, read those too that were read.")] = False,
    report: Annotated[
        Path | None, typer.Option("--report", metavar="FILE", help="Where the report on several photos goes, as CSV.")
    ] = None,
    same_card: Annotated[
        bool, typer.Option("--same-card", help="The photos show one card: fuse them into one note.")
    ] = False,
    keep_setup: Annotated[
        Path | None,
        typer.Option("--keep-setup", metavar="FILE", help="Keep this set-up, for photos without chart."),
    ] = None,
    setup: Annotated[
        Path | None, typer.Option("--setup", metavar="FILE", help="Read with a set-up that was kept; no chart needed.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
    accept_poor: Annotated[
        bool, typer.Option("--accept-poor", help="Take a reading whose colour fit is poor; the note says so.")
    ] = False,
    grid: GridOption = None,
    card: CardOption = None,
    chart_at: ChartAtOption = None,
) -> None:
    """Read painted swatch cards from photos into measured colour notes.

    Writes beside each photo, or into DIR: the note (.note.json), its table (.note.csv and .note.cgats.txt), the photo
    with what was measured marked on it (.marked.jpg), the handwriting (.r1c1.writing.jpg) and a page to look at
    (.note.html).

    Several photos are read in parallel, past bad ones, with a report at the end (read-report.csv). Those that were
    read before by this version are passed over: the same command takes up where it was stopped.

    Where the eye knows better, tell of one photo how many rows and columns the card has, where the card lies, or where
    the chart lies. Corners are counted in pixels from the photo's upper left, in any order.

    With --same-card the photos become one note (….together.note.json), surer than each of them; those that disagree
    are left out and named.

    For a fixed camera and steady light: --keep-setup FILE keeps the correction of a photo of card and chart, and
    --setup FILE reads later photos with it, as long as the bare ground shows that the light has not changed.
    """
    alone = len(photos) == 1 and not photos[0].is_dir()
    require_folder(photos[0].parent if into is None and alone else into)
    one = alone and not (same_card or setup or keep_setup)
    told = pointed(grid, card, chart_at, one=one)
    in_setup = InSetup(chart, setup, keep_setup, accept_poor, as_json)
    in_setup.require_sense(photos, same_card=same_card)
    with _opened(archive) as kept:
        if same_card:
            from swatchread.cli.together_command import Together, read_together

            if read_together(Together(photos, into, chart, setup, accept_poor, as_json), kept):
                raise typer.Exit(SOME_FAILED)
            return
        if alone:
            if setup or keep_setup:
                read_one_in_setup(photos[0], into or photos[0].parent, kept, in_setup)
                return
            _read_one(photos[0], into or photos[0].parent, kept, chart, told, accept_poor=accept_poor, as_json=as_json)
            return
        from swatchread.cli.batch_reading import Wish, read_many

        wish = Wish(photos, into, chart, accept_poor, again, jobs, report, as_json, setup)
        status = read_many(wish, kept)
    if status:
        raise typer.Exit(status)


def _opened(archive: str | None) -> Any:
    if archive is None:
        return nullcontext()
    from swatchread.archive.store import Archive

    return Archive.open(archive or None)


def _read_one(
    photo: Path,
    folder: Path,
    archive: Archive | None,
    chart: str | None,
    told: ManualHints | None,
    *,
    accept_poor: bool,
    as_json: bool,
) -> None:
    from swatchread.chart.definition import load_chart
    from swatchread.reading import read_card
    from swatchread.report.reading_files import stem_beside, write_outputs

    reading = read_card(photo, load_chart(chart) if chart else load_chart(), accept_poor=accept_poor, pointed=told)
    finish(write_outputs(reading, folder, stem_beside(folder, photo)), archive, as_json=as_json)
