"""Flags of swatches and warnings of a card: what the painter should know before trusting a number."""

from __future__ import annotations

import cv2
import numpy as np
import numpy.typing as npt

from swatchread.card.card_sampling import CardSample
from swatchread.card.lab_image import lab_picture
from swatchread.card.rectification import Plane
from swatchread.chart.patch_sampling import ChartSample
from swatchread.chart.sharpness import edge_blur
from swatchread.colour.cielab import Floats, delta_e_2000, value_of_lab
from swatchread.colour.order import distinct, median
from swatchread.colour.painter_terms import steps
from swatchread.correction.calibration import TRUSTED_DE00, Calibration
from swatchread.correction.hue_drift import colour_drift
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.flags import WARNINGS
from swatchread.note.model import Warn
from swatchread.photo.geometry import project

_CLIPPED = 0.02
_GLINT = 0.004
_RIM = -0.1
"""How far outside of the chart's colours, as `outside_chart` has it, a reading is flagged: its rim is within.

Errors jump there: on 80 simulated photos their 95th percentile is 2.2 just below, 5.8 and 6.4 in the two steps of 0.05
above, and 3.6 to 4.2 beyond; six of fourteen errors that nothing had warned of lay in these steps, all of them greens.
"""

_SPREAD_DE00 = 3.5
_SMALL = 300
_NEAR_GROUND = 6.0
_SHADOW = 0.2
_SHADOW_EDGE = 0.05
_SHADOW_BESIDE = 0.08
_SMALL_PITCH = 40.0
_OTHER_LIGHT = 0.015
_MIXED_LIGHT = 6.5
"""Drift of the ground's hue, CIELAB units: under one light 63 of 65 simulated photos stayed below 4, all below 6.1; a
lamp that gives up to a third of the light makes 7 and more."""
_DRAWN = 0.95
"""Share of patches whose middle half is of one value: in photos, however denoised, at most three in four were."""
_BLURRED = 0.04
_BLURRED_PX = 1.5
"""Blur of a patch's edges as a share of its side, beyond which little is left to sample; below the pixels, it is not
the photographer's."""
_UNEVEN_LIGHT = 0.2
_LIGHTEST = 100.5
_CAST = 25.0
_DARK = 0.05
"""Share of the light that a photo can hold, for a white: less leaves some twenty of 256 steps for the darks."""
_FEW = 16
_EVERY, _BESIDE = 0.1, 0.25
"""Pitches of the chart: from spot to spot along a card's edge, and from the edge to either side."""
_EDGE = 6.0
"""Step of colour (8-bit CIELAB) that is an edge."""
_NO_EDGE = 0.3
"""Share of the lines between corners without an edge. Chosen on 20 simulated photos: at most 0.02 along the true lines,
0.12 with corners 1 % of the card's size off, mostly 0.4 and more where they lie a third beside it. Where a card has its
table's own colour no edge is seen along the true lines either."""


def swatch_flags(
    paint: CardSample,
    calibration: Calibration,
    colours: UncertainColours,
    ground_lab: Floats,
    spread: Floats,
) -> list[tuple[str, ...]]:
    """Return each swatch's flags, in the order of the registry.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours
    ground_lab : ndarray, shape (3,)
    spread : ndarray, shape (n,)
        Unevenness of the paint, CIEDE2000.

    Returns
    -------
    list of tuple of str
    """
    near = delta_e_2000(colours.lab, ground_lab) < _NEAR_GROUND
    rows = np.array([s.cell.row for s in paint.swatches])
    columns = np.array([s.cell.column for s in paint.swatches])
    stepped = step_flags(rows, columns, colours.lab, np.sqrt(colours.covariance[:, 0, 0]))
    beside = calibration.light.unsure(calibration.place(paint.places))
    cut = _cut_in_two(paint, calibration)
    flags = []
    for k, sample in enumerate(paint.swatches):
        mine = {
            "clipped": sample.clipped > _CLIPPED,
            "glint": sample.glint > _GLINT,
            "uneven": bool(spread[k] > _SPREAD_DE00),
            "shadow": cut or sample.halves > _SHADOW or bool(beside[k] > _SHADOW_BESIDE),
            "small": sample.count < _SMALL,
            "out_of_gamut": bool(colours.outside[k] > _RIM),
            "near_ground": bool(near[k]),
            **{flag: flag in stepped[k] for flag in ("close_valued", "gap", "chalky")},
        }
        flags.append(tuple(flag for flag, true in mine.items() if true))
    return flags


