"""Ordinary photos, and the same photos with one ordinary fault each."""

import zlib
from dataclasses import replace

import numpy as np

from .files import damaged
from .layout import make_plan
from .sampling import FULL_SIZE, easy_spec
from .shade import frame_mm
from .spec import TABLES

DAYLIGHT = ("D50", "D55", "D65")
FLUORESCENT = ("FL2", "FL11", "TL84")
LED = ("LED-B1", "LED-B3", "LED-B5", "LED-V1")


def _pick(rng, choices, weights=None):
    return choices[rng.choice(len(choices), p=weights)]


def ordinary_spec(seed, size=FULL_SIZE):
    """Draw an upright card in any usual light; under it and the chart lies one sheet, the table, or two surfaces."""
    rng = np.random.default_rng([seed, 1006])
    kinds = (_pick(rng, DAYLIGHT), "A", _pick(rng, FLUORESCENT), _pick(rng, LED))
    return replace(
        easy_spec(seed, size),
        light=_pick(rng, kinds, [0.4, 0.15, 0.15, 0.3]),
        under=_pick(rng, ("sheet", "table", "apart"), [0.5, 0.35, 0.15]),
        sheet=_pick(rng, ("white", "grey", "buff", "black"), [0.25, 0.35, 0.25, 0.15]),
        table=_pick(rng, (*TABLES, "even")),
        palette=_pick(rng, ("flesh-and-earth", "with-saturated-tubes", "pigments"), [0.35, 0.15, 0.5]),
    )


def _shade(what):
    """Return a fault that puts card or chart into 0.85, 0.7 or 0.5 of the light."""

    def spoil(spec, rng):
        return replace(
            spec,
            shadow=what,
            shadow_depth=_pick(rng, (0.15, 0.3, 0.5)),
            shadow_edge=_pick(rng, ("straight", "curved", "band")),
            shadow_width=_pick(rng, (0.01, 0.03, 0.08)),
        )

    return spoil


def _tinted_shade(spec, rng):
    """Shade card or chart from the main light, so that the sky or the walls fill in with another colour."""
    fill = ("D75", "A") if spec.light in DAYLIGHT else ("D65", "LED-B3")
    return replace(
        _shade(_pick(rng, ("whole-card", "whole-chart")))(spec, rng),
        second_light=_pick(rng, fill),
        second_share=rng.uniform(0.15, 0.5),
        second_where="shadow",
    )


def _local_tone(spec, rng):
    """Map the tones by place, as phones do, which put the contrast back with their curve; some say so in the file."""
    return replace(
        spec,
        local_tone_kind=_pick(rng, ("equalised", "bilateral", "pyramid")),
        local_tone=rng.uniform(0.15, 0.45),
        tone="phone-contrast",
        custom_rendered=_pick(rng, (0, 2, 3), [0.7, 0.15, 0.15]),
    )


def _cut(spec, rng):
    """Leave the first or last row or column of the card outside the frame, wholly or nearly, but never of the chart."""
    cut = float(_pick(rng, (0.6, 1.0, 1.0, 1.3)))
    sides = {"top": spec.rows, "bottom": spec.rows, "left": spec.columns, "right": spec.columns}
    for side in rng.permutation([side for side, lines in sides.items() if lines > 1]).tolist():
        made = replace(spec, card_cut=cut, card_cut_side=side)
        plan = make_plan(made)
        frame = plan.view.project(frame_mm(plan))
        if (frame >= 0).all() and (frame <= np.asarray(plan.view.size) - 1).all():
            return made
    raise ValueError("no side of this card can leave the frame alone")


def _chart(make):
    """Return a fault that lays a chart there which is not as published."""

    def spoil(spec, rng):
        return replace(spec, chart_make=make, chart_off=rng.uniform(3.5, 5.5))

    return spoil


def _overlay(spec, rng):
    return replace(
        spec,
        overlay=_pick(rng, ("icon", "text")),
        overlay_over=_pick(rng, ("chart", "card", "corner"), [0.4, 0.4, 0.2]),
    )


#: What turns the spec of an ordinary photo into that of a spoiled one, by the kind of fault.
FAULTS = {
    "shade-on-card": _shade("whole-card"),
    "shade-on-chart": _shade("whole-chart"),
    "shade-beside": _shade("beside"),
    "tinted-shade": _tinted_shade,
    "local-tone": _local_tone,
    "cut": _cut,
    "two-cards": lambda spec, _: replace(spec, second_card=True),
    "faded": _chart("faded"),
    "yellowed": _chart("yellowed"),
    "copy": _chart("copy"),
    "large-chart": lambda spec, _: replace(spec, chart_kind="large"),
    "overlay": _overlay,
}
#: Lamps that camera and eye take for white, by the kind of fault; the same card by day is the photo to hold against.
LAMPS = {
    "lamp-A": ("A",),
    "lamp-FL2": ("FL2",),
    "lamp-FL11": ("FL11",),
    "lamp-LED": ("LED-B1", "LED-B3", "LED-B5", "LED-V1"),
}
#: Faults of the file: the same photo, its bytes damaged (`files.damaged`).
DAMAGES = {"bit": "bit", "short-jpeg": "short", "short-tiff": "short tiff"}
KINDS = (*FAULTS, *DAMAGES, *LAMPS)


def _draws(spec, kind):
    return np.random.default_rng([spec.seed, zlib.crc32(kind.encode())])


def unspoiled(spec, kind):
    """Return the spec that one with this fault is held against: `spec`, or with a lamp painter's pigments by day."""
    return replace(spec, light="D55", palette="pigments", white_balance="auto") if kind in LAMPS else spec


def spoiled(spec, kind):
    """Return the spec of the same photo with one fault; the seed draws how strong it is."""
    if kind in LAMPS:
        return replace(unspoiled(spec, kind), light=_pick(_draws(spec, kind), LAMPS[kind]))
    return FAULTS[kind](spec, _draws(spec, kind)) if kind in FAULTS else spec


def spoiled_file(path, spec, kind):
    """Return the path of a drawn photo's file with one fault: a damaged copy, or the file itself."""
    return damaged(path, DAMAGES[kind], _draws(spec, kind)) if kind in DAMAGES else path
