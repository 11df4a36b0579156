"""`swatchread read`: photos in, notes out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated, Any, ClassVar

import typer

from swatchread.cli.grouped_help import RARE, GroupedCommand
from swatchread.cli.reading_request import Corners, ReadingRequest
from swatchread.cli.shared_options import ChartOption, JsonOption
from swatchread.errors import SOME_FAILED

_ARCHIVE = "--archive"
_GRID = "--grid"
_CORNERS = "x,y x,y x,y x,y"


class ReadCommand(GroupedCommand):
    """A command whose ``--archive`` may stand without an address, and whose ``--grid`` may be typed with spaces."""

    sections: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "Correcting what was found": ("grid", "card", "chart_at"),
        "The card's stock": ("support", "same_stock"),
        "A fixed set-up": ("keep_setup", "setup"),
        "Many machines": ("cluster",),
        RARE: ("accept_poor", "reread", "jobs", "as_json", "help"),
    }

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Bring the words into the form that typer takes."""
        return super().parse_args(ctx, _with_bare_archive(_with_grid_joined(args)))


def _with_bare_archive(words: list[str]) -> list[str]:
    """Give a bare ``--archive`` an empty address: it is the last word, or an option, a folder or a photo follows."""
    from swatchread.batch.jobs import SUFFIXES

    given = []
    for word, following in zip(words, [*words[1:], "-"], strict=False):
        given.append(word)
        path = Path(following)
        if word == _ARCHIVE and (following.startswith("-") or path.suffix.lower() in SUFFIXES or path.is_dir()):
            given.append("")
    return given


def _with_grid_joined(words: list[str]) -> list[str]:
    """Make one word of ``--grid 6 x 3``, ``6x 3`` and ``6 x3``."""
    if _GRID not in words:
        return words
    start = words.index(_GRID) + 1
    for count in (2, 3):
        typed = "".join(words[start : start + count])
        if re.fullmatch(r"\d+[x×X*]\d+", typed) and not re.fullmatch(r"\d+[x×X*]\d+", words[start]):
            return [*words[:start], typed, *words[start + count :]]
    return words


COMMAND = ReadCommand


def _place(word: str) -> Any:
    from swatchread.batch.photo_addresses import place_of

    return place_of(word)


def read(
    photos: Annotated[
        list[Any],
        typer.Argument(
            metavar="PHOTO|FOLDER", parser=_place, help="Photos of a card beside a chart, or folders of them."
        ),
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
    reread: Annotated[
        bool, typer.Option("--reread", help="Of several photos, also read those that were read before.")
    ] = False,
    same_card: Annotated[
        bool, typer.Option("--same-card", help="The photos show one card: make one note of them.")
    ] = False,
    keep_setup: Annotated[
        Path | None,
        typer.Option("--keep-setup", metavar="FILE", help="Keep this set-up, to read photos without a chart."),
    ] = None,
    setup: Annotated[
        Path | None, typer.Option("--setup", metavar="FILE", help="Read with a set-up that was kept; no chart needed.")
    ] = None,
    as_json: JsonOption = False,
    accept_poor: Annotated[
        bool, typer.Option("--accept-poor", help="Accept a reading whose colour fit is poor; the note says so.")
    ] = False,
    grid: Annotated[
        str | None,
        typer.Option(_GRID, metavar="ROWSxCOLUMNS", help="How many rows and columns of paint the card has: 6x3."),
    ] = None,
    card: Annotated[
        Corners | None,
        typer.Option("--card", metavar=_CORNERS, help="Where the card lies: its four corners, in pixels of the photo."),
    ] = None,
    chart_at: Annotated[
        Corners | None,
        typer.Option(
            "--chart-at",
            metavar=_CORNERS,
            help="Where the chart lies: the outer corners of its corner patches, in pixels.",
        ),
    ] = None,
    support: Annotated[
        str | None,
        typer.Option("--support", metavar="NAME", help="What the cards are made of, in your words; kept in the notes."),
    ] = None,
    same_stock: Annotated[
        bool,
        typer.Option("--same-stock", help="Even out the light so that the bare ground is that of your earlier cards."),
    ] = False,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster", metavar="ADDRESS", help="Read on the workers of this dask scheduler: tcp://HOST:8786."
        ),
    ] = None,
) -> None:
    """Read painted swatch cards from photos into measured colour notes.

    These files are written beside each photo, or into DIR: a page to look at (.note.html), the note (.note.json), its
    table (.note.csv and .note.cgats.txt), the photo with marks on what was measured (.marked.jpg), and a folder with
    the handwriting (.writing).

    Several photos are read at the same time. A bad one does not stop the others, and a report (read-report.csv) says
    at the end what became of each. Photos that this version has read before are passed over: give the same command
    again and it goes on where it was stopped.

    Where your eye knows better, you can say of one photo how many rows and columns the card has, where the card lies,
    or where the chart lies. Corners are counted in pixels from the photo's upper left, in any order.

    With --same-card the photos become one note (….together.note.json) that is surer than each of them. Photos that
    disagree with the others are left out and named.

    With --archive the bare ground is held against that of your last cards. Where it comes out otherwise, the note says
    so; --same-stock evens that out, if you are sure that the stock is the same.

    With --cluster the photos lie in a folder that all workers share, or at an address such as s3://BUCKET/FOLDER; the
    notes from there go into --into DIR or --archive. It needs an extra here and on the workers: "swatchread[cluster]".

    For a fixed camera and steady light, --keep-setup FILE keeps the correction of a photo of card and chart, and
    --setup FILE reads later photos with it, as long as the bare ground shows that the light has not changed.
    """
    request = ReadingRequest(**locals())
    request.check()
    with _opened(archive) as opened:
        if same_card:
            from swatchread.cli.note_reading import read_fused

            all_done = read_fused(request, opened)
        elif request.is_one_photo:
            from swatchread.cli.note_reading import read_single

            read_single(request, opened)
            all_done = True
        else:
            from swatchread.cli.batch_reading import read_batch

            all_done = read_batch(request, opened)
    if not all_done:
        raise typer.Exit(SOME_FAILED)


def _opened(archive: str | None) -> Any:
    if archive is None:
        return nullcontext()
    from swatchread.archive.store import Archive

    return Archive.open(archive or None)
