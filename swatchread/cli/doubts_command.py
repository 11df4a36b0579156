"""`swatchread doubts`: one pass over what is doubtful, in the order in which it pays."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from swatchread.cli.output import print_json, print_lines, print_table
from swatchread.cli.shared_options import Address, JsonOption

if TYPE_CHECKING:
    from swatchread.note.doubts import Doubt, DoubtRound
    from swatchread.note.model import Note


def doubts(
    folder: Annotated[
        Path | None, typer.Argument(metavar="[FOLDER]", help="A folder with notes. [default: your archive]")
    ] = None,
    archive: Address = None,
    as_json: JsonOption = False,
) -> None:
    """Go through what is in doubt: photos that were not read, rows and columns, recipes, then warnings.

    Enter takes what is offered. Where nobody can answer, and with --json, the list is printed. The exit status is 1 if
    a photo could not be read.
    """
    from swatchread.note.doubts import DoubtRound

    with ExitStack() as stack:
        gather = _in_folder(folder, archive, stack) if folder else _in_archive(archive, stack)
        round_ = DoubtRound()
        places = gather()
        ahead = round_.ahead(place.doubt for place in places)
        by_key = {place.doubt.key: place for place in places}
        if as_json:
            print_json(_facts([by_key[doubt.key] for doubt in ahead], round_))
        elif not ahead:
            typer.echo("Nothing is in doubt.")
        elif can_answer():
            _ask_all(gather, round_)
        else:
            _list([by_key[doubt.key] for doubt in ahead], round_)
        if any(doubt.kind == "unread" for doubt in round_.ahead(place.doubt for place in gather())):
            from swatchread.errors import SOME_FAILED

            raise typer.Exit(SOME_FAILED)


_PAGE: Final = "swatchread open"
_ASKED: Final = {
    "grid": "Do the names stand on their swatches? Enter: yes, n: no, l: later",
    "warnings": "Enter: seen, l: later",
}
_HOW_TO_ANSWER: Final = "Enter takes what is offered, or type the recipe. -: no recipe, l: later, s: leave the rest"


def can_answer() -> bool:
    """Tell whether somebody sits before the terminal who can answer."""
    return sys.stdin.isatty() and sys.stderr.isatty()


@dataclass(frozen=True)
class _Place:
    """A doubt, where its card is, and how its note is changed."""

    doubt: Doubt
    where: str
    marked: str = ""
    folder: Path | None = None
    archive: str | None = None
    note: Note | None = None
    change: Callable[[Callable[[Note], Note]], object] | None = None

    def crop(self, swatch: str) -> str:
        """Return the path of a swatch's handwriting; empty if it is not in a file."""
        name = self.note.swatch(swatch).writing if self.note else None
        return str(self.folder / name) if name and self.folder else ""


def _in_folder(folder: Path, archive: str | None, stack: ExitStack) -> Callable[[], list[_Place]]:
    from swatchread.archive.database import existing_archive
    from swatchread.archive.store import Archive
    from swatchread.batch.folder_doubts import doubts_in
    from swatchread.note.model import load_note
    from swatchread.note.picture_names import marked_name
    from swatchread.page.note_keeper import NoteKeeper

    address = existing_archive(archive)
    opened = stack.enter_context(Archive.open(address)) if address else None

    def change(path: Path, act: Callable[[Note], Note]) -> None:
        keeper = NoteKeeper(path)
        keeper.replace(act(keeper.note))
        if opened is not None and opened.holds(keeper.note.identity, keeper.note.tool.version) is not None:
            opened.add(keeper.note, path.parent)

    def place(doubt: Doubt, path: Path | None) -> _Place:
        if path is None:
            return _Place(doubt, doubt.name)
        marked = path.with_name(marked_name(path.name.removesuffix(".note.json")))
        shown = str(marked) if marked.is_file() else ""
        return _Place(
            doubt,
            str(path.relative_to(folder)),
            shown,
            path.parent,
            archive,
            load_note(path),
            lambda act: change(path, act),
        )

    return lambda: [place(one.doubt, one.note) for one in doubts_in(folder)]


def _in_archive(archive: str | None, stack: ExitStack) -> Callable[[], list[_Place]]:
    from swatchread.archive.picture_archive import PictureArchive
    from swatchread.page.doubt_desk import DoubtDesk
    from swatchread.page.inbox import Inbox

    opened = stack.enter_context(PictureArchive.open(archive))
    desk = DoubtDesk(opened, Inbox(opened.photo_folder))

    def place(doubt: Doubt, card: int | None) -> _Place:
        if card is None:
            return _Place(doubt, "swatchread tubes --ask" if doubt.key == "tubes" else doubt.name)
        note = opened.card(card).note
        return _Place(doubt, f"card {card}", note=note, change=lambda act: opened.change(card, act))

    return lambda: [place(one.doubt, one.card) for one in desk.ahead()]


