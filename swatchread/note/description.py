"""Measured colours in the painter's terms: value and its name, Munsell, warmth, lean."""

from __future__ import annotations

from typing import Any, SupportsFloat

import numpy as np

from swatchread.colour.cielab import Floats, lab_to_lch, value_of_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import (
    lean,
    relative_to,
    run_at,
    value_name,
    warmth,
    warmth_name,
    warmth_uncertainty,
)
from swatchread.note.model import Point, Temperature, Triple


def describe(lab: Floats, covariance: Floats) -> list[dict[str, Any]]:
    """Describe the swatches of one card, each of them relative to the card's own run.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    covariance : ndarray, shape (n, 3, 3)

    Returns
    -------
    list of dict
        The fields `lab`, `lch`, `munsell`, `value`, `value_name`, `temperature` and `lean` of a
        `swatchread.note.model.Swatch`.
    """
    lch, value, munsell = lab_to_lch(lab), value_of_lab(lab), munsell_notation(lab)
    sigma = np.sqrt(np.einsum("nii->ni", covariance))
    warm, warm_u = warmth(lab), warmth_uncertainty(lab, covariance)
    run = np.stack([lab[:, 0], run_at(value, lab[:, 1]), run_at(value, lab[:, 2])], axis=-1)
    run_warm = run_at(value, warm)
    terms = []
    for k in range(len(lab)):
        has_run = bool(np.isfinite(run[k]).all())  # otherwise too few swatches are near in value
        terms.append(
            {
                "lab": rounded_triple(lab[k]),
                "lch": rounded_triple(lch[k]),
                "munsell": munsell[k],
                "value": rounded(value[k], 2),
                "value_name": value_name(float(value[k])),
                "temperature": Temperature(
                    warmth=rounded(warm[k]),
                    name=warmth_name(float(warm[k]), float(warm_u[k])),
                    relative=relative_to(float(np.nan_to_num(warm[k] - run_warm[k])), float(warm_u[k])),
                    against="run",
                ),
                "lean": lean(lab[k], run[k], float(np.hypot(sigma[k, 1], sigma[k, 2]))) if has_run else "none",
            }
        )
    return terms


def rounded(value: SupportsFloat, digits: int = 3) -> float:
    """Return a number as it stands in a note: a thousandth is far below any uncertainty."""
    return round(float(value), digits)


def rounded_triple(values: Floats) -> Triple:
    """Return a colour as it stands in a note."""
    a, b, c = (rounded(value) for value in values)
    return a, b, c


def rounded_points(points: Floats) -> tuple[Point, ...]:
    """Return places in a photo as they stand in a note, in tenths of a pixel."""
    return tuple((rounded(x, 1), rounded(y, 1)) for x, y in points)
