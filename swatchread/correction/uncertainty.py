"""The uncertainty of a reading: what the chart left unexplained, how far the colour is from the chart's, and the paint.

The parts are added as variances: the misfit of the fit, its leverage, the unevenness of the paint, the grain of the
photo, the residual of the light field, what the photo cut off, and rounding.

- Misfit: how well a chart fits hardly shows how far paint is off. How unlike the eye camera and light see does
  (`lamp`): inside the chart's colours the misfit is mostly what mixtures of paint leave at that departure, in hue and
  chroma rather than in lightness. At the rim of the chart's colours no patch holds the fit; there what the chart left
  unexplained counts instead, along a step.
- Grain does not average out, because pixels are averaged before tone and saturation are undone. The bend and the
  cut-off act on each pixel's noise, differently for each colour.
- The values of the chart count as true. How far a published chart is from its own values cancels in comparisons and is
  stated apart (`ChartDefinition.spread_de00`).

The shares were found by maximum likelihood (Student's t) on simulated scenes that no test uses (kind colour, seeds
130000 to 130059, kind easy, 130100 to 130111), then all widened alike until two errors in three were inside, there and
on the seeds 131000 to 131069 and 131100 to 131115. Grain, the misfit along each axis and the share of blue cut off were
found again in the same way (colour, 130000 to 130029 and 140000 to 140027; easy, 130100 to 130111, 140101 to 140113),
and the doubt of a shadow on these, on colour 145000 to 145029 and 146000 to 146023, the latter with a shadow over each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, lab_slope_by_log_light, similarity, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.lamp import Lamp, grey_covariance, mixture_covariance
from swatchread.correction.light_field import LEAST_GROUND, nearest
from swatchread.correction.patch_errors import reference_variance
from swatchread.correction.unrecorded_light import burnt_covariance, cut_covariance

_MIXTURES, _GREYS = (0.1, 0.4), (0.7, 1.1)
"""Shares of the covariance that mixtures of paint, and greys of complements, leave at a departure of one: in daylight,
and by lamps.

The tables' mixtures are of any pigments, and hold what the fit's own parts state already. Chosen on 226 photos of 40
simulated cards by day and by five lamps (5,158 swatches), so that 92 to 98 % lie within twice the uncertainty in each
kind of light, and among near-greys, flesh and saturated colours.
"""

_STEEPNESS, _STEEPNESS_OF_GREYS = 3.0, 2.0
"""Powers of the departure with which the covariance of mixtures, and of greys of complements, grows. A part of each
departure is the chart's own spread, so that small ones say less. A power of 2 is as likely for mixtures; it left three
times as many large errors unstated under tungsten. Greys of complements err in any light: over 320 simulated cameras
and lights the logarithm of their error grew 0.9 times as fast as that of the departure."""

_MISFIT = np.array([0.0, 0.15, 0.3])
"""Shares of the counted variance along L*, a* and b*, inside the chart's colours: small departures leave that much."""

_MISFIT_OUTSIDE = np.array([2.6, 9.9, 11.7])
"""What is added to these shares outside the chart's colours."""

_ANYWAY = 0.18
"""Variance, CIEDE2000 squared, that counts however well a chart fits."""

_OF_CHARTS = 0.8
"""Residual variance, CIEDE2000 squared, up to about which residuals hardly show how far paint is off."""

_RIM, _RIM_WIDTH = -0.22, 0.025
"""Place and width of the step along which the misfit grows, in the units of `outside_chart`."""

_LEVERAGE = 0.22
"""Share of the parameters' covariance."""

_OWN = 1.06
"""Share of the variance of the paint and of rounding."""

_LIGHT_SHARE = 1.8
"""Share of the variance of the light."""

_DEPTH = 0.05
"""Relative error of a shadow's depth."""

_TIED = 0.5
"""Share of the variance that the camera's fit leaves between ground in two lights."""

_GRAIN = 0.02
"""Share of a pixel's variance that stays in the mean."""

_GRAIN_ALIKE = 25.0
"""CIELAB distance over which grain on the chart shows that on paint (standard deviation of a Gaussian)."""

_DIRECTIONS = 72
"""Directions in which the chart's convex hull is measured: every 5 degrees."""

_LIGHT = 0.0075
"""Error of the light that is always there, log intensity."""

_EVEN, _SHADOW_DOUBT = 0.02, 1.5
"""Unevenness of the light above which it is doubted, log intensity, and how many times the excess counts."""