def step_flags(
    rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64], lab: Floats, sigma: Floats
) -> list[set[str]]:
    """Judge the steps along the card's runs: its rows or its columns, whichever climb in value more steadily.

    Parameters
    ----------
    rows, columns : ndarray of int, shape (n,)
    lab : ndarray, shape (n, 3)
    sigma : ndarray, shape (n,)
        Standard uncertainty of L*.

    Returns
    -------
    list of set of str
        ``close_valued``, ``gap`` and ``chalky``, for each swatch.
    """
    value = value_of_lab(lab)
    sigma = sigma * 0.1  # a value step is about ten L*
    lines, along = (rows, columns) if _climb(rows, columns, value) > _climb(columns, rows, value) else (columns, rows)
    flags: list[set[str]] = [set() for _ in rows]
    for line in distinct(lines):
        index = np.flatnonzero(lines == line)
        if len(distinct(along[index])) < 2:
            continue
        for step in steps(lab[index], value[index], sigma[index]):
            if step.flag:
                flags[int(index[step.upper])].add(step.flag)
    return flags


def _cut_in_two(paint: CardSample, calibration: Calibration) -> bool:
    """Tell whether a part of the card lies in another light and no edge of a shadow was found that explains it.

    Nobody knows then which swatches lie in which light.
    """
    return paint.elsewhere.share > _OTHER_LIGHT and calibration.light.edge is None


def _climb(lines: npt.NDArray[np.int64], along: npt.NDArray[np.int64], value: Floats) -> float:
    """Return how steadily value goes along the lines: mean absolute correlation, weighted by their length."""
    total, weight = 0.0, 0
    for line in distinct(lines):
        index = lines == line
        count = int(index.sum())
        if count >= 2 and np.ptp(along[index]) > 0 and np.ptp(value[index]) > 0:
            total += abs(float(np.corrcoef(along[index], value[index])[0, 1])) * (count - 1)
            weight += count - 1
    return total / weight if weight else 0.0


def card_warnings(paint: CardSample, calibration: Calibration, colours: UncertainColours) -> tuple[Warn, ...]:
    """Return the warnings that a photo and its correction deserve.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours

    Returns
    -------
    tuple of Warn
    """
    return chart_warnings(calibration) + _ground_warnings(paint, calibration) + _too_light(paint, colours)


def chart_warnings(calibration: Calibration) -> tuple[Warn, ...]:
    """Return the warnings that concern the photo and its chart alone."""
    find, sample = calibration.find, calibration.sample
    names = np.array(find.chart.patch_names)
    found: list[tuple[str, str]] = []
    if sample.clipped.any():
        found.append(("chart_clipped", ", ".join(names[sample.clipped])))
    strangers = ~calibration.used & ~sample.clipped
    if strangers.any():
        found.append(("chart_covered", ", ".join(names[strangers])))
    if calibration.used.sum() < min(_FEW, len(names) * 2 / 3):
        found.append(("few_patches", f"{int(calibration.used.sum())} of {len(names)}"))
    if find.pitch < _SMALL_PITCH:
        found.append(("chart_small", f"a patch is {find.pitch * find.patch_share:.0f} pixels wide"))
    found += _photo_doubts(sample)
    if find.others:
        found.append(("second_chart", f"{len(find.others)} more"))
    if calibration.cross_validated_de00 > TRUSTED_DE00:
        found.append(("poor_fit", f"cross-validated CIEDE2000 {calibration.cross_validated_de00:.1f}"))
    cast = calibration.cast
    if cast > _CAST:
        found.append(("odd_light", f"a colour cast of {cast:.0f} CIELAB units before correction"))
    encoding = find.photo.encoding
    if not encoding.tagged and not encoding.scene_linear:  # a linear photo's chart has told
        found.append(("untagged", ""))
    return tuple(warn(code, detail) for code, detail in found)


def _photo_doubts(sample: ChartSample) -> list[tuple[str, str]]:
    """Doubt a photo that is too dark, not sharp enough, or too clean to be one."""
    find, found = sample.find, []
    white = median(sample.linear[:, 1] / np.maximum(find.chart.xyz[:, 1], 0.02))
    if white < _DARK and not find.photo.encoding.scene_linear:
        found.append(("dark", f"white uses {100 * white:.0f} % of the light it can hold"))
    blur = edge_blur(find)
    if blur > max(_BLURRED * find.pitch * find.patch_share, _BLURRED_PX):
        found.append(("blurred", f"the edges of the chart's patches are smeared over {4 * blur:.0f} pixels"))
    if (sample.unevenness == 0.0).mean() > _DRAWN:
        found.append(("drawn", ""))
    return found


