"""The flags of swatches: what makes a single colour doubtful, and what is odd in a run of values."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import Floats, delta_e_2000, value_of_lab
from swatchread.colour.painter_terms import steps
from swatchread.correction.calibration import Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.sampling.card_sampling import CardSample

_CLIPPED = 0.02
"""Share of a swatch's pixels at an end of the stored range."""

_GLINT = 0.004
"""Share of a swatch's pixels that were left out as reflections."""

_SPREAD_DE00 = 3.5
"""Unevenness of the paint, CIEDE2000."""

_SMALL = 300
"""Pixels of a swatch, below which noise no longer averages out."""

_NEAR_GROUND_DE00 = 6.0
"""Distance of a swatch from the ground, CIEDE2000."""

_HALVES = 0.2
"""Relative difference of the light between the halves of a swatch."""

_UNSURE_LIGHT = 0.08
"""Relative uncertainty of the light at a swatch beside the edge of a shadow."""

_OTHER_LIGHT = 0.015
"""Share of the card that lies in another light."""

RIM = -0.1
"""Distance outside of the chart's colours, as `outside_chart` gives it, from which a reading is flagged; the rim itself
is inside. Errors jump there: on 80 simulated photos their 95th percentile is 2.2 just below, 5.8 and 6.4 in the two
steps of 0.05 above, and 3.6 to 4.2 beyond. Six of fourteen errors that nothing had warned of lay in these steps."""

_LSTAR_PER_VALUE = 10.0
"""One step of Munsell value is about ten L*."""


def swatch_flags(
    paint: CardSample,
    calibration: Calibration,
    colours: UncertainColours,
    ground_lab: Floats,
    spread: Floats,
) -> list[tuple[str, ...]]:
    """Return each swatch's flags, in the order of `swatchread.note.flags_and_warnings.SWATCH_FLAGS`.

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
    near_ground = delta_e_2000(colours.lab, ground_lab) < _NEAR_GROUND_DE00
    rows = np.array([s.cell.row for s in paint.swatches])
    columns = np.array([s.cell.column for s in paint.swatches])
    in_run = step_flags(rows, columns, colours.lab, np.sqrt(colours.covariance[:, 0, 0]))
    unsure_light = calibration.light.unsure(calibration.place(paint.places))
    any_light = has_unexplained_light(paint, calibration)
    flags = []
    for k, sample in enumerate(paint.swatches):
        states = {
            "clipped": sample.clipped > _CLIPPED,
            "glint": sample.glint > _GLINT,
            "uneven": bool(spread[k] > _SPREAD_DE00),
            "shadow": any_light or sample.halves > _HALVES or bool(unsure_light[k] > _UNSURE_LIGHT),
            "small": sample.count < _SMALL,
            "out_of_gamut": bool(colours.outside[k] > RIM),
            "near_ground": bool(near_ground[k]),
            **{flag: flag in in_run[k] for flag in ("close_valued", "gap", "chalky")},
        }
        flags.append(tuple(flag for flag, is_set in states.items() if is_set))
    return flags


def has_unexplained_light(paint: CardSample, calibration: Calibration) -> bool:
    """Tell whether a part of the card lies in another light and no shadow edge explains it.

    Nobody knows then which swatches lie in which light.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    """
    return paint.elsewhere.share > _OTHER_LIGHT and calibration.light.edge is None


def step_flags(
    rows: npt.NDArray[np.int64], columns: npt.NDArray[np.int64], lab: Floats, sigma: Floats
) -> list[set[str]]:
    """Judge the steps along the card's runs: its rows or its columns, whichever change more steadily in value.

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
    sigma_value = sigma / _LSTAR_PER_VALUE
    by_row = _steadiness(rows, columns, value) > _steadiness(columns, rows, value)
    lines, along = (rows, columns) if by_row else (columns, rows)
    flags: list[set[str]] = [set() for _ in rows]
    for line in np.unique(lines):
        index = np.flatnonzero(lines == line)
        if len(np.unique(along[index])) < 2:
            continue
        for step in steps(lab[index], value[index], sigma_value[index]):
            if step.flag:
                flags[int(index[step.upper])].add(step.flag)
    return flags


def _steadiness(lines: npt.NDArray[np.int64], along: npt.NDArray[np.int64], value: Floats) -> float:
    """Return the mean absolute correlation of value and position along the lines, weighted by their lengths."""
    correlations, weights = [0.0], [0]
    for line in np.unique(lines):
        index = lines == line
        if np.ptp(along[index]) > 0 and np.ptp(value[index]) > 0:
            correlations.append(abs(float(np.corrcoef(along[index], value[index])[0, 1])))
            weights.append(int(index.sum()) - 1)
    return float(np.average(correlations, weights=weights)) if any(weights) else 0.0
