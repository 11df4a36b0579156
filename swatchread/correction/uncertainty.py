"""How far each reading may be off: what the chart left unexplained, how far the colour is from the chart's, the paint.

The parts are added as variances: the misfit of the fit, its leverage, the unevenness of the paint, the photo's grain,
the light field's residual, what the photo cut off, quantisation. How well a chart fits hardly tells how far paint is
off, as long as it fits as charts do; where it fits badly, paint is off as much: so small residuals count little, and
large ones in full. A camera is not an eye: that moves hue and chroma, and hardly lightness, which is why CIEDE2000's
own ellipsoid is too tall for the misfit. Paint errs little inside the chart's colours and much at their rim, where
neither the chart nor its greys hold it: there the misfit grows along a step. Grain does not average out: pixels are
averaged before tone and saturation are undone, which bends and cuts noise otherwise on each colour, and the chart's
own bending teaches the fit only the middle of that. All counts from the values that the chart is said to have: how far
a published chart is from them falls out of comparisons, and is told beside (`ChartDefinition.spread_de00`).

The shares were found by maximum likelihood (Student's t) on simulated scenes that no test uses (kind colour, seeds
130000 to 130059, kind easy, 130100 to 130111), and all widened alike until two errors in three were inside, there and
on the seeds 131000 to 131069 and 131100 to 131115. Grain, the misfit along each axis and the share of blue cut off were
found anew in the same way (colour, 130000 to 130029 and 140000 to 140027; easy, 130100 to 130111, 140101 to 140113),
what a shadow leaves unsure on these, on colour 145000 to 145029 and on colour 146000 to 146023 with a shadow over each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, similarity, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.camera_model import cut
from swatchread.correction.light_field import LEAST_GROUND
from swatchread.correction.reference_uncertainty import reference_variance

_MISFIT = np.array([0.16, 0.9, 0.6])
_MISFIT_OUTSIDE = np.array([2.9, 11.0, 13.0])
"""Shares of the counted variance along L* and in the plane of a* and b*: inside the chart's colours, added outside."""

_ANYWAY, _OF_CHARTS = 0.18, 0.8
"""CIEDE2000 squared: counted however well a chart fits; residuals up to about which they hardly tell of paint."""

_RIM, _RIM_WIDTH = -0.22, 0.025
"""Where the misfit grows, in the units of `outside`."""
_LEVERAGE = 0.22
_OWN = 1.06
_LIGHT_SHARE = 1.8
_DEPTH, _TIED = 0.05, 0.5
"""Share of a shadow's depth that nobody knows; share of what the fit leaves between ground in two lights."""

_CUT = (1.0, 1.56, 10.0)
"""Shares of what was put beyond zero, as variances, in red, green and blue: yellow paint holds hardly any blue."""

_GRAIN, _GRAIN_ALIKE = 0.02, 25.0
"""Share of a pixel's variance that the mean keeps; CIELAB distance over which grain on the chart tells of paint."""

_DIRECTIONS = 72
_LIGHT = 0.0075
_EVEN = 0.02
_SHADOW_DOUBT = 1.5
_LEVEL = 0.29
"""Standard deviation of rounding, in stored levels."""


@dataclass(frozen=True, eq=False)
class UncertainColours:
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
        How far the fit is stretched.
    outside : ndarray, shape (n,)
        How far the colour lies outside the chart's, negative inside: see `outside_chart`.
    """

    lab: Floats
    covariance: Floats
    de00: Floats
    own_de00: Floats
    leverage: Floats
    outside: Floats


def estimate_uncertainty(calibration: Calibration, linear: Floats, error: Floats, points: Floats) -> UncertainColours:
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
    UncertainColours
    """
    fitted = calibration.fitted
    log_light = calibration.log_light(points)
    plain = xyz_to_lab(calibration.xyz(linear, log_light))
    lab = calibration.without_residual(plain)
    metric = de00_metric(lab)
    inverse = np.linalg.inv(metric + 1e-9 * np.eye(3))
    shape = _parameter_spread(calibration, linear, log_light)
    leverage = np.einsum("nij,nji->n", metric, shape)
    outside = outside_chart(lab, calibration.find.chart.lab[calibration.used])
    step = 1.0 / (1.0 + np.exp((_RIM - outside) / _RIM_WIDTH))
    counted = counted_variance(fitted.variance)
    misfit = counted * (_MISFIT + _MISFIT_OUTSIDE * step[:, None])
    misfit = misfit + reference_variance(calibration.find.chart, calibration.used, lab)[:, None]
    root = np.sqrt(misfit / 3.0)
    to_lab = _slopes(calibration, linear, log_light, plain)
    own = _OWN * _own(calibration, linear, error, to_lab)
    grain = _GRAIN * _grain(calibration, to_lab, lab)
    lost = _cut(calibration, linear, log_light, plain)
    light = _light(calibration, points, lab)
    shared = inverse * root[:, :, None] * root[:, None, :] + _LEVERAGE * counted * shape
    covariance = shared + own + grain + lost + light
    return UncertainColours(
        lab=lab,
        covariance=covariance,
        de00=np.sqrt(np.einsum("nij,nji->n", metric, covariance)),
        own_de00=np.sqrt(np.einsum("nij,nji->n", metric, own)),
        leverage=leverage,
        outside=outside,
    )


def counted_variance(variance: float) -> float:
    """Return how much of a fit's residual variance tells of other colours, CIEDE2000 squared.

    Parameters
    ----------
    variance : float
        As `swatchread.correction.camera_fit.Fitted.variance`.

    Returns
    -------
    float
        A small constant for charts that fit well, all but the variance itself for charts that do not.
    """
    return _ANYWAY + variance**2 / (variance + _OF_CHARTS)


