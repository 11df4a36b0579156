"""The plan as a sheet for the studio wall: chips to hold paint against, recipes in parts, a value scale.

Self-contained HTML for A4 or Letter; a browser prints it, or saves it as PDF. Every text that comes from a file is
escaped, and the page needs no network and no script.
"""

from __future__ import annotations

from html import escape
from typing import Any

import numpy as np

from swatchread.colour import luminance_of_value
from swatchread.errors import UsageError
from swatchread.pictures.sheet_style import PAPERS, SHEET_STYLE
from swatchread.screen import hex_colours
from swatchread.words import ROSS_NAMES, plain

Facts = dict[str, Any]

SCREEN_MARK, INK_MARK = "†", "‡"
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
_TRUST = "The chips are guides, the recipe is the truth: screens and inks differ, and a chip shows no texture or gloss."
_MARKS = (
    (SCREEN_MARK, "stronger in colour than a screen or a printer shows: the paint is more intense than its chip."),
    (INK_MARK, "darker than ink on plain paper: the paint is darker than its printed chip."),
)
_ROLES = (("cooler", "Cooler"), ("run", "Run"), ("warmer", "Warmer"))


def render_sheet(facts: Facts, title: str, subtitle: str = "", paper: str = "a4") -> str:
    """Write a plan as a printable HTML sheet.

    Parameters
    ----------
    facts : dict
        From `swatchread.plan.facts.plan_facts`.
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
    name = _text(title) or "Palette for the sitting"
    order = f"Mix from dark to light, 1 to {len(facts['steps'])}; {facts['spacing']:.1f} of a value between steps."
    heads = "".join(f"<span>{head}</span>" for _, head in _ROLES)
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{name}</title>\n<style>{style}</style>\n</head>\n<body>",
        f"<header><h1>{name}</h1>\n<p>{_text(subtitle)}{' · ' if plain(subtitle) else ''}{order}</p></header>",
        _scale(),
        f'<div class="heads"><span>Value</span>{heads}</div>',
        *(_step(step) for step in facts["steps"]),
        _footer(facts),
        "</body>\n</html>\n",
    ]
    return "\n".join(parts)


def _text(text: str) -> str:
    return escape(plain(text))


def _scale() -> str:
    """Draw the nine values in grey, so that a mixture can be judged for value alone."""
    values = np.arange(1.0, 10.0)
    lightness = 116.0 * np.cbrt(luminance_of_value(values)) - 16.0
    codes, _ = hex_colours(np.stack([lightness, 0 * values, 0 * values], axis=-1))
    cells = [
        f'<div style="background:{code};color:{"#fff" if value < 5 else "#000"}">{value:.0f}<br>{name}</div>'
        for value, code, name in zip(values, codes, ROSS_NAMES, strict=True)
    ]
    return f'<div class="scale">{"".join(cells)}</div>'


def _step(step: Facts) -> str:
    # What is only an interpolation stands beside its recipe already.
    remarks = "; ".join(_text(remark) for remark in step["remarks"] if "interpolation" not in remark)
    head = f"<h2>{step['number']}</h2><p>{step['value']:.1f}<br>{_text(step['value_name'])}</p>"
    return "\n".join(
        [
            f'<section class="step"><div>{head}</div>',
            *(_option(step[key]) for key, _ in _ROLES),
            f'<p class="remarks">{remarks}</p>' if remarks else "",
            "</section>",
        ]
    )


def _option(option: Facts | None) -> str:
    if option is None:
        return '<figure><span class="none">none recorded</span></figure>'
    mark = "" if option["screen_shows_it"] else SCREEN_MARK
    if option["screen_shows_it"] and not option["ink_shows_it"]:
        mark = INK_MARK
    where = _text(option["where"]) or "interpolation: try it first"
    return (
        f'<figure><span class="chip" style="background:{option["chip"]}"></span><figcaption>'
        f'<span class="recipe">{_text(option["recipe"])}{mark}</span><br>{option["value"]:.1f} · '
        f"ΔE00 ± {option['uncertainty_de00']:.1f} · {where}</figcaption></figure>"
    )


def _footer(facts: Facts) -> str:
    options = [step[key] for step in facts["steps"] for key, _ in _ROLES if step[key]]
    shown = {SCREEN_MARK: all(o["screen_shows_it"] for o in options)}
    shown[INK_MARK] = all(o["ink_shows_it"] or not o["screen_shows_it"] for o in options)
    lines = [_TRUST, *(f"{mark} {words}" for mark, words in _MARKS if not shown[mark])]
    lines += [plain(remark) for remark in facts["remarks"]]
    lines += [facts["left_out_cards"]] if facts["left_out_cards"] else []
    told = "\n".join(f"<p>{escape(line)}</p>" for line in lines)
    care = " ".join(_text(line).rstrip(".") + "." for line in facts["care"])
    return f'<footer>{told}\n<p class="care">{care}</p></footer>'
