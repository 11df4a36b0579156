"""A note as one HTML page: the card's swatches in their places, the map, the table, the warnings, the facts."""

from __future__ import annotations

from pathlib import Path

from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note
from swatchread.note.phrases import (
    flag_words,
    fused_from,
    ground_words,
    has_recipe,
    heading,
    know_before_mixing,
    minus,
    plain,
    relative,
)
from swatchread.note.picture_names import marked_name, title_name
from swatchread.report.pages import crop_address, grid_lines, halved_address, markup, render
from swatchread.report.value_map import value_map_svg, value_uncertainty, warmth_uncertainty

_MARKED_SIDE = 1000
"""Long side of the marked photo on the page at least, pixels: its ids are read on a phone that is turned (choice)."""


def render_page(note: Note, note_file: Path | None = None) -> str:
    """Write a note as a self-contained HTML page.

    Parameters
    ----------
    note : Note
    note_file : pathlib.Path, optional
        Where the note lies, with the pictures that its reading wrote beside it; without it they are left out.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
    folder = note_file.parent if note_file else None
    stem = note_file.name.removesuffix(".json").removesuffix(".note") if note_file else ""
    rows, columns = grid_lines([s.row for s in note.swatches]), grid_lines([s.column for s in note.swatches])
    colours, on_screen = hex_colours([s.lab for s in note.swatches])
    items = [
        {
            "swatch": swatch,
            "row": rows[swatch.row],
            "column": columns[swatch.column],
            "colour": colour,
            "on_screen": inside,
            "u_value": value_uncertainty(swatch),
            "u_warmth": warmth_uncertainty(swatch),
            "relative": relative(swatch.temperature),
            "picture": crop_address(folder, swatch.writing) if folder else None,
            "remarks": "; ".join(flag_words(swatch)),
        }
        for swatch, colour, inside in zip(note.swatches, colours, on_screen, strict=True)
    ]
    return render(
        "report/templates/note.html",
        note=note,
        title=heading(note),
        title_picture=crop_address(folder, title_name(stem)) if folder else None,
        marked=halved_address(folder, marked_name(stem), _MARKED_SIDE) if folder else None,
        about=_about(note),
        warnings=know_before_mixing(note),
        columns=max(columns.values()),
        items=items,
        map=markup(value_map_svg(note)),
        facts=_facts(note),
        has_recipe=has_recipe(note),
    )


def _about(note: Note) -> str:
    info = note.card_info
    sitter = f"Sitter {info.sitter}" if plain(info.sitter) else ""
    return " · ".join(plain(part) for part in (sitter, info.date, info.medium, info.support) if plain(part))


def _facts(note: Note) -> dict[str, str]:
    photo, chart, ground = note.photo, note.chart, note.card.ground
    left_out = ", ".join(plain(name) for name in chart.patches_left_out)
    fit = chart.fit
    return {
        "Photo": f"{photo.file}, {photo.width} × {photo.height} pixels, {photo.profile}",
        "Made from": fused_from(note),
        "Taken": (photo.taken or "").replace("T", " "),
        "Camera": photo.camera or "",
        "Chart": f"{chart.name}, {chart.patches_used} patches used" + (f", left out: {left_out}" if left_out else ""),
        "The chart's colours came out": f"ΔE00 {fit.mean_de00:.1f} off on average and {fit.max_de00:.1f} at most; "
        f"patches that were left out to test it {fit.cross_validated_de00:.1f}",
        "Ground": f"value {ground.value:.1f}, L* a* b* "
        + " / ".join(minus(x) for x in ground.lab)
        + (f"; {words}" if (words := ground_words(ground)) else ""),
        "Read": f"{note.made} by {note.tool.name} {note.tool.version}",
        "Screen": "Chips show sRGB colours on a neutral ground of L* 62; a screen that is not calibrated "
        "shows others. The numbers are the measurement.",
    }