def _ground_warnings(paint: CardSample, calibration: Calibration) -> tuple[Warn, ...]:
    found: list[tuple[str, str]] = []
    if len(paint.ground_linear) < 6:
        found.append(("no_ground", f"{len(paint.ground_linear)} places"))
    stray = paint.card.grid.left_over
    if stray:
        at = paint.card.plane.photo_points(np.array([b.centre for b in stray]))
        found.append(("off_grid", ", ".join(f"{x:.0f},{y:.0f}" for x, y in at)))
    points = np.array([s.place for s in paint.swatches])
    light = np.exp(calibration.log_light(points))
    fall = 1.0 - float(light.min() / light.max())
    if fall > _UNEVEN_LIGHT:
        found.append(("light_uneven", f"{100 * fall:.0f} %"))
    jump = calibration.light.jump
    if _cut_in_two(paint, calibration):
        ratio = paint.elsewhere.ratio
        found.append(("shadow_edge", f"a part of the card is {ratio:.1f} times as light as the part that was read"))
    elif jump > _SHADOW_EDGE:
        found.append(("shadow_edge", f"the light jumps by about {100 * jump:.0f} %"))
    ground = calibration.lab(paint.ground_linear, paint.ground_points) if len(paint.ground_linear) else np.zeros((0, 3))
    drift = colour_drift(ground, calibration.place(paint.ground_points))
    if drift > _MIXED_LIGHT:
        found.append(("mixed_light", f"the bare ground changes its hue by {drift:.0f} CIELAB units"))
    return tuple(warn(code, detail) for code, detail in found)


def _too_light(paint: CardSample, colours: UncertainColours) -> tuple[Warn, ...]:
    """Warn of paint that reflects more light than there is: L* of 100 is all of it, and fluorescent paint aside."""
    lightness = colours.lab[:, 0]
    over = np.flatnonzero(lightness > _LIGHTEST)
    places = [f"{paint.swatches[k].cell.id} L* {lightness[k]:.0f}" for k in over]
    return (warn("too_light", ", ".join(places)),) if places else ()


def corner_warnings(plane: Plane, corners: Floats) -> tuple[Warn, ...]:
    """Warn where the corners that were given for a card do not lie on a card's edge.

    A table between wrong corners passes for the ground, and the card upon it for paint.

    Parameters
    ----------
    plane : Plane
    corners : ndarray, shape (4, 2)
        Photo pixels, clockwise.

    Returns
    -------
    tuple of Warn
    """
    turn = np.linalg.inv(plane.to_photo)
    quad = project(turn, corners)
    along = np.roll(quad, -1, axis=0) - quad
    length = np.linalg.norm(along, axis=1)
    count = np.maximum(np.rint(length / (_EVERY * plane.resolution)).astype(int), 1)  # evenly all the way round
    side = np.repeat(np.arange(4), count)
    share = np.concatenate([(np.arange(n) + 0.5) / n for n in count])[:, None]
    inward = (along[:, ::-1] * [-1.0, 1.0] / length[:, None])[side] * _BESIDE * plane.resolution
    spots = (quad[side] + share * along[side])[None] + np.stack([inward, -inward])
    x, y = np.rint(spots).astype(int).transpose(2, 0, 1)
    height, width = plane.outside.shape
    seen = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    x, y = x.clip(0, width - 1), y.clip(0, height - 1)
    seen = (seen & ~plane.outside[y, x]).all(axis=0)
    if not seen.any():
        return ()
    wide = max(3, round(_BESIDE * plane.resolution))
    lab = cv2.blur(lab_picture(plane.picture).astype(np.float32), (wide, wide))
    step = np.linalg.norm(np.subtract(*lab[y, x]), axis=1)
    bare = float((step[seen] < _EDGE).mean())
    return (warn("card_corners", f"{100 * bare:.0f} %"),) if bare > _NO_EDGE else ()


def warn(code: str, detail: str) -> Warn:
    """Return a warning of the registry with its detail."""
    message, remedy = WARNINGS[code]
    return Warn(code=code, message=message.format(detail=detail), remedy=remedy)
