"""How much the colour of the light changes over the card: the bare ground is one paper and should have one colour."""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats

_ROUNDS = 5
"""Times that the weights are computed; they no longer change after that."""

_LEAST = 12
"""Pieces of ground that are needed."""


def colour_drift(lab: Floats, place: Floats) -> float:
    """Return how far the ground's hue drifts from one end of the card to the other.

    A plane is fitted to a* and b* over the card with robust weights (Geman & McClure), so that a stain or a piece of
    tape does not tilt it.

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
    if len(lab) < _LEAST:
        return 0.0
    design = np.column_stack([np.ones(len(place)), place])
    weight = np.ones(len(lab))
    for _ in range(_ROUNDS):
        plane = np.linalg.lstsq(design * weight[:, None], lab[:, 1:] * weight[:, None], rcond=None)[0]
        off = np.hypot(*(lab[:, 1:] - design @ plane).T)
        spread = 1.5 * np.median(off) + 1e-3
        weight = 1.0 / (1.0 + (off / (2.0 * spread)) ** 2)
    span = np.ptp(place @ plane[1:], axis=0)
    return float(np.hypot(*span))
