"""The warnings of a note: what makes a whole photo doubtful."""

from __future__ import annotations

import numpy as np

from swatchread.card.card_find import CardFind
from swatchread.card.photo_frame import cut_sides
from swatchread.chart.patch_sampling import ChartSample, edge_blur
from swatchread.colour.cielab import Floats
from swatchread.correction.calibration import TRUSTED_DE00, Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.chart_doubt import DOUBTFUL, tint_error
from swatchread.note.flags_and_warnings import Warn, warn
from swatchread.note.lamp_warnings import blue_lost, odd_light
from swatchread.note.light_between import doubts_between
from swatchread.note.swatch_flags import has_unexplained_light
from swatchread.sampling.card_sampling import CardSample

_LEAST_PATCHES = 16
"""Patches of the chart; of a smaller chart two thirds."""

_SMALL_PITCH = 40.0
"""Pixels from one patch of the chart to the next."""

_DARK = 0.05
"""Share of the light that a photo can hold, for a white: less leaves some twenty of 256 steps for the darks."""

_BLURRED, _BLURRED_PX = 0.04, 1.5
"""Blur of a patch's edges: as a share of its side, beyond which little is left to sample, and in pixels, below which it
is the camera's."""

_DRAWN = 0.95
"""Share of patches whose middle half is of one value: in photos, however denoised, at most three in four were."""

_LEAST_GROUND = 6
"""Places where the bare ground could be sampled."""

_FALL_OFF = 0.2
"""Relative difference between the most and the least light on the swatches."""

_SHADOW_EDGE = 0.05
"""Relative jump of the light at the edge of a shadow."""

_MIXED_LIGHT = 6.5
"""Drift of the ground's hue over the card, CIELAB units. Under one light 63 of 65 simulated photos stayed below 4 and
all below 6.1; a lamp that gives up to a third of the light makes 7 and more."""

_LIGHTEST = 100.5
"""L* that neither paint nor paper reaches: 100 is all the light there is."""

_DRIFT_ROUNDS = 5
"""Times that the weights of the ground's hue are computed; they no longer change after that."""

_DRIFT_LEAST = 12
"""Pieces of ground that are needed to see a drift of hue."""


def card_warnings(paint: CardSample, calibration: Calibration, colours: UncertainColours) -> tuple[Warn, ...]:
    """Return all warnings about a photo and its correction.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours

    Returns
    -------
    tuple of Warn
    """
    found = [
        *_structure_doubts(paint.card),
        *_ground_doubts(paint),
        *_light_doubts(paint, calibration),
        *doubts_between(calibration),
        *_too_light(paint, calibration, colours),
        *blue_lost(paint, calibration, colours),
    ]
    return chart_warnings(calibration) + tuple(warn(code, detail) for code, detail in found)


def chart_warnings(calibration: Calibration) -> tuple[Warn, ...]:
    """Return the warnings that concern the photo and its chart alone.

    Parameters
    ----------
    calibration : Calibration

    Returns
    -------
    tuple of Warn
    """
    found = [*_patch_doubts(calibration), *_photo_doubts(calibration.sample), *_correction_doubts(calibration)]
    return tuple(warn(code, detail) for code, detail in found)


def light_warnings(calibration: Calibration, paint: CardSample | None = None) -> tuple[Warn, ...]:
    """Return the warnings that concern the light on the card, or how the camera rendered it.

    Parameters
    ----------
    calibration : Calibration
    paint : CardSample, optional
        The card, if one lies beside the chart.

    Returns
    -------
    tuple of Warn
    """
    found = [*(_light_doubts(paint, calibration) if paint else []), *doubts_between(calibration)]
    return tuple(warn(code, detail) for code, detail in found)


def _patch_doubts(calibration: Calibration) -> list[tuple[str, str]]:
    """Return codes and details of doubts about the patches: clipped, covered, too few or too small."""
    find, used, overlaid = calibration.find, calibration.used, calibration.sample.overlaid
    clipped = calibration.sample.clipped & ~overlaid
    names = np.array(find.chart.patch_names)
    found = []
    if clipped.any():
        found.append(("chart_clipped", ", ".join(names[clipped])))
    covered = ~used & ~clipped
    if covered.any():
        found.append(("chart_covered", ", ".join(names[covered])))
    if used.sum() < min(_LEAST_PATCHES, len(names) * 2 / 3):
        found.append(("few_patches", f"{int(used.sum())} of {len(names)}"))
    if find.pitch < _SMALL_PITCH:
        found.append(("chart_small", f"a patch is {find.pitch * find.patch_share:.0f} pixels wide"))
    return found


def _photo_doubts(sample: ChartSample) -> list[tuple[str, str]]:
    """Return doubts about the photo: damaged, too dark, blurred, or so clean that it is no photo."""
    find = sample.find
    found = [("photo_damaged", find.photo.damage)] if find.photo.damage else []
    white = float(np.median(sample.linear[:, 1] / np.maximum(find.chart.xyz[:, 1], 0.02)))
    if white < _DARK and not find.photo.encoding.scene_linear:
        found.append(("dark", f"white uses {100 * white:.0f} % of the light it can hold"))
    blur = edge_blur(find)
    if blur > max(_BLURRED * find.pitch * find.patch_share, _BLURRED_PX):
        found.append(("blurred", f"the edges of the chart's patches are smeared over {4 * blur:.0f} pixels"))
    if find.photo.processing is not None:
        found.append(("composed", find.photo.processing))
    if (sample.unevenness == 0.0).mean() > _DRAWN:
        found.append(("drawn", ""))
    return found


