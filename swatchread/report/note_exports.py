"""A note in every format that it is exported to."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from swatchread.note.model import Note
from swatchread.report.cgats import note_to_cgats
from swatchread.report.note_csv import note_to_csv
from swatchread.report.note_page import render_page
from swatchread.report.value_map import value_map_svg

SUFFIXES: Final = {"csv": ".csv", "cgats": ".cgats.txt", "html": ".html", "map": ".map.svg"}
"""Format -> ending of the name of a file that stands beside the note ``STEM.json``: ``STEM.csv`` and so on."""


def export_note(note: Note, kind: str, note_file: Path) -> str:
    """Write a note in another format.

    Parameters
    ----------
    note : Note
    kind : str
        A key of `SUFFIXES`.
    note_file : pathlib.Path
        Where the note lies; a page shows the pictures that lie beside it.

    Returns
    -------
    str
    """
    if kind == "html":
        return render_page(note, note_file)
    return {"csv": note_to_csv, "cgats": note_to_cgats, "map": value_map_svg}[kind](note)
