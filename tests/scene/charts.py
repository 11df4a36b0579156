"""Reflectances of the chart that lies there: as published, a copy, aged, or another chart altogether."""

from functools import cache

import numpy as np
from scipy.optimize import brentq

from .spectra import (
    GRID_NM,
    chart_reflectances,
    delta_e_2000,
    lab_of,
    smooth_curve,
    strip_reflectances,
    training_reflectances,
)

LARGE = (10, 14)  # rows, columns of the chart of 140 patches
_PAPER = 0.87  # reflectance that a faded patch goes to


@cache
def large_reflectances():
    """Reflectances (140, 71) of a chart whose middle looks like the classic one. Invented.

    Round its border go white, grey and black; rows 3 to 6 of columns 5 to 10 hold a copy of the classic chart; CIE 2017
    colour fidelity samples fill the rest.
    """
    rng = np.random.default_rng([72])
    rows, columns = np.indices(LARGE)
    made = np.ones((*LARGE, GRID_NM.size)) * np.array([0.86, 0.19, 0.032])[(rows + columns) % 3][..., None]
    made[1:-1, 1:-1] = training_reflectances()[rng.permutation(99)[:96]].reshape(8, 12, -1)
    made[2:6, 4:10] = changed(chart_reflectances(), "copy", 3.6, rng).reshape(4, 6, -1)
    return made.reshape(-1, GRID_NM.size)


def _faded(rng, reflectances):
    """Take density from the dyes, from each at its own rate, from blacks and greys at a third of it."""
    density = -np.log(np.minimum(reflectances / _PAPER, 1.0))
    grey = np.ptp(reflectances[:, 10:60], axis=1) < 0.1
    rate = rng.uniform(0.4, 1.0, len(reflectances)) * np.where(grey, 0.33, 1.0)
    return lambda amount: (
        _PAPER * np.exp(-density * (1 - amount * rate[:, None])) * np.maximum(reflectances / _PAPER, 1.0)
    )


def _yellowed(_, reflectances):
    """Take the blue, as an aged varnish or plastic cover does."""
    fall = 1 / (1 + np.exp((GRID_NM - 470) / 28))
    return lambda amount: reflectances * np.exp(-3 * amount * fall)


def _copied(rng, reflectances):
    """Bend each spectrum smoothly, as other inks would, the greys less."""
    grey = np.ptp(reflectances[:, 10:60], axis=1) < 0.1
    bend = np.array([smooth_curve(rng) for _ in reflectances]) * np.where(grey, 0.5, 1.0)[:, None]
    return lambda amount: np.clip(reflectances * np.exp(amount * bend), 0.005, 0.95)


def changed(reflectances, make, off, rng):
    """Reflectances (n, 71) of a chart that is `off` by this mean CIEDE2000: "faded", "yellowed" or a "copy"."""
    change = {"faded": _faded, "yellowed": _yellowed, "copy": _copied}[make](rng, reflectances)
    true = lab_of(reflectances)
    return change(brentq(lambda amount: delta_e_2000(true, lab_of(change(amount))).mean() - off, 0.0, 0.99))


def reflectances(spec):
    """Reflectances (n, 71) of what lies in the chart's place, row by row."""
    if spec.chart_kind == "strip":
        return strip_reflectances(spec.strip_size, spec.strip_seed)
    made = large_reflectances() if spec.chart_kind == "large" else chart_reflectances()
    if spec.chart_make == "reference":
        return made
    return changed(made, spec.chart_make, spec.chart_off, np.random.default_rng([spec.seed, 73]))
