"""How far each reading may be off: what the chart left unexplained, how far the colour is from the chart's, the paint.

Four parts are added as variances: the residual variance of the fit, spread over the colours by the leverage of the
fit; the distance from the nearest patch, since a camera is not an eye and only the chart's pigments were checked; the
unevenness of the paint; the light field's residual and the photo's quantisation. One factor, found on simulated scenes
that no test uses, makes 68 % of the errors smaller than the stated value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour import Floats, de00_metric, xyz_to_lab
from swatchread.correction.calibrate import Calibration
from swatchread.correction.reference import reference_variance

_SHARE_OF_FIT = 0.3
_PER_DISTANCE = 3.0 / 40.0**2
_COVERAGE = 1.03
_LIGHT = 0.008
_EVEN = 0.02
_SHADOW_DOUBT = 1.5
_LEVEL = 0.29
"""Standard deviation of rounding, in stored levels."""


@dataclass(frozen=True, eq=False)
class Uncertain:
    """Readings with their uncertainty.

    Attributes
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    covariance : ndarray, shape (n, 3, 3)
    de00 : ndarray, shape (n,)
        About 68 % of the errors, in CIEDE2000, are smaller.
    own_de00 : ndarray, shape (n,)
        The part that is each swatch's own.
    leverage : ndarray, shape (n,)
        How far beyond the chart's colours the fit is stretched: above about 4, it extrapolates.
    """

    lab: Floats
    covariance: Floats
    de00: Floats
    own_de00: Floats
    leverage: Floats


def uncertain(calibration: Calibration, linear: Floats, error: Floats, points: Floats) -> Uncertain:
    """Turn camera values into CIELAB with its uncertainty.

    Parameters
    ----------
    calibration : Calibration
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding.
    error : ndarray, shape (n, 3)
        Standard errors of the same, from the paint itself.
    points : ndarray, shape (n, 2)
        Where, photo pixels.

    Returns
    -------
    Uncertain
    """
    fitted = calibration.fitted
    log_light = calibration.log_light(points)
    lab = xyz_to_lab(calibration.xyz(linear, log_light))
    metric = de00_metric(lab)
    inverse = np.linalg.inv(metric + 1e-9 * np.eye(3))
    shape = _parameter_spread(calibration, linear, log_light, lab)
    leverage = np.einsum("nij,nji->n", metric, shape)
    reference = calibration.find.chart.lab[calibration.used]
    nearest = np.linalg.norm(lab[:, None] - reference[None], axis=-1).min(axis=1)
    misfit = _SHARE_OF_FIT * fitted.variance + _PER_DISTANCE * nearest**2
    misfit = misfit + reference_variance(calibration.find.chart, calibration.used, lab)
    own = _own(calibration, linear, error, log_light, lab)
    light = _light(calibration, points, lab)
    shared = inverse * (misfit / 3.0)[:, None, None] + fitted.variance * shape
    covariance = _COVERAGE**2 * (shared + own + light)
    own_variance = np.einsum("nij,nji->n", metric, own) * _COVERAGE**2
    return Uncertain(
        lab=lab,
        covariance=covariance,
        de00=np.sqrt(np.einsum("nij,nji->n", metric, covariance)),
        own_de00=np.sqrt(own_variance),
        leverage=leverage,
    )


def _light(calibration: Calibration, points: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of the light's error: more or less light scales L* + 16, a* and b* alike.

    Across a shadow's edge nobody knows for sure which part of the card lies in the chart's light.
    """
    field = calibration.light
    uneven = field.unevenness
    doubt = _SHADOW_DOUBT * max(0.0, uneven - _EVEN)
    sigma = np.sqrt(field.unsure(calibration.place(points)) ** 2 / 4.0 + doubt**2 + _LIGHT**2)
    slope = (lab + np.array([16.0, 0.0, 0.0])) / 3.0 * sigma[:, None]
    return np.asarray(slope[:, :, None] * slope[:, None, :])


def _parameter_spread(calibration: Calibration, linear: Floats, log_light: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB that unit residuals on the chart leave through the fit's parameters."""
    model = calibration.fitted.model
    vector, shade = model.vector, np.exp(-log_light)[:, None]
    step = 1e-4
    slope = np.stack(
        [
            (xyz_to_lab(model.with_vector(vector + d).xyz(linear) * shade) - lab) / step
            for d in np.eye(len(vector)) * step
        ],
        axis=-1,
    )
    return np.asarray(slope @ calibration.fitted.covariance @ slope.transpose(0, 2, 1))


def _own(calibration: Calibration, linear: Floats, error: Floats, log_light: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of a swatch's own errors: paint and rounding.

    The unevenness of paint is mostly of brightness, alike in the three channels.
    """
    model, encoding = calibration.fitted.model, calibration.find.photo.encoding
    levels = encoding.table.shape[1]
    stored = np.stack([np.interp(linear[:, k], encoding.table[k], np.arange(levels)) for k in range(3)], axis=-1)
    here = np.clip(stored.astype(int), 1, levels - 2)
    slope = np.stack([encoding.table[k][here[:, k] + 1] - encoding.table[k][here[:, k] - 1] for k in range(3)], -1) / 2
    step = np.maximum(linear * 1e-3, 1e-6)
    shifts = [xyz_to_lab(model.xyz(linear + np.eye(3)[k] * step) * np.exp(-log_light)[:, None]) - lab for k in range(3)]
    to_lab = np.stack(shifts, axis=-1) / step[:, None, :]
    together = (to_lab * error[:, None, :]).sum(axis=-1)
    rounding = to_lab * (_LEVEL * slope / 3.0)[:, None, :]
    return np.asarray(together[:, :, None] * together[:, None, :] + rounding @ rounding.transpose(0, 2, 1))
