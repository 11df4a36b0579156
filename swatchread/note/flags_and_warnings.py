"""Every flag that a swatch can carry, and every warning that a note can carry.

A doubtful measurement is kept and marked; one that cannot be made is an error (see `errors`).
"""

from __future__ import annotations

from typing import Final

from swatchread.note.record_files import Record

SWATCH_FLAGS: Final[dict[str, str]] = {
    "clipped": "part of the swatch is brighter or darker than the photo can record",
    "glint": "reflections on the paint were left out",
    "uneven": "the paint is uneven: thin, ridged or two colours",
    "shadow": "a shadow edge crosses the swatch",
    "small": "few pixels carry this reading",
    "out_of_gamut": "the colour is at least as saturated as any on the chart in that hue: the reading extrapolates",
    "near_ground": "the paint is nearly the colour of the ground: its outline is uncertain",
    "close_valued": "a neighbouring step has nearly the same value",
    "gap": "the step from its neighbour is much larger than the run's usual step",
    "chalky": "the step got lighter but colder and greyer than the run: too much white",
}
"""Flag -> what it means, for the painter."""

SPOILT: Final = frozenset({"clipped", "near_ground", "shadow"})
"""Flags of a swatch whose colour may be off by more than its uncertainty says: nothing is learnt from it."""

ABOUT_THE_RUN: Final = frozenset({"close_valued", "gap", "chalky"})
"""Flags that say something of a swatch's place among the others; its reading is not doubtful."""