_LEVEL = 0.29
"""Standard deviation of rounding, in stored levels: one over the square root of 12."""


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
        The part that comes from the swatch itself.
    outside : ndarray, shape (n,)
        How far the colour lies outside the chart's, negative inside: see `outside_chart`.
    mixture_de00 : ndarray, shape (n,)
        The part that comes from paint that camera and light see otherwise than the eye does.
    burnt_de00 : ndarray, shape (n,)
        The part that comes from channels that are burnt out.
    """

    lab: Floats
    covariance: Floats
    de00: Floats
    own_de00: Floats
    outside: Floats
    mixture_de00: Floats
    burnt_de00: Floats


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
    outside = outside_chart(lab, calibration.find.chart.lab[calibration.used])
    step = 1.0 / (1.0 + np.exp((_RIM - outside) / _RIM_WIDTH))
    counted = counted_variance(fitted.variance)
    misfit = counted * (_MISFIT + _MISFIT_OUTSIDE * step[:, None])
    misfit = misfit + reference_variance(calibration.find.chart, calibration.used, lab)[:, None]
    root = np.sqrt(misfit / 3.0)
    to_lab = _slopes(calibration, linear, log_light, plain)
    own = _OWN * _own(calibration, linear, error, to_lab)
    grain = _GRAIN * _grain(calibration, to_lab, lab)
    lost = cut_covariance(calibration, linear, log_light, plain)
    burnt = burnt_covariance(calibration, linear, to_lab)
    light = _light(calibration, points, lab)
    shared = inverse * root[:, :, None] * root[:, None, :] + _LEVERAGE * counted * shape
    mixtures = (1.0 - step[:, None, None]) * _mixtures(calibration.lamp, lab)
    covariance = shared + mixtures + own + grain + lost + burnt + light
    return UncertainColours(
        lab=lab,
        covariance=covariance,
        de00=np.sqrt(np.einsum("nij,nji->n", metric, covariance)),
        own_de00=np.sqrt(np.einsum("nij,nji->n", metric, own)),
        outside=outside,
        mixture_de00=np.sqrt(np.einsum("nij,nji->n", metric, mixtures)),
        burnt_de00=np.sqrt(np.einsum("nij,nji->n", metric, burnt)),
    )


def _mixtures(lamp: Lamp, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of how unlike their colour's usual paint mixtures are seen in this light."""
    mixtures, greys = (by_lamps + lamp.daylight * (by_day - by_lamps) for by_day, by_lamps in (_MIXTURES, _GREYS))
    of_mixtures = mixtures * lamp.departure**_STEEPNESS * mixture_covariance(lab)
    return np.asarray(of_mixtures + greys * lamp.departure**_STEEPNESS_OF_GREYS * grey_covariance(lab))


def counted_variance(variance: float) -> float:
    """Return how much of a fit's residual variance counts for other colours, CIEDE2000 squared.

    Parameters
    ----------
    variance : float
        As `swatchread.correction.camera_fit.Fitted.variance`.

    Returns
    -------
    float
        A small constant for charts that fit well, nearly the whole variance for charts that do not.
    """
    return _ANYWAY + variance**2 / (variance + _OF_CHARTS)


def outside_chart(lab: Floats, reference: Floats) -> Floats:
    """Return how far colours lie outside a chart's in saturation, whatever their brightness.

    CIELAB a* and b* over L* + 16 depend on chromaticity alone. So a deep green that is more saturated than every patch
    lies outside, although its chroma is small. The distance is that to the convex hull of the chart's chromaticities.

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


def _light(calibration: Calibration, points: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of the light's error: more or less light scales L* + 16, a* and b* alike.

    Across a shadow's edge it is not certain which part of the card lies in the chart's light, or how deep the shadow
    is. Where the ground lies in other light than the chart, errors of the camera's fit also enter the difference.
    """
    field, place = calibration.light, calibration.place(points)
    doubt = _SHADOW_DOUBT * max(0.0, field.unevenness - _EVEN)
    variance = _LIGHT_SHARE * (field.unsure(place) ** 2 / 4.0 + doubt**2 + _LIGHT**2)
    if field.edge is not None:
        variance = variance + (_DEPTH * field.edge.at(place)) ** 2
    variance = variance + _TIED * _tied(calibration, place) + calibration.card_light_variance(points)
    slope = lab_slope_by_log_light(lab) * np.sqrt(variance)[:, None]
    return np.asarray(slope[:, :, None] * slope[:, None, :])


def _tied(calibration: Calibration, place: Floats) -> Floats:
    """Return the variance of log light from the fit's parameters, between the ground here and that near the chart."""
    field, fitted = calibration.light, calibration.fitted
    if len(field.ground_place) < LEAST_GROUND:
        return np.zeros(len(place))
    slopes = fitted.model.brightness_slopes(calibration.ground_linear)
    apart = field.shares(place) @ slopes - np.median(slopes[nearest(field.ground_place)], axis=0)
    return np.asarray(counted_variance(fitted.variance) * np.einsum("np,pq,nq->n", apart, fitted.covariance, apart))


def _parameter_spread(calibration: Calibration, linear: Floats, log_light: Floats) -> Floats:
    """Return the covariance in CIELAB that comes from the fit's parameters, for unit residuals on the chart."""
    slope = calibration.fitted.model.lab_slopes(linear, log_light)
    return slope @ calibration.fitted.covariance @ slope.transpose(0, 2, 1)


def _slopes(calibration: Calibration, linear: Floats, log_light: Floats, fitted: Floats) -> Floats:
    """Return the slopes of CIELAB by the camera's channels, shape (n, 3, 3)."""
    step = np.maximum(linear * 1e-3, 1e-6)
    moved = [xyz_to_lab(calibration.xyz(linear + np.eye(3)[k] * step, log_light)) - fitted for k in range(3)]
    return np.stack(moved, axis=-1) / step[:, None, :]


def _grain(calibration: Calibration, to_lab: Floats, lab: Floats) -> Floats:
    """Return the covariance in CIELAB of single pixels, which are as noisy as on patches of about that colour.

    The chart shows it better than the paint: its patches are even, so that what varies within them is the photo's.
    The pixels of a raw file are averaged before any curve bends them, so their noise is in the paint's own error.
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
