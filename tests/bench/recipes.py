"""How the recipes that painters write are kept and understood; run as a module.

``python -m tests.bench.recipes [--seed 20220] [--list]``

Truth is what the writer of `tests.bench.written_recipes` meant. A recipe counts as *asked* when something about it is
open, so that no mixture is learnt from it before the painter has said more; as *understood* when nothing is open and
tubes and proportions are those that were meant; else it is *wrong*.
"""

from __future__ import annotations

import argparse
import csv
import html
import io
import json
import tempfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from swatchread.archive.conditions import Query
from swatchread.archive.store import Archive
from swatchread.note.model import Note
from swatchread.palette.training_data import Card, collect
from swatchread.recipes.amounts import Amount
from swatchread.recipes.own_tubes import OwnTube, painters_tubes
from swatchread.recipes.recipe import Recipe, parse_recipe
from swatchread.recipes.tubes import TubeList, load_tubes
from swatchread.report.cgats import parse_cgats
from swatchread.report.console import found_table, note_table
from swatchread.report.note_exports import export_note
from swatchread.report.search_exports import found_to_cgats, found_to_csv, found_to_json
from swatchread.report.sheets import contact_sheet
from tests.archive_data import build_note, swatch_data
from tests.bench.written_recipes import PAINTERS, SEED, TOUCH, Amounts, Written, written_recipes

_SAME_SHARE = 1e-6
"""Difference of shares up to which two mixtures are the same."""


def tubes_of(painter: str) -> TubeList:
    """Return the list of tubes under the words that a painter of the bench has said."""
    return painters_tubes(load_tubes(), [OwnTube(word, tube) for word, tube in PAINTERS[painter].items()])


def verdict(one: Written, understood: Callable[[str, TubeList], Amounts | None]) -> str:
    """Return "understood", "asked" or "wrong".

    Parameters
    ----------
    one : Written
    understood : callable
        What is put to the test: from words and tubes to parts by listed tube, or None where it has to ask.
    """
    got = understood(one.words, tubes_of(one.painter))
    if got is None:
        return "asked"
    return "understood" if one.amounts is not None and same_mixture(got, one.amounts) else "wrong"


def same_mixture(one: Amounts, other: Amounts) -> bool:
    """Tell whether two mixtures hold the same tubes in the same proportions, and the same touches."""
    return one.keys() == other.keys() and all(
        (one[tube] == TOUCH) == (other[tube] == TOUCH) and abs(_share(tube, one) - _share(tube, other)) < _SAME_SHARE
        for tube in one
    )


def _share(tube: str, amounts: Amounts) -> float:
    counted = {name: float(amount) for name, amount in amounts.items() if amount != TOUCH}
    return counted.get(tube, 0.0) / (sum(counted.values()) or 1.0)


def read_by_the_program(words: str, tubes: TubeList) -> Amounts | None:
    """Return parts by listed tube if a palette would learn from this recipe as it stands, else None."""
    if not len(collect([Card("card", build_note([swatch_data(1, 1, (50, 10, 10), recipe=words)]))], tubes).samples):
        return None
    recipe = parse_recipe(words, tubes)
    return None if any(i.tube is None for i in recipe.ingredients) else _amounts(recipe, tubes)


def _amounts(recipe: Recipe, tubes: TubeList) -> Amounts:
    amounts: Amounts = {}
    for ingredient in recipe.ingredients:
        kind = tubes.kind_of(ingredient.tube or "")
        before = amounts.get(kind, 0.0)
        touch = ingredient.parts is Amount.TOUCH
        amounts[kind] = TOUCH if touch else float(ingredient.parts) + (0.0 if before == TOUCH else float(before))
    return amounts


