"""What a fit leaves near a colour: patches that look alike are off alike, and so is paint between them.

A camera's model is smooth and has few parameters, and what it cannot follow changes slowly from colour to colour. It is
read from the patches near by, as far as these can be told from noise and from how charts differ from their references:
a Gaussian process (Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.2) over CIELAB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, similarity

_REACH = 14.0
"""CIELAB distance over which colours are off alike."""

_NOISE = 6.0
"""Variance of what is a patch's own, over that of what it shares with the colours near by."""


@dataclass(frozen=True, eq=False)
class ResidualField:
    """What a fit leaves, as a function of colour.

    Attributes
    ----------
    reference : ndarray, shape (n, 3)
        CIELAB of the patches.
    share : ndarray, shape (n, 3)
        What each adds where it is, CIELAB.
    """

    reference: Floats
    share: Floats

    def at(self, lab: Floats) -> Floats:
        """Return by how much colours, CIELAB, shape (n, 3), come out too high: L*, a*, b*."""
        return similarity(lab, self.reference, _REACH) @ self.share


def residual_field(reference: Floats, residual: Floats, weight: Floats) -> ResidualField:
    """Learn what a fit leaves.

    Parameters
    ----------
    reference : ndarray, shape (n, 3)
        CIELAB of the patches.
    residual : ndarray, shape (n, 3)
        Fitted minus reference.
    weight : ndarray, shape (n,)
        0 leaves a patch out.

    Returns
    -------
    ResidualField
    """
    used = weight > 0
    known = reference[used]
    covariance = similarity(known, known, _REACH) + np.diag(_NOISE / weight[used] ** 2)
    return ResidualField(known, np.asarray(np.linalg.solve(covariance, residual[used]), dtype=np.float64))
