"""What a fit leaves near a colour: patches that look alike have like residuals, and so does paint between them.

A camera's model is smooth and has few parameters; what it cannot follow changes slowly from colour to colour. The
residuals of the near patches estimate it, as far as they stand out from noise and from how charts differ from their
references: a Gaussian process (Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.2) over CIELAB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, similarity

_REACH = 14.0
"""CIELAB distance over which residuals are alike (standard deviation of a Gaussian)."""

_NOISE = 6.0
"""Variance of a residual that is a patch's own, over the variance that it shares with near colours."""


@dataclass(frozen=True, eq=False)
class ResidualField:
    """The residual of a fit as a function of colour.

    Attributes
    ----------
    reference : ndarray, shape (n, 3)
        CIELAB of the patches.
    share : ndarray, shape (n, 3)
        What each patch adds at its own colour, CIELAB.
    """

    reference: Floats
    share: Floats

    def at(self, lab: Floats) -> Floats:
        """Return the residual in L*, a* and b* at colours, CIELAB, shape (n, 3)."""
        return similarity(lab, self.reference, _REACH) @ self.share


def residual_field(reference: Floats, residual: Floats, weight: Floats) -> ResidualField:
    """Estimate the residual of a fit from that of its patches.

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
