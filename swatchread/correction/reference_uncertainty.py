"""What the doubt about a chart's own values does to the fit and to the readings.

A published chart says nothing of it. A strip that was measured by photo, or by an instrument, carries the standard
uncertainty of each patch: doubtful patches pull the fit less, and each reading inherits the doubt of the patches of
like colour. Errors of one measuring are shared by its patches, so the doubt is not divided by their number.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats

_USUAL = 0.8
"""CIEDE2000 that a patch is off anyway (batch, age, the camera): a doubt much below it changes no weight."""

_REACH = 25.0
_SHARE = 0.5
"""What is each patch's own shows in the fit's residuals already; simulated strips share about half of their errors."""


def reference_weight(chart: ChartDefinition) -> Floats:
    """Return how much each patch counts in the fit, 1 where nothing is doubted, shape (n,)."""
    return _USUAL / np.hypot(_USUAL, chart.de00)


def reference_variance(chart: ChartDefinition, used: npt.NDArray[np.bool_], lab: Floats) -> Floats:
    """Return the variance, CIEDE2000 squared, that readings inherit from the patches of like colour.

    Parameters
    ----------
    chart : ChartDefinition
    used : ndarray, shape (n,), bool
        Patches that carried the fit.
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