def _facts(places: Sequence[_Place], round_: DoubtRound) -> dict[str, Any]:
    listed = [{**asdict(one.doubt), "where": one.where, "marked": one.marked} for one in places]
    return {"doubts": listed, "time": round_.time_left(one.doubt for one in places)}


def _list(places: Sequence[_Place], round_: DoubtRound) -> None:
    from rich.table import Table

    from swatchread.note.phrases import plain

    table = Table(box=None, pad_edge=False)
    for name in ("", "Where", "What, and what to do"):
        table.add_column(name, overflow="fold")
    for number, one in enumerate(places, start=1):
        table.add_row(str(number), plain(one.where), " ".join(one.doubt.lines))
    print_table(table)
    print_lines([f"{len(places)} in doubt, {round_.time_left(one.doubt for one in places)}. On the page: {_PAGE}"])


def _ask_all(gather: Callable[[], list[_Place]], round_: DoubtRound) -> None:
    """Ask about one doubt after the other; each is asked about once."""
    from swatchread.note.phrases import plain

    seen: set[str] = set()
    while True:
        places = {place.doubt.key: place for place in gather()}
        ahead = [doubt for doubt in round_.ahead(place.doubt for place in places.values()) if doubt.key not in seen]
        if not ahead:
            return
        doubt, begun = ahead[0], time.monotonic()
        seen.add(doubt.key)
        print_lines([f"\n{len(ahead)} left, {round_.time_left(ahead)}. {places[doubt.key].where}"])
        print_lines(doubt.lines, indent=2)
        if places[doubt.key].marked:
            typer.echo(f"  marked photo: {plain(places[doubt.key].marked)}")  # one line, so that it can be copied
        if _ask(places[doubt.key]):
            round_.took(doubt, time.monotonic() - begun)


def _ask(place: _Place) -> bool:
    """Ask about one doubt; return whether it was decided."""
    from swatchread.note.doubts import settle
    from swatchread.note.phrases import plain

    doubt, change = place.doubt, place.change
    if change is None or place.note is None:
        _answer("Enter goes on")
        return False
    if doubt.kind == "recipes":
        return _ask_recipes(place, change)
    answer = _answer(_ASKED[doubt.kind])
    if answer == "n":
        photo = plain(place.note.photo.file)
        print_lines([f"Count again: swatchread read {photo} --grid ROWSxCOLUMNS; or correct it on the page: {_PAGE}"])
    if answer in {"n", "l"}:
        return False
    change(lambda note: settle(note, doubt.kind))
    return True


def _ask_recipes(place: _Place, change: Callable[[Callable[[Note], Note]], object]) -> bool:
    from swatchread.note.doubts import settle
    from swatchread.note.phrases import plain

    offers = _offers(place)
    print_lines([_HOW_TO_ANSWER], indent=2)
    for swatch_id in place.doubt.swatches:
        crop = place.crop(swatch_id)
        offered, unsure = offers.get(swatch_id, ("", ()))
        told = f"{swatch_id}  {plain(offered)}" + (f"  (look closely at {', '.join(unsure)})" if unsure else "")
        print_lines([told], indent=2)
        if crop:
            typer.echo(f"  written: {plain(crop)}")
        answer = _answer(swatch_id)
        if answer == "l":
            return False
        if answer == "s":
            change(lambda note: settle(note, "recipes"))
            return True
        text = offered if not answer else "" if answer == "-" else answer
        if text:
            change(partial(_with_recipe, swatch_id, text))
    return True


def _with_recipe(swatch: str, recipe: str, note: Note) -> Note:
    from swatchread.note.entered_words import with_words

    return with_words(note, {swatch: recipe})


def _offers(place: _Place) -> dict[str, tuple[str, tuple[str, ...]]]:
    """Return what the handwriting beside a note file may say, and what is to be looked at closely."""
    from swatchread.cli.writing_command import known_writing
    from swatchread.writing.installed import is_installed

    if place.folder is None or place.note is None or not is_installed():
        return {}
    from swatchread.writing.note_writing import WritingReader, confirmed_crops

    tubes, known = known_writing(place.archive)
    reader = WritingReader(tubes, known.recipes, confirmed_crops(known.crops))
    return {swatch: (offer.text, offer.doubts) for swatch, offer in reader.read_note(place.note, place.folder)}


def _answer(asked: str) -> str:
    answer: str = typer.prompt(asked, default="", show_default=False, err=True)
    return answer.strip()
