"""What the errors of a chart's patches mean for colours like theirs: the fit's residuals, and the chart's own errors.

A camera's model is smooth and has few parameters; what it cannot follow changes slowly from colour to colour. The
residuals of the near patches estimate it, as far as they stand out from noise and from how charts differ from their
references: a Gaussian process (Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.2) over CIELAB.

A published chart does not state the uncertainty of its values. A strip that was measured by photo, or a chart measured
by an instrument, carries the standard uncertainty of each patch. Uncertain patches count less in the fit, and each
reading inherits the uncertainty of the patches of like colour. The patches share the errors of one measurement, so the
uncertainty is not divided by their number.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats, similarity

_REACH = 14.0
"""CIELAB distance over which residuals are alike (standard deviation of a Gaussian)."""

_NOISE = 6.0
"""Variance of a residual that is a patch's own, over the variance that it shares with near colours."""

_USUAL = 0.8
"""CIEDE2000 that a patch is off anyway (batch, age, camera): a much smaller uncertainty changes no weight."""

_INHERITED_REACH = 25.0
"""CIELAB distance over which readings inherit from patches (standard deviation of a Gaussian)."""

_INHERITED_SHARE = 0.5
"""Share of the variance that the patches have in common (simulated strips); the rest shows in the fit's residuals."""


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


def reference_weight(chart: ChartDefinition) -> Floats:
    """Return the weight of each patch in the fit, shape (n,): 1 where no uncertainty is stated."""
    return _USUAL / np.hypot(_USUAL, chart.de00)


def reference_variance(chart: ChartDefinition, used: npt.NDArray[np.bool_], lab: Floats) -> Floats:
    """Return the variance, CIEDE2000 squared, that readings inherit from the patches of like colour.

    Parameters
    ----------
    chart : ChartDefinition
    used : ndarray, shape (n,), bool
        Patches that were used in the fit.
    lab : ndarray, shape (m, 3)
        The readings, CIELAB, D50, 2 degree.

    Returns
    -------
    ndarray, shape (m,)
    """
    apart = np.linalg.norm(lab[:, None] - chart.lab[used][None], axis=-1)
    nearest = apart.min(axis=1, keepdims=True)
    weight = np.exp(-((apart - nearest) ** 2) / (2.0 * _INHERITED_REACH**2))
    return np.asarray(_INHERITED_SHARE * (weight @ chart.de00[used] ** 2) / weight.sum(axis=1))
