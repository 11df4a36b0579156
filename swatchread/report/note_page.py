"""A note as one HTML page: the card's swatches in their places, the map, the table, the warnings, the facts."""

from __future__ import annotations

from pathlib import Path

from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note
from swatchread.note.phrases import flag_words, fused_from, ground_words, has_recipe, heading, minus, plain, relative
from swatchread.report.pages import crop_address, grid_lines, markup, render
from swatchread.report.value_map import value_map_svg, value_uncertainty, warmth_uncertainty


def render_page(note: Note, folder: Path | None = None) -> str:
    """Write a note as a self-contained HTML page.

    Parameters
    ----------
    note : Note
    folder : pathlib.Path, optional
        Where the crops of handwriting lie that the note names; without it they are left out.

    Returns
    -------
    str
        HTML, to be written as UTF-8.
    """
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
        about=_about(note),
        warnings=[f"{plain(w.message)}. {plain(w.remedy)}." for w in note.warnings],
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
        "Fused from": fused_from(note),
        "Taken": (photo.taken or "").replace("T", " "),
        "Camera": photo.camera or "",
        "Chart": f"{chart.name}, {chart.patches_used} patches used" + (f", left out: {left_out}" if left_out else ""),
        "Chart after correction": f"mean error ΔE00 {fit.mean_de00:.1f}, the largest {fit.max_de00:.1f}; "
        f"{fit.cross_validated_de00:.1f} when each patch is predicted from the others",
        "Ground": f"value {ground.value:.1f}, L* a* b* "
        + " / ".join(minus(x) for x in ground.lab)
        + (f"; {words}" if (words := ground_words(ground)) else ""),
        "Read": f"{note.made} by {note.tool.name} {note.tool.version}",
        "Screen": "Chips show sRGB colours on a neutral ground of L* 59; a screen that is not calibrated "
        "shows others. The numbers are the measurement.",
    }
