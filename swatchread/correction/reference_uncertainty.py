"""What the uncertainty of a chart's own values does to the fit and to the readings.

A published chart does not state it. A strip that was measured by photo, or a chart measured by an instrument, carries
the standard uncertainty of each patch. Uncertain patches count less in the fit, and each reading inherits the
uncertainty of the patches of like colour. The patches share the errors of one measurement, so the uncertainty is not
divided by their number.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats

_USUAL = 0.8
"""CIEDE2000 that a patch is off anyway (batch, age, camera): a much smaller uncertainty changes no weight."""

_REACH = 25.0
"""CIELAB distance over which readings inherit from patches (standard deviation of a Gaussian)."""

_SHARE = 0.5
"""Share of the variance that the patches have in common (simulated strips); the rest shows in the fit's residuals."""


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
    weight = np.exp(-((apart - nearest) ** 2) / (2.0 * _REACH**2))
    return np.asarray(_SHARE * (weight @ chart.de00[used] ** 2) / weight.sum(axis=1))
