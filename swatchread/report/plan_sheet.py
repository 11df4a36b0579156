"""The plan as a sheet for the studio wall: chips to hold paint against, recipes in parts, a value scale.

Self-contained HTML for A4 or Letter, for a browser to show and print; `sheet_pdf` lays the same out as PDF. Every text
that comes from a file is escaped, and the page needs no network and no script.
"""

from __future__ import annotations

from html import escape
from typing import Any, Final

import numpy as np

from swatchread.colour.cielab import luminance_of_value
from swatchread.colour.painter_terms import VALUE_NAMES
from swatchread.colour.screen import hex_colours
from swatchread.errors import UsageError
from swatchread.note.phrases import plain
from swatchread.report.sheet_style import PAPERS, SHEET_STYLE

Facts = dict[str, Any]

SCREEN_MARK, INK_MARK = "†", "‡"
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_TRUST = "The chips are guides, the recipe is the truth: screens and inks differ, and a chip shows no texture or gloss."
_MARKS = (
    (SCREEN_MARK, "stronger in colour than a screen or a printer shows: the paint is more intense than its chip."),
    (INK_MARK, "darker than ink on plain paper: the paint is darker than its printed chip."),
)
ROLES: Final = (("cooler", "Cooler"), ("run", "Run"), ("warmer", "Warmer"))
USUAL_TITLE: Final = "Palette for the sitting"
NONE_RECORDED: Final = "none recorded"


def render_sheet(facts: Facts, title: str, subtitle: str = "", paper: str = "a4") -> str:
    """Write a plan as a printable HTML sheet.

    Parameters
    ----------
    facts : dict
        From `swatchread.palette.plan_answer.plan_facts`.
    title, subtitle : str
        Not trusted.
    paper : str
        ``a4`` or ``letter``.

    Returns
    -------
    str

    Raises
    ------
    UsageError
        If the paper is neither.
    """
    if paper not in PAPERS:
        raise UsageError(f"{plain(paper)} is no paper for the sheet", "", f"Use {' or '.join(PAPERS)}")
    size, width, chip = PAPERS[paper]
    style = SHEET_STYLE.replace("PAPER", size).replace("WIDTH", width).replace("CHIP", chip)
    name = _text(title) or USUAL_TITLE
    heads = "".join(f"<span>{head}</span>" for _, head in ROLES)
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{name}</title>\n<style>{style}</style>\n</head>\n<body>",
        f"<header><h1>{name}</h1>\n<p>{_text(opening(facts, subtitle))}</p></header>",
        _scale(),
        f'<div class="heads"><span>Value</span>{heads}</div>',
        *(_step(step) for step in facts["steps"]),
        _footer(facts),
        "</body>\n</html>\n",
    ]
    return "\n".join(parts)


def opening(facts: Facts, subtitle: str) -> str:
    """Say what stands under the title: what it was made from, and the order of mixing."""
    order = f"Mix from dark to light, 1 to {len(facts['steps'])}; {facts['spacing']:.1f} of a value between steps."
    return " · ".join(part for part in (plain(subtitle), order) if part)


def value_scale() -> list[tuple[int, str, str]]:
    """Return value, name and sRGB code of the nine greys that a mixture is judged against."""
    values = np.arange(1.0, 10.0)
    lightness = 116.0 * np.cbrt(luminance_of_value(values)) - 16.0
    codes, _ = hex_colours(np.stack([lightness, 0 * values, 0 * values], axis=-1))
    return [(int(value), name, code) for value, name, code in zip(values, VALUE_NAMES, codes, strict=True)]


def remarks_on(step: Facts) -> str:
    """Return a step's remarks in one line; what is only an interpolation stands beside its recipe already."""
    return "; ".join(plain(remark) for remark in step["remarks"] if "interpolation" not in remark)


def told_of(option: Facts) -> tuple[str, str]:
    """Return an option's recipe, marked where its chip falls short, and the line below it."""
    mark = "" if option["screen_shows_it"] else SCREEN_MARK
    if option["screen_shows_it"] and not option["ink_shows_it"]:
        mark = INK_MARK
    where = plain(option["where"]) or "interpolation: try it first"
    return (
        f"{plain(option['recipe'])}{mark}",
        f"{option['value']:.1f} · ΔE00 ± {option['uncertainty_de00']:.1f} · {where}",
    )


def closing(facts: Facts) -> tuple[list[str], str]:
    """Return the lines at the foot of the sheet, and the line of care."""
    options = [step[key] for step in facts["steps"] for key, _ in ROLES if step[key]]
    shown = {SCREEN_MARK: all(o["screen_shows_it"] for o in options)}
    shown[INK_MARK] = all(o["ink_shows_it"] or not o["screen_shows_it"] for o in options)
    lines = [_TRUST, *(f"{mark} {words}" for mark, words in _MARKS if not shown[mark])]
    lines += [plain(remark) for remark in facts["remarks"]]
    lines += [plain(facts["left_out_cards"])] if facts["left_out_cards"] else []
    return lines, " ".join(plain(line).rstrip(".") + "." for line in facts["care"])


def _text(text: str) -> str:
    return escape(plain(text))


def _scale() -> str:
    """Draw the nine values in grey, so that a mixture can be judged for value alone."""
    cells = [
        f'<div style="background:{code};color:{"#fff" if value < 5 else "#000"}">{value}<br>{name}</div>'
        for value, name, code in value_scale()
    ]
    return f'<div class="scale">{"".join(cells)}</div>'


def _step(step: Facts) -> str:
    remarks = escape(remarks_on(step))
    head = f"<h2>{step['number']}</h2><p>{step['value']:.1f}<br>{_text(step['value_name'])}</p>"
    return "\n".join(
        [
            f'<section class="step"><div>{head}</div>',
            *(_option(step[key], name) for key, name in ROLES),
            f'<p class="remarks">{remarks}</p>' if remarks else "",
            "</section>",
        ]
    )


def _option(option: Facts | None, role: str) -> str:
    told = f'<span class="role">{role}</span>'  # on paper the column's head says it; to a reader aloud nothing did
    if option is None:
        return f'<figure>{told}<span class="none">{NONE_RECORDED}</span></figure>'
    recipe, line = told_of(option)
    return (
        f'<figure>{told}<span class="chip" style="background:{option["chip"]}"></span><figcaption>'
        f'<span class="recipe">{escape(recipe)}</span><br>{escape(line)}</figcaption></figure>'
    )


def _footer(facts: Facts) -> str:
    lines, care = closing(facts)
    told = "\n".join(f"<p>{escape(line)}</p>" for line in lines)
    return f'<footer>{told}\n<p class="care">{escape(care)}</p></footer>'
