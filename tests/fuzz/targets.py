"""What each kind of input is given to."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

from swatchread.errors import SwatchreadError


def photo(suffix):
    """Decode a photo from a file."""

    def run(data):
        from swatchread.photo.load import load_photo

        path = Path(f"photo.{suffix}")
        path.write_bytes(data)
        loaded = load_photo(path)
        assert loaded.pixels.ndim == 3
        assert loaded.small.shape[2] == 3

    return run


def icc(data):
    """Understand a colour profile."""
    from swatchread.photo.icc_profile import UnreadableProfileError, encoding_of_profile

    try:
        encoding_of_profile(data, 256)
    except UnreadableProfileError as error:
        raise SwatchreadError(str(error)) from error


def note(data):
    """Load a note, and where it holds together make everything that is made of one."""
    from swatchread.note.model import parse_note
    from swatchread.report.cgats import note_to_cgats, parse_cgats
    from swatchread.report.note_csv import note_to_csv
    from swatchread.report.note_page import render_page
    from swatchread.report.value_map import value_map_svg

    loaded = parse_note(data)
    loaded.save(Path("again.note.json"))
    assert parse_note(Path("again.note.json").read_bytes()) == loaded
    note_to_csv(loaded).encode()
    parse_cgats(note_to_cgats(loaded))
    for page in (render_page(loaded), value_map_svg(loaded)):
        assert "<script>alert" not in page
        page.encode()
    _archive().add(loaded)


@cache
def _archive():
    from swatchread.archive.store import Archive

    return Archive.open(":memory:")


def chart(data):
    """Understand a chart definition."""
    import numpy as np

    from swatchread.chart.definition import definition_json, parse_chart

    loaded = parse_chart(data, "a file")
    assert np.isfinite(loaded.xyz).all()
    assert np.isfinite(loaded.corners).all()
    parse_chart(definition_json(loaded), "the same")


def tubes(data):
    """Understand a list of tubes."""
    from swatchread.recipes.tubes import load_tubes

    path = Path("tubes.json")
    path.write_bytes(data)
    load_tubes(path).match("cad red")


def table(data):
    """Take words from a CSV file."""
    from swatchread.page.word_table import read_words

    path = Path("words.csv")
    path.write_bytes(data)
    read_words(path)


def cgats(data):
    """Read a CGATS text."""
    from swatchread.report.cgats import parse_cgats

    parse_cgats(data.decode("utf-8", "replace"))


@cache
def _known_tubes():
    from swatchread.recipes.tubes import load_tubes

    return load_tubes()


def recipe(data):
    """Understand a recipe."""
    from swatchread.recipes.recipe import format_recipe, parse_recipe

    format_recipe(parse_recipe(data.decode("utf-8", "replace"), _known_tubes()))


def address(data):
    """Open an archive's address, without going out to any server."""
    from swatchread.archive.database import _url, open_engine, shown

    text = os.fsdecode(data)
    url = _url(text)
    shown(url)
    where = str(url.database or "")
    if url.get_backend_name() == "sqlite" and (where.startswith(("/", "~")) or ".." in where):
        return  # never outside this folder
    open_engine(text).dispose()


def question(data):
    """Ask the archive in every way in which a text can be a question."""
    from swatchread.archive.colour_reference import read_near
    from swatchread.archive.conditions import Query
    from swatchread.archive.question_words import day_range, munsell_columns, munsell_range, parse_day_range
    from swatchread.cli.search_options import _range

    text = os.fsdecode(data)
    day_range(text)
    munsell_columns(text)
    answered = 0
    asked = (
        lambda: {"near": read_near(text, _archive())},
        lambda: {"value": _range(text)},
        lambda: {"munsell": munsell_range(text)},
        lambda: {"days": parse_day_range(text)},
        lambda: {"text": (text,)},
        lambda: {"with_tubes": (text,)},
        lambda: {"sitter": text, "medium": text},
    )
    for words in asked:
        try:
            _archive().find(Query(**words()))
            answered += 1
        except SwatchreadError:
            pass
    if not answered:
        raise SwatchreadError("no answer")


TARGETS = {
    **{kind: photo(kind) for kind in ("png", "tiff", "heic", "webp", "dng")},
    "jpeg": photo("jpg"),
    "icc": icc,
    "note": note,
    "chart": chart,
    "tubes": tubes,
    "table": table,
    "cgats": cgats,
    "recipe": recipe,
    "address": address,
    "question": question,
}