def outside_chart(lab: Floats, reference: Floats) -> Floats:
    """Return how far colours lie outside a chart's in saturation, whatever their brightness.

    CIELAB a* and b* over L* + 16 depend on chromaticity alone, so a deep green that is as saturated as no patch lies
    outside although its chroma is small. The distance is that to the convex hull of the chart's chromaticities.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
    reference : ndarray, shape (m, 3)
        CIELAB of the patches.

    Returns
    -------
    ndarray, shape (n,)
        Positive outside; the chart's greys are about -0.5.
    """
    angle = np.linspace(0.0, 2.0 * np.pi, _DIRECTIONS, endpoint=False)
    across = np.stack([np.cos(angle), np.sin(angle)])
    seen, known = ((c[:, 1:] / np.maximum(c[:, :1] + 16.0, 1.0)) @ across for c in (lab, reference))
    return np.asarray((seen - known.max(axis=0)).max(axis=1))


def _cut(calibration: Calibration, linear: Floats, log_light: Floats, fitted: Floats) -> Floats:
    """Return the covariance in CIELAB of what the photo cut off: about as large as the guess, channel by channel."""
    model, covariance = calibration.fitted.model, np.zeros((*fitted.shape, 3))
    if not model.shape.rendered or not cut(linear).any():
        return covariance
    for share, there in zip(_CUT, ((False, True, True), (True, False, True), (True, True, False)), strict=True):
        off = fitted - xyz_to_lab(model.xyz(linear, beyond=there) * np.exp(-log_light)[:, None])
        covariance += share * off[:, :, None] * off[:, None, :]
    return covariance


def _light(calibration: Calibration, points: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of the light's error: more or less light scales L* + 16, a* and b* alike.

    Across a shadow's edge nobody knows for sure which part of the card lies in the chart's light, nor quite how deep
    the shadow is; and where the ground lies in other light than the chart, the fit's own errors part the two.
    """
    field, place = calibration.light, calibration.place(points)
    doubt = _SHADOW_DOUBT * max(0.0, field.unevenness - _EVEN)
    variance = _LIGHT_SHARE * (field.unsure(place) ** 2 / 4.0 + doubt**2 + _LIGHT**2)
    if field.edge is not None:
        variance = variance + (_DEPTH * field.edge.at(place)) ** 2
    variance = variance + _TIED * _tied(calibration, place)
    slope = (lab + np.array([16.0, 0.0, 0.0])) / 3.0 * np.sqrt(variance)[:, None]
    return np.asarray(slope[:, :, None] * slope[:, None, :])


def _tied(calibration: Calibration, place: Floats) -> Floats:
    """Return the variance of log light that the fit's parameters leave between the ground here and near the chart."""
    field, fitted = calibration.light, calibration.fitted
    if len(field.ground_place) < LEAST_GROUND:
        return np.zeros(len(place))
    slopes = fitted.model.brightness_slopes(calibration.ground_linear)
    apart = field.shares(place) @ slopes - np.median(slopes[field.nearest], axis=0)
    return np.asarray(counted_variance(fitted.variance) * np.einsum("np,pq,nq->n", apart, fitted.covariance, apart))


def _parameter_spread(calibration: Calibration, linear: Floats, log_light: Floats) -> Floats:
    """Return the covariance in CIELAB that unit residuals on the chart leave through the fit's parameters."""
    slope = calibration.fitted.model.lab_slopes(linear, log_light)
    return slope @ calibration.fitted.covariance @ slope.transpose(0, 2, 1)


def _slopes(calibration: Calibration, linear: Floats, log_light: Floats, fitted: Floats) -> Floats:
    """Return the slopes of CIELAB by the camera's channels, shape (n, 3, 3)."""
    model = calibration.fitted.model
    step = np.maximum(linear * 1e-3, 1e-6)
    shade = np.exp(-log_light)[:, None]
    moved = [xyz_to_lab(model.xyz(linear + np.eye(3)[k] * step) * shade) - fitted for k in range(3)]
    return np.stack(moved, axis=-1) / step[:, None, :]


def _grain(calibration: Calibration, to_lab: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of single pixels, as noisy as on the chart's patches of about that colour.

    The chart tells it rather than the paint: its patches are even, so that what differs within them is the photo's.
    A raw file's pixels are averaged before anything bends them: their noise is in the paint's own error.
    """
    if not calibration.fitted.model.shape.rendered:
        return np.zeros((*lab.shape, 3))
    used = calibration.used
    near = similarity(lab, calibration.find.chart.lab[used], _GRAIN_ALIKE) + 1e-6
    variance = (near @ calibration.sample.noise[used] ** 2) / near.sum(axis=1, keepdims=True)
    return np.asarray((to_lab * variance[:, None, :]) @ to_lab.transpose(0, 2, 1))


def _own(calibration: Calibration, linear: Floats, error: Floats, to_lab: Floats) -> Floats:
    """Return the covariance in CIELAB of a swatch's own errors: paint and rounding.

    The unevenness of paint is mostly of brightness, alike in the three channels.
    """
    encoding = calibration.find.photo.encoding
    levels = encoding.table.shape[1]
    stored = np.stack([np.interp(linear[:, k], encoding.table[k], np.arange(levels)) for k in range(3)], axis=-1)
    here = np.clip(stored.astype(int), 1, levels - 2)
    slope = np.stack([encoding.table[k][here[:, k] + 1] - encoding.table[k][here[:, k] - 1] for k in range(3)], -1) / 2
    together = (to_lab * error[:, None, :]).sum(axis=-1)
    rounding = to_lab * (_LEVEL * slope / 3.0)[:, None, :]
    return np.asarray(together[:, :, None] * together[:, None, :] + rounding @ rounding.transpose(0, 2, 1))
