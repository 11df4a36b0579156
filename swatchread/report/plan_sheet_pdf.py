"""The studio sheet as PDF: what `sheet` writes for a browser, laid out here in millimetres."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from swatchread.note.phrases import plain
from swatchread.report.pdf import Pages, Type, colour_of, paper_size
from swatchread.report.plan_sheet import (
    NONE_RECORDED,
    ROLES,
    USUAL_TITLE,
    closing,
    opening,
    remarks_on,
    told_of,
    value_scale,
)
from swatchread.report.value_map import GROUND

Facts = dict[str, Any]

_MARGIN = (11.0, 9.0)
_FIRST, _GAP = 15.0, 4.0
_CHIP_HEIGHT: Final = {"a4": 16.0, "letter": 13.5}
"""Lets six steps stand on one sheet."""

_TITLE, _BODY = Type(17, bold=True, leading=1.15), Type(9.5)
_SCALE, _HEAD, _NUMBER = Type(7, bold=True, leading=1.3), Type(10, bold=True), Type(15, bold=True, leading=1.0)
_VALUE, _RECIPE, _LINE, _FOOT = (
    Type(8.5),
    Type(8, bold=True, leading=1.18, most=24),
    Type(8, leading=1.18, most=12),
    Type(7.5),
)
_CARE = Type(7.5, bold=True)


def sheet_pdf(facts: Facts, title: str, subtitle: str = "", paper: str = "a4") -> bytes:
    """Lay a plan out as a PDF that prints without a browser.

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
    bytes

    Raises
    ------
    UsageError
        If the paper is neither.
    """
    name = plain(title) or USUAL_TITLE
    pages = Pages(paper_size(paper), _MARGIN, name, _texts(facts, subtitle), colour_of(GROUND))
    pages.flow(name, _TITLE, after=0.5)
    pages.flow(opening(facts, subtitle), _BODY, after=2.5)
    _scale(pages)
    _heads(pages)
    for step in facts["steps"]:
        _step(pages, step, _CHIP_HEIGHT[paper])
    lines, care = closing(facts)
    pages.y += 2.0
    for line in lines:
        pages.flow(line, _FOOT, after=0.6)
    pages.flow(care, _CARE)
    return pages.data()


def _texts(facts: Facts, subtitle: str) -> Iterator[str]:
    """Give every text of the sheet, so that fonts can be found for their letters."""
    yield opening(facts, subtitle)
    lines, care = closing(facts)
    yield from (*lines, care)
    for step in facts["steps"]:
        yield from (remarks_on(step), step["value_name"])
        for key, _ in ROLES:
            yield from told_of(step[key]) if step[key] else ()


def _column(pages: Pages, number: int) -> tuple[float, float]:
    """Return left edge and width of one of the three columns."""
    width = (pages.width - _FIRST - 3 * _GAP) / 3
    return pages.left + _FIRST + _GAP + number * (width + _GAP), width


def _scale(pages: Pages) -> None:
    cell, height = pages.width / 9, 9.0
    for number, (value, name, code) in enumerate(value_scale()):
        x = pages.left + number * cell
        ink = (255, 255, 255) if value < 5 else (0, 0, 0)
        pages.fill((x, pages.y), (cell, height), colour_of(code))
        pages.write(str(value), (x + 1.2, pages.y + 0.9), cell - 1.4, _SCALE, ink)
        pages.write(name, (x + 1.2, pages.y + 0.9 + _SCALE.line), cell - 1.4, _SCALE, ink)
    pages.y += height + 3.0


def _heads(pages: Pages) -> None:
    pages.write("Value", (pages.left, pages.y), _FIRST, _HEAD)
    for number, (_, head) in enumerate(ROLES):
        x, width = _column(pages, number)
        pages.write(head, (x, pages.y), width, _HEAD)
    pages.y += _HEAD.line + 1.2
    pages.rule(pages.y, 0.5)


def _step(pages: Pages, step: Facts, chip: float) -> None:
    _, width = _column(pages, 0)
    remarks = remarks_on(step)
    wide = pages.width - _FIRST - _GAP
    captions = max(_caption_height(pages, step[key], width) for key, _ in ROLES)
    below = 0.6 + pages.height(remarks, wide, _LINE) if remarks else 0.0
    height = 1.8 + chip + 0.6 + captions + below + 1.4
    if pages.make_room(height):
        _heads(pages)
    top = pages.y + 1.8
    pages.write(str(step["number"]), (pages.left, top), _FIRST, _NUMBER)
    down = top + _NUMBER.line + 1.0
    down += pages.write(f"{step['value']:.1f}", (pages.left, down), _FIRST, _VALUE)
    pages.write(step["value_name"], (pages.left, down), _FIRST + _GAP, _VALUE)
    for number, (key, _) in enumerate(ROLES):
        _option(pages, step[key], (_column(pages, number)[0], top), (width, chip))
    if remarks:
        pages.write(remarks, (_column(pages, 0)[0], top + chip + 0.6 + captions + 0.6), wide, _LINE)
    pages.y += height
    pages.rule(pages.y, 0.2)


def _caption_height(pages: Pages, option: Facts | None, width: float) -> float:
    if option is None:
        return 0.0
    recipe, line = told_of(option)
    return pages.height(recipe, width, _RECIPE) + pages.height(line, width, _LINE)


def _option(pages: Pages, option: Facts | None, place: tuple[float, float], size: tuple[float, float]) -> None:
    (x, y), (width, chip) = place, size
    if option is None:
        pages.dash(place, size, 0.3)
        pages.write(NONE_RECORDED, (x + 2, y + 2), width - 4, _VALUE)
        return
    pages.chip(place, size, colour_of(option["chip"]))
    recipe, line = told_of(option)
    down = y + chip + 0.6
    down += pages.write(recipe, (x, down), width, _RECIPE)
    pages.write(line, (x, down), width, _LINE)