WARNINGS: Final[dict[str, tuple[str, str]]] = {
    "chart_clipped": (
        "Some chart patches are over- or under-exposed and were left out: {detail}",
        "Expose so that the white patch is bright but not burnt out, and shoot again",
    ),
    "chart_covered": (
        "Some chart patches do not fit the chart and were left out: {detail}",
        "Keep fingers, glare and shadows off the chart",
    ),
    "chart_small": (
        "The chart fills little of the photo ({detail}), so its patches carry more noise",
        "Move closer, or lay the chart nearer to the card",
    ),
    "second_chart": (
        "Another chart lies in the photo; the larger one was used ({detail})",
        "Keep one chart in the frame",
    ),
    "chart_doubtful": (
        "The chart is doubtful ({detail}): it may have faded or yellowed, be a copy by another maker, or lie in glare",
        "Use a clean chart by its first maker, lying flat in even light",
    ),
    "card_cut": (
        "The card runs out of the photo {detail}: if a row or column lies outside, all names of swatches are shifted",
        "Show the whole card, with some table all round it",
    ),
    "card_turned": (
        "Rows and columns may be turned: no writing says surely which way up this card stands",
        "Turn the card on the page if it is; or lay cards as the chart reads, their writing large and on one side",
    ),
    "second_card": (
        "Another painted card lies in the photo; only the one with more swatches was read",
        "Leave some table between the cards and show each whole, or keep one card in the frame",
    ),
    "light_uneven": (
        "The light falls off over the card ({detail}); it was evened out",
        "Turn the card so that both its ends are equally far from the window",
    ),
    "shadow_edge": (
        "A shadow crosses the card or the chart ({detail})",
        "Move what casts the shadow, or shade the whole card",
    ),
    "other_light": (
        "The card and the chart may lie in different light ({detail})",
        "Lay both on one plain sheet, move what casts the shadow, and shoot again",
    ),
    "ground_differs": (
        "The bare ground comes out {detail}: other light falls on the card, the chart has aged, or it is another stock",
        "Lay both in one light, or try another chart; --same-stock evens it out, --support names another stock",
    ),
    "local_tone": (
        "The camera has lightened and darkened the photo by place, so the uncertainty was increased",
        "Switch HDR and automatic enhancement off, or use the camera's raw file (DNG)",
    ),
    "composed": (
        "The file says that the camera composed or retouched this photo ({detail}): equal colours may come out unequal",
        "Switch such modes off, or use the camera's raw file (DNG)",
    ),
    "mixed_light": (
        "The light changes its colour over the card ({detail})",
        "Use one kind of light: draw the curtain, or switch the lamp off",
    ),
    "too_light": (
        "Something reads lighter than white can be ({detail}): more light falls on it than on the chart, or it glares",
        "Lay chart and card flat in the same light and shoot again",
    ),
    "drawn": (
        "The chart's patches have no grain at all: this is a drawing or a screenshot, not a photo of a chart",
        "Photograph a printed chart lying beside the card",
    ),
    "poor_fit": (
        "The colour fit is poor ({detail}); the reading was kept at your request",
        "Shoot again in even daylight",
    ),
    "blurred": (
        "The photo is blurred ({detail})",
        "Rest the elbows, tap to focus on the card and shoot again",
    ),
    "photo_damaged": (
        "The photo's file is damaged: {detail}; colours there may be wrong",
        "Copy it from the camera again; if that does not help, shoot again",
    ),
    "dark": (
        "The photo is very dark ({detail}): it has too few steps for the dark colours",
        "Use more light, or tap on the card so that the camera exposes for it",
    ),
    "odd_light": (
        "The light is far from daylight ({detail}): some mixtures will be read wrong, near-greys most",
        "Use daylight; lamps of a high CRI do not help",
    ),
    "blue_lost": (
        "The light holds so little blue that the photo lost the blue of {detail}; these may read too yellow",
        "Use daylight, or a raw photo (DNG), which keeps the blue",
    ),
    "few_patches": (
        "Only {detail} chart patches could be used",
        "Show the whole chart and shoot again",
    ),
    "no_ground": (
        "The ground between the swatches could not be measured ({detail})",
        "Leave some bare ground between the swatches",
    ),
    "off_grid": (
        "Paint that does not fit into the given rows and columns was left out; it lies in the photo at {detail}",
        "Look at the marked photo; if it is a swatch, count the rows and columns again",
    ),
    "card_corners": (
        "Along {detail} of the lines between the corners given for the card there is no edge of a card",
        "Look at the marked photo; if the corners lie beside the card, give the card's own corners",
    ),
    "untagged": (
        "The photo says nothing about its colour space; sRGB was assumed",
        "Use the camera's own file rather than a copy sent by a messenger",
    ),
    "kept_setup": (
        "Read with a kept set-up instead of a chart in the photo ({detail})",
        "For the best reading lay the chart beside the card",
    ),
    "setup_settings": (
        "The camera's settings differ from those of the kept set-up ({detail}); the bare ground looks the same",
        "Fix exposure, ISO and white balance while a set-up is in use",
    ),
    "photo_left_out": (
        "Of the photos of this card, some were left out: {detail}",
        "Compare them with the others: look for another card, a shadow, glare or another lamp",
    ),
    "reading_left_out": (
        "Some swatches were left out of single photos, where they disagree with the others: {detail}",
        "Look for glare, a shadow or a finger there",
    ),
    "photos_disagree": (
        "Photos disagree and nothing shows which is right, so the uncertainty was increased: {detail}",
        "Take one more photo of the card: a third one decides",
    ),
    "seen_once": (
        "Only one photo shows these swatches, so nothing was averaged for them: {detail}",
        "Show the whole card in every photo",
    ),
    "marks_left_out": (
        "Marks that look like swatches in only a few of the photos were left out: {detail}",
        "If one of them is paint, show it clearly in more of the photos",
    ),
}
"""Warning code -> (message with a ``{detail}``, remedy)."""


class Warn(Record):
    """Something the painter should know about the whole photo."""

    code: str
    message: str
    remedy: str


def warn(code: str, detail: str) -> Warn:
    """Return a warning of `WARNINGS` with its detail.

    Parameters
    ----------
    code : str
    detail : str
        What takes the place of ``{detail}`` in the message.

    Returns
    -------
    Warn
    """
    message, remedy = WARNINGS[code]
    return Warn(code=code, message=message.format(detail=detail), remedy=remedy)