def outputs(note: Note) -> dict[str, list[str]]:
    """Return what each output says of each swatch's recipe; where it holds only running text, all of that text."""
    with tempfile.TemporaryDirectory() as folder, Archive.open(str(Path(folder) / "archive.sqlite")) as archive:
        archive.add_all([(note, None)])
        found = archive.find(Query(limit=None))
        kept = archive.card(1).note
    order = {one.swatch: one for one in found}
    listed = [order[swatch.id] for swatch in note.swatches]
    texts = {
        "terminal": _printed(note_table(note)),
        "terminal, find": _printed(found_table(listed)),
        "page": html.unescape(export_note(note, "html", Path("card.note.json"))),
        "sheet": html.unescape(contact_sheet(listed, "all")),
    }
    return {
        "note": [s.recipe for s in Note.model_validate_json(note.model_dump_json()).swatches],
        "archive": [s.recipe for s in kept.swatches],
        "CSV": _csv_recipes(export_note(note, "csv", Path("card.note.json"))),
        "CGATS": [row["STRING"] for row in parse_cgats(export_note(note, "cgats", Path("card.note.json"))).rows],
        "find, JSON": [one["recipe"] for one in json.loads(found_to_json(listed))],
        "find, CSV": _csv_recipes(found_to_csv(listed)),
        "find, CGATS": [row["STRING"] for row in parse_cgats(found_to_cgats(listed)).rows],
        **{name: [text] * len(note.swatches) for name, text in texts.items()},
    }


def _printed(table: object) -> str:
    console = Console(width=4000, file=io.StringIO(), force_terminal=False)
    console.print(table)
    printed: str = console.file.getvalue()  # type: ignore[attr-defined]
    return printed


def _csv_recipes(text: str) -> list[str]:
    """Return the recipes of a CSV file without the apostrophe that keeps a spreadsheet from reckoning."""
    return [row["recipe"].removeprefix("'") for row in csv.DictReader(io.StringIO(text))]


def kept_word_for_word(recipes: Sequence[str], said: dict[str, list[str]]) -> dict[str, int]:
    """Count for each output in how many recipes no letter is lost or changed; a line break may become a space."""
    return {
        name: sum(
            " ".join(written.split()) in " ".join(told.split()) for written, told in zip(recipes, texts, strict=True)
        )
        for name, texts in said.items()
    }


@dataclass(frozen=True)
class Figures:
    """What the bench counts.

    Attributes
    ----------
    verdicts : list of str
        One for each recipe.
    kept : dict of str to int
        Output -> recipes that it keeps word for word.
    """

    verdicts: list[str]
    kept: dict[str, int]


def measure(recipes: Sequence[Written]) -> Figures:
    """Put the recipes to the program."""
    swatches = [swatch_data(k // 8 + 1, k % 8 + 1, (50, 10, 10), recipe=one.words) for k, one in enumerate(recipes)]
    kept = kept_word_for_word([one.words for one in recipes], outputs(build_note(swatches)))
    return Figures([verdict(one, read_by_the_program) for one in recipes], kept)


def report(recipes: Sequence[Written], figures: Figures) -> str:
    """Write the counts, by whether the recipe is clear, and for each output."""
    lines = [f"{len(recipes)} written recipes"]
    for name, clear in (("clear", True), ("open", False)):
        of = [v for one, v in zip(recipes, figures.verdicts, strict=True) if (one.amounts is not None) is clear]
        count = Counter(of)
        lines.append(f"  {name}: {len(of)}; " + ", ".join(f"{count[v]} {v}" for v in ("understood", "asked", "wrong")))
    lines += [f"  kept word for word, {name}: {count} of {len(recipes)}" for name, count in figures.kept.items()]
    return "\n".join(lines)


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0] if __doc__ else "")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--list", action="store_true", help="name what was asked or wrong")
    options = parser.parse_args()
    recipes = written_recipes(options.seed)
    figures = measure(recipes)
    print(report(recipes, figures))
    for one, how in zip(recipes, figures.verdicts, strict=True):
        if options.list and (how == "wrong" or (how == "asked" and one.amounts is not None)):
            print(f"{how}: {one.words!r} ({one.painter}; {one.way})")


if __name__ == "__main__":
    main()
