"""Whether the chart is what its reference values say: its colours must fit in hue and chroma, whatever the light."""

from __future__ import annotations

import numpy as np

from swatchread.correction.calibration import Calibration

DOUBTFUL = 1.3
"""Mean error of hue and chroma, in units of about one CIEDE2000, above which a chart is doubted. Genuine charts had up
to 1.21 in real, compressed photos, and up to 0.84 in 18 simulated photos without other warnings. A real copy by another
maker had 1.67; 18 simulated copies that are off by 3.5 to 5.5 CIEDE2000 had more than 1.3."""

_CHROMA_SHARE = 0.045
"""Growth of the unit with chroma (weight of chroma in CIE94; CIEDE2000 uses the same)."""


def tint_error(calibration: Calibration) -> float:
    """Return how far a chart's patches are off in hue and chroma after the fit.

    Uneven light and glare move a colour along the line through it on which L* + 16, a* and b* scale alike, so that
    part of the error is left out: a wrong chart shows in what remains.

    Parameters
    ----------
    calibration : Calibration

    Returns
    -------
    float
        The mean over the patches used, in units of about one CIEDE2000.
    """
    used = calibration.used
    lab, residual = calibration.find.chart.lab[used], calibration.fitted.residual[used]
    light = lab + [16.0, 0.0, 0.0]
    light /= np.linalg.norm(light, axis=1)[:, None]
    rest = residual - (residual * light).sum(axis=1)[:, None] * light
    unit = 1.0 + _CHROMA_SHARE * np.hypot(lab[:, 1], lab[:, 2])
    return float((np.linalg.norm(rest, axis=1) / unit).mean())
