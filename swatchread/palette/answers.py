"""The three questions and their answers as plain facts: the same for the table and for JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from swatchread.archive.colour_reference import Wanted
from swatchread.colour.cielab import Floats, delta_e_2000, value_of_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import value_name
from swatchread.note.phrases import CARE
from swatchread.palette.fitted_palette import FittedPalette
from swatchread.palette.nearest_recorded import Recorded, nearest_by_colour, nearest_by_recipe
from swatchread.palette.nudge import Nudge, nudge
from swatchread.palette.query import Mixture, parse_query, tube_meant
from swatchread.palette.recipe_search import Proposal, match
from swatchread.palette.wording import VISIBLE, difference_words, nudge_words, trust_words
from swatchread.recipes.recipe import format_recipe
from swatchread.recipes.tubes import TubeList

Facts = dict[str, Any]

BY_MODEL, BY_RECORD = "model", "nearest recorded"


@dataclass(frozen=True, eq=False)
class Desk:
    """What a question is answered with: the studio, and the list of tubes that words are understood by."""

    studio: FittedPalette
    tubes: TubeList


def predict_facts(desk: Desk, text: str) -> Facts:
    """Say what a recipe gives.

    Raises
    ------
    UsageError
        If the recipe cannot be understood, or names a tube that is on no card.
    """
    studio = desk.studio
    mixture = parse_query(text, studio, desk.tubes)
    near = nearest_by_recipe(studio.collected, mixture.amounts[0], count=3)
    lacking = _lacking(studio, mixture.recipe.tubes)
    facts: Facts = {"recipe": format_recipe(mixture.recipe), "readings": dict(mixture.readings)}
    if studio.model is not None and not lacking:
        facts |= {"method": BY_MODEL, **_predicted(studio, mixture)}
    else:
        facts |= {"method": BY_RECORD}
    facts["nearest"] = [_recorded(r, "share_difference") for r in near]
    return facts | _common(desk, lacking, mixture.recipe.tubes)


def match_facts(desk: Desk, target: Wanted, words: list[str], *, count: int, most_tubes: int) -> Facts:
    """Say which recipes give a colour.

    Raises
    ------
    UsageError
        If a tube asked for is on no card.
    """
    studio = desk.studio
    tubes = tubes_named(desk, words)
    allowed = [name for name in tubes if name in studio.usable]
    lacking = _lacking(studio, tubes) if words else ()
    facts: Facts = {"target": _wanted(target), "tubes": list(tubes)}
    found: list[Proposal] = []
    if studio.model is not None and allowed:
        found = match(studio.model, target.lab, tuple(allowed), count=count, most_tubes=most_tubes)
    facts |= {"method": BY_MODEL if found else BY_RECORD, "recipes": [_proposal(p) for p in found]}
    near = nearest_by_colour(studio.collected, target.lab, count=count, tubes=tubes if words else None)
    facts["nearest"] = [_recorded(r, "de00") for r in near]
    used = tuple(dict.fromkeys(name for p in found for name in p.recipe.tubes)) or tubes
    return facts | _common(desk, lacking, used)


def nudge_facts(desk: Desk, start: Wanted, target: Wanted, words: list[str]) -> Facts:
    """Say what to add to one colour to come to another.

    Raises
    ------
    UsageError
        If a tube asked for is on no card.
    """
    studio = desk.studio
    tubes = tubes_named(desk, words)
    allowed = tuple(name for name in tubes if name in studio.usable)
    uncertainty = float(np.hypot(start.uncertainty_de00, target.uncertainty_de00))
    before = float(delta_e_2000(start.lab, target.lab))
    facts: Facts = {"from": _wanted(start), "to": _wanted(target), "de00": _short(before)}
    if studio.model is not None and allowed:
        found = nudge(studio, start.lab, target.lab, allowed, _known(desk, start), start.uncertainty_de00)
        facts |= {"method": BY_MODEL, **_nudged(found, uncertainty)}
    else:
        told = difference_words(start.lab, target.lab, max(uncertainty, VISIBLE))
        facts |= {"method": BY_RECORD, "words": told or "no clear difference", "additions": []}
    facts["nearest"] = [_recorded(r, "de00") for r in nearest_by_colour(studio.collected, target.lab, count=3)]
    used = tuple(a["tube"] for a in facts["additions"])
    return facts | _common(desk, _lacking(studio, tubes) if words else (), used)


def tubes_named(desk: Desk, words: list[str]) -> tuple[str, ...]:
    """Return the tubes that some words name; without words, all that the cards hold."""
    if not words:
        return desk.studio.collected.samples.tubes
    return tuple(dict.fromkeys(tube_meant(word, desk.studio, desk.tubes) for word in words))


def _known(desk: Desk, start: Wanted) -> Mixture | None:
    """Return what a mixture is made of, if its recipe can be understood with the cards at hand."""
    from swatchread.errors import UsageError

    if not start.recipe.strip():
        return None
    try:
        return parse_query(start.recipe, desk.studio, desk.tubes)
    except UsageError:
        return None


def _predicted(studio: FittedPalette, mixture: Mixture) -> Facts:
    if studio.model is None:
        return {}
    predicted = studio.model.predict(mixture.amounts, mixture.touches)
    sd = np.sqrt(np.diagonal(predicted.covariance[0]))
    uncertainty = {**dict(zip("Lab", map(_short, sd), strict=True)), "de00": _short(predicted.de00[0])}
    return {**_colour(predicted.lab[0]), "uncertainty": uncertainty}


def _proposal(proposal: Proposal) -> Facts:
    return {
        "recipe": format_recipe(proposal.recipe),
        "parts": {i.name: str(i.parts) for i in proposal.recipe.ingredients},
        **_colour(proposal.lab),
        "de00": _short(proposal.de00),
        "uncertainty_de00": _short(proposal.uncertainty_de00),
        "expected_de00": _short(proposal.expected_de00),
    }


def _nudged(found: Nudge, uncertainty: float) -> Facts:
    leave = found.de00 <= max(uncertainty, VISIBLE)
    additions = [
        {
            "tube": a.tube,
            "parts": a.parts or "dot",
            "of_mixture": a.of_mixture,
            **_colour(a.lab),
            "de00": _short(a.de00),
        }
        for a in found.additions
    ]
    return {
        "words": nudge_words(found, uncertainty),
        "additions": [] if leave else additions,
        "uncertainty_de00": _short(found.uncertainty_de00),
    }


def _recorded(recorded: Recorded, far: str) -> Facts:
    return {
        "swatch": recorded.name,
        "recipe": recorded.recipe,
        **_colour(recorded.lab),
        far: _short(recorded.far),
    }


def _wanted(wanted: Wanted) -> Facts:
    told = {"name": wanted.name, **_colour(wanted.lab), "uncertainty_de00": _short(wanted.uncertainty_de00)}
    return told | ({"recipe": wanted.recipe} if wanted.recipe else {})


def _colour(lab: Floats) -> Facts:
    value = float(value_of_lab(lab))
    notation = munsell_notation(lab)[0]
    return {
        "lab": [_short(x) for x in lab],
        "munsell": notation,
        "value": _short(value),
        "value_name": value_name(value),
    }


def _lacking(studio: FittedPalette, tubes: tuple[str, ...]) -> tuple[str, ...]:
    """Say of each tube that is too little known what to paint."""
    facts = {fact.name: fact for fact in studio.tubes}
    return tuple(
        f"{name}: only {facts[name].swatches} recorded; {facts[name].missing}" for name in tubes if facts[name].missing
    )


def _common(desk: Desk, lacking: tuple[str, ...], used: tuple[str, ...]) -> Facts:
    studio = desk.studio
    held = studio.held
    trust = None
    if held is not None and studio.nearest_de00 is not None:
        trust = {
            "swatches": len(held.de00),
            "cards": len(set(studio.collected.samples.painting.tolist())),
            "median_de00": _short(held.median),
            "two_thirds_de00": _short(np.quantile(held.de00, 0.68)),
            "nine_tenths_de00": _short(np.quantile(held.de00, 0.9)),
            "nearest_recorded_median_de00": _short(studio.nearest_de00),
            "words": trust_words(studio),
        }
    return {
        "left_out_cards": trust,
        "missing": [*studio.missing, *lacking],
        "known_tubes": [
            {"tube": t.name, "swatches": t.swatches, "constants": 2 if t.two_constant else 1} for t in studio.tubes
        ],
        "conditions": {"illuminant": "D50", "observer": "2 degree"},
        "care": [CARE, *desk.tubes.cautions(used)],
    }


def _short(number: Any) -> float:
    return round(float(number), 2) + 0.0
