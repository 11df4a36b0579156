"""`swatchread tubes`: the painter's own words for tubes of paint."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from swatchread.cli.output import print_json, print_lines, print_table
from swatchread.cli.shared_options import Address, JsonOption

if TYPE_CHECKING:
    from rich.table import Table

    from swatchread.archive.store import Archive
    from swatchread.recipes.own_tubes import OwnTube, TubeQuestion


def tubes(
    said: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORD=TUBE]...", help='What your words mean, as "white = titanium white PW6".'),
    ] = None,
    *,
    table: Annotated[
        Path | None, typer.Option("--import", metavar="FILE", help="Take them from a CSV table: word, tube, pigments.")
    ] = None,
    forget: Annotated[
        list[str] | None, typer.Option("--forget", metavar="WORD", help="Take back what you said; may be repeated.")
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Go through the words that are in doubt, one by one.")] = False,
    archive: Address = None,
    as_json: JsonOption = False,
) -> None:
    """Say once what your words for tubes mean; it holds for all cards. Without words: show them."""
    from swatchread.archive.store import Archive
    from swatchread.errors import UsageError
    from swatchread.recipes.own_tubes import parse_own_tube
    from swatchread.recipes.tubes import load_tubes

    listed = load_tubes()
    named = [parse_own_tube(text, listed) for text in said or []] + (_from_table(table) if table else [])
    with Archive.open(archive) as opened:
        for word in forget or []:
            if not opened.tubes.forget(word):
                raise UsageError(f"Nothing was said about “{word}”", "", "`swatchread tubes` shows what was")
        opened.tubes.say(named)
        if ask:
            _ask(opened)
        if as_json:
            print_json(_facts(opened))
        else:
            _show(opened)


def _from_table(path: Path) -> list[OwnTube]:
    from swatchread.errors import UsageError, why_unread
    from swatchread.recipes.own_tubes import read_own_tubes
    from swatchread.recipes.tubes import MAX_TUBES_BYTES, load_tubes

    try:
        if path.stat().st_size > MAX_TUBES_BYTES:
            raise UsageError(f"{path.name} is too large for a table of tubes")
        return list(read_own_tubes(path.read_text(encoding="utf-8-sig"), load_tubes()))
    except OSError as error:
        raise UsageError(f"{path.name} cannot be read", *why_unread(error)) from error
    except UnicodeDecodeError as error:
        raise UsageError(f"{path.name} is not UTF-8 text", "", "Save the table as CSV UTF-8") from error


def _ask(archive: Archive) -> None:
    """Ask about each word in doubt; an empty answer leaves it open."""
    from swatchread.recipes.own_tubes import OwnTube

    asked: set[str] = set()
    # Each answer may bring suggestions for the words that are left, as "white" does for "whte".
    while left := [question for question in archive.tubes.questions() if question.used.word not in asked]:
        question = left[0]
        asked.add(question.used.word)
        typer.echo(question.words, err=True)
        for number, name in enumerate(question.suggested, start=1):
            typer.echo(f"  {number}  {name}", err=True)
        typer.echo("  0  a tube of its own", err=True)
        answer = typer.prompt("Number, or Enter to leave it open", default="", show_default=False, err=True).strip()
        word = question.used.word
        if answer == "0":
            archive.tubes.say([OwnTube(word, word)])
        elif answer.isdecimal() and 1 <= int(answer) <= len(question.suggested):
            archive.tubes.say([OwnTube(word, question.suggested[int(answer) - 1])])


def _facts(archive: Archive) -> dict[str, Any]:
    known = archive.tubes.known()
    return {
        "tubes": [
            {
                "word": one.word,
                "tube": one.tube,
                "pigments": list(one.pigments),
                "care": list(known.cautions((one.word,))),
            }
            for one in archive.tubes.said()
        ],
        "words": [
            {"word": used.word, "cards": used.cards, "swatches": used.swatches, "tube": known.match(used.word).name}
            for used in archive.tubes.on_cards()
        ],
        "questions": [_question_facts(question) for question in archive.tubes.questions()],
    }


def _question_facts(question: TubeQuestion) -> dict[str, Any]:
    used = question.used
    return {
        "word": used.word,
        "cards": used.cards,
        "swatches": used.swatches,
        "suggested": list(question.suggested),
        "question": question.words,
    }


def _show(archive: Archive) -> None:
    from swatchread.note.phrases import plain

    said, questions = archive.tubes.said(), archive.tubes.questions()
    words = archive.tubes.on_cards()
    if not said and not words:
        typer.echo('No tubes yet. Say one like this: swatchread tubes "white = titanium white PW6"')
        return
    print_table(_table(archive))
    print_lines(f"Care: {line}." for line in archive.tubes.known().cautions(tuple(one.word for one in said)))
    for question in questions:
        word = plain(question.used.word)
        print_lines([plain(question.words)])
        print_lines([f'say:  swatchread tubes "{word} = {(question.suggested or (word,))[0]}"'], indent=2)
    if questions:
        print_lines(["Or answer them one by one: swatchread tubes --ask"])


def _table(archive: Archive) -> Table:
    from rich import box
    from rich.table import Table

    from swatchread.note.phrases import plain

    known, said = archive.tubes.known(), {one.word.casefold(): one for one in archive.tubes.said()}
    table = Table("Your word", "Means", "Pigments", "Cards", "Swatches", box=box.SIMPLE_HEAD)
    for used in archive.tubes.on_cards():
        own = said.pop(used.word.casefold(), None)
        tube = known.tube(known.match(used.word).name or "")
        meant = own.tube if own else (tube.kind or tube.name) if tube else "?"
        shown = own.word if own else used.word
        codes = " ".join(tube.pigments) if tube else ""
        table.add_row(plain(shown), plain(meant), codes, str(used.cards), str(used.swatches))
    for own in said.values():
        table.add_row(plain(own.word), plain(own.tube), " ".join((known.tube(own.word) or own).pigments), "0", "0")
    return table
