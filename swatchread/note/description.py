"""The painter's terms for measured colours: value and its name, Munsell, warmth, lean."""

from __future__ import annotations

from typing import Any

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
from swatchread.note.model import Temperature, Triple


def describe(lab: Floats, covariance: Floats) -> list[dict[str, Any]]:
    """Describe the swatches of one card, each beside the card's own run.

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
        told = bool(np.isfinite(run[k]).all())  # else too few others lie near in value for there to be a run
        terms.append(
            {
                "lab": _triple(lab[k]),
                "lch": _triple(lch[k]),
                "munsell": munsell[k],
                "value": round(float(value[k]), 2),
                "value_name": value_name(float(value[k])),
                "temperature": Temperature(
                    warmth=round(float(warm[k]), 3),
                    name=warmth_name(float(warm[k]), float(warm_u[k])),
                    relative=relative_to(float(np.nan_to_num(warm[k] - run_warm[k])), float(warm_u[k])),
                    against="run",
                ),
                "lean": lean(lab[k], run[k], float(np.hypot(sigma[k, 1], sigma[k, 2]))) if told else "none",
            }
        )
    return terms


def _triple(values: Floats) -> Triple:
    a, b, c = (round(float(v), 3) for v in values)
    return a, b, c