def _correction_doubts(calibration: Calibration) -> list[tuple[str, str]]:
    """Return doubts about the correction: two charts, a poor fit, odd light, an unknown colour space."""
    find, found = calibration.find, []
    if find.others:
        found.append(("second_chart", f"{len(find.others)} more"))
    if calibration.cross_validated_de00 > TRUSTED_DE00:
        found.append(("poor_fit", f"cross-validated CIEDE2000 {calibration.cross_validated_de00:.1f}"))
    elif (error := tint_error(calibration)) > DOUBTFUL:
        detail = f"its colours fit badly, by {error:.1f} CIEDE2000 in hue and chroma on average"
        found.append(("chart_doubtful", detail))
    elif calibration.card_light.blue_paper:
        found.append(("chart_doubtful", "white paper comes out blue by it, unless that paper is blue"))
    found += odd_light(calibration)
    encoding = find.photo.encoding
    if not encoding.tagged and not encoding.scene_linear:  # the chart has shown that a photo is linear
        found.append(("untagged", ""))
    return found


def _structure_doubts(card: CardFind) -> list[tuple[str, str]]:
    """Return doubts about what was read: a part of a card, one card of several, or one that may be turned."""
    found = [] if card.alone else [("second_card", "")]
    found += [] if card.turn_sure else [("card_turned", "")]
    sides = cut_sides(card)
    return [*found, ("card_cut", " and ".join(sides))] if sides else found


def _ground_doubts(paint: CardSample) -> list[tuple[str, str]]:
    """Return doubts about the card: little bare ground, or paint outside of the given grid."""
    found = []
    if len(paint.ground_linear) < _LEAST_GROUND:
        found.append(("no_ground", f"{len(paint.ground_linear)} places"))
    left_over = paint.card.grid.left_over
    if left_over:
        places = paint.card.plane.photo_points(np.array([blob.centre for blob in left_over]))
        found.append(("off_grid", ", ".join(f"{x:.0f},{y:.0f}" for x, y in places)))
    return found


def _light_doubts(paint: CardSample, calibration: Calibration) -> list[tuple[str, str]]:
    """Return doubts about the light: it falls off, casts a shadow, or has several colours."""
    found = []
    light = np.exp(calibration.log_light(paint.places))
    fall_off = 1.0 - float(light.min() / light.max())
    if fall_off > _FALL_OFF:
        found.append(("light_uneven", f"{100 * fall_off:.0f} %"))
    jump = calibration.light.jump
    if has_unexplained_light(paint, calibration):
        ratio = paint.elsewhere.ratio
        found.append(("shadow_edge", f"a part of the card is {ratio:.1f} times as light as the part that was read"))
    elif jump > _SHADOW_EDGE:
        found.append(("shadow_edge", f"the light jumps by about {100 * jump:.0f} %"))
    if len(paint.ground_linear):
        ground = calibration.lab(paint.ground_linear, paint.ground_points)
        drift = colour_drift(ground, calibration.place(paint.ground_points))
        if drift > _MIXED_LIGHT:
            found.append(("mixed_light", f"the bare ground changes its hue by {drift:.0f} CIELAB units"))
    return found


def _too_light(paint: CardSample, calibration: Calibration, colours: UncertainColours) -> list[tuple[str, str]]:
    """Return doubts about what seems to reflect more light than falls on it, as only fluorescent things can."""
    lightness = colours.lab[:, 0]
    too_light = np.flatnonzero(lightness > _LIGHTEST)
    places = [f"{paint.swatches[k].cell.id} L* {lightness[k]:.0f}" for k in too_light]
    if len(paint.ground_linear):
        ground = float(np.median(calibration.lab(paint.ground_linear, paint.ground_points)[:, 0]))
        places += [f"the ground L* {ground:.0f}"] if ground > _LIGHTEST else []
    return [("too_light", ", ".join(places))] if places else []


def colour_drift(lab: Floats, place: Floats) -> float:
    """Return how far the ground's hue drifts from one end of the card to the other.

    The bare ground is one paper and should have one colour. A plane is fitted to a* and b* over the card with robust
    weights (Geman & McClure), so that a stain or a piece of tape does not tilt it.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        Corrected CIELAB of small pieces of the bare ground.
    place : ndarray, shape (n, 2)
        Where they are, in any unit.

    Returns
    -------
    float
        Largest difference in a* and b* that the plane shows between these places, CIELAB units; 0 for too few pieces.
    """
    if len(lab) < _DRIFT_LEAST:
        return 0.0
    design = np.column_stack([np.ones(len(place)), place])
    weight = np.ones(len(lab))
    for _ in range(_DRIFT_ROUNDS):
        plane = np.linalg.lstsq(design * weight[:, None], lab[:, 1:] * weight[:, None], rcond=None)[0]
        off = np.hypot(*(lab[:, 1:] - design @ plane).T)
        spread = 1.5 * np.median(off) + 1e-3
        weight = 1.0 / (1.0 + (off / (2.0 * spread)) ** 2)
    span = np.ptp(place @ plane[1:], axis=0)
    return float(np.hypot(*span))
