"""The page for filling a note in: the swatch at hand large, the list of all beside it."""

from __future__ import annotations

from html import escape
from importlib.resources import files

from swatchread.colour.screen import hex_colours
from swatchread.note.model import Note, Swatch
from swatchread.note.phrases import CARE, heading, plain
from swatchread.page.note_keeper import CARD_FIELDS, MAX_LETTERS
from swatchread.page.understood import Understood, tell_recipe
from swatchread.recipes.tubes import TubeList

FILES = {"fill.css": "text/css", "fill.js": "text/javascript"}
"""Files of the page -> media type."""

# Colours as attributes of a drawing: the page's policy forbids styles written into it.
_CHIP = 'viewBox="0 0 1 1" preserveAspectRatio="none"'

_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title} – recipes</title>
<link rel="stylesheet" href="fill.css">
<script src="fill.js" defer></script>
</head>
<body>
<form id="words" autocomplete="off" novalidate>
<aside aria-label="The swatch at hand">
<svg id="large" role="img" aria-label="The paint" {chip}><rect width="1" height="1" fill="none"/></svg>
<p id="which"></p>
<img id="crop" alt="" hidden>
<p id="nocrop">No picture of the handwriting</p>
</aside>
<main>
<h1>{title}</h1>
<p id="keys"><kbd>Enter</kbd> next · <kbd>↑</kbd> <kbd>↓</kbd> between swatches ·
<kbd>Ctrl</kbd>+<kbd>S</kbd> save · <kbd>Ctrl</kbd>+<kbd>Enter</kbd> save and close</p>
<ol id="swatches">
{rows}</ol>
<fieldset>
<legend>The card</legend>
{card}</fieldset>
<p class="care">{care}</p>
</main>
<footer>
<p id="state" role="status" aria-live="polite">Nothing changed</p>
<button type="button" id="save">Save</button>
<button type="submit" id="close">Save and close</button>
</footer>
</form>
</body>
</html>
"""


def page_file(name: str) -> bytes:
    """Return a file that belongs to the page; `name` is a key of `FILES`."""
    return (files("swatchread.page") / name).read_bytes()


def fill_page(note: Note, tubes: TubeList, crops: frozenset[str]) -> str:
    """Write the page.

    Parameters
    ----------
    note : Note
    tubes : TubeList
    crops : frozenset of str
        Ids of the swatches whose handwriting can be shown.

    Returns
    -------
    str
        HTML; it asks for ``fill.css``, ``fill.js`` and ``writing/ID`` beside its own address.
    """
    codes, _ = hex_colours([swatch.lab for swatch in note.swatches])
    rows = [
        _row(swatch, code, tell_recipe(swatch.recipe, tubes), swatch.id in crops)
        for swatch, code in zip(note.swatches, codes, strict=True)
    ]
    card = [_card_field(name, called, getattr(note.card_info, name)) for name, called in CARD_FIELDS.items()]
    return _PAGE.format(
        title=escape(heading(note)), chip=_CHIP, rows="".join(rows), card="".join(card), care=escape(CARE)
    )


def _row(swatch: Swatch, code: str, told: Understood, crop: bool) -> str:
    name = f"value {swatch.value:.1f} {plain(swatch.value_name)}, {plain(swatch.munsell)}"
    source = f' data-crop="writing/{swatch.id}"' if crop else ""
    lines = "".join(f"<li>{escape(plain(line))}</li>" for line in (*told.doubts, *told.cautions))
    return f"""<li data-colour="{code}" data-name="{escape(name)}"{source}>
<svg class="chip" aria-hidden="true" {_CHIP}><rect width="1" height="1" fill="{code}"/></svg>
<label for="{swatch.id}"><b>{swatch.id}</b> {escape(name)}</label>
<input id="{swatch.id}" data-recipe="{swatch.id}" value="{escape(plain(swatch.recipe))}" maxlength="{MAX_LETTERS}"
 spellcheck="false" aria-describedby="{swatch.id}-told">
<div class="told" id="{swatch.id}-told" aria-live="polite"><p>{escape(plain(told.plain))}</p><ul>{lines}</ul></div>
</li>
"""


def _card_field(name: str, called: str, text: str) -> str:
    return (
        f'<label for="card-{name}">{escape(called)}</label>'
        f'<input id="card-{name}" data-card="{name}" value="{escape(plain(text))}" maxlength="{MAX_LETTERS}">\n'
    )
