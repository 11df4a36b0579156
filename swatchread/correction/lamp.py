"""What the chart tells of camera and light together: how unlike the eye they see, and of what kind the light is.

If the eye's colours were a plain matrix of the camera's (Luther's condition), any paint could be read in that light.
They are not, and what a plain matrix leaves on the chart's patches shows how far: the departure. A richer model fits
the patches better, but other paints of the same colour still have other spectra, which no fit knows.

How far such paint is read off follows the departure, whatever the lamp. Over 1,000 simulated cameras and lights, the
departure explained half to two thirds of how the logarithm of the errors in one region of colour differs from photo to
photo. The kind of lamp explained 2 to 6 % alone, and 4 % at most beside the departure. So the uncertainty follows the
departure. The kind of light is told for the painter, who can change the lamp.

`calibration/light_prior.py` makes the tables: the covariance of the errors for a departure of one, of mixtures of all
sorts and of greys mixed of complements, and the weights that tell the kind of light. A white balance hides the light's
cast. It changes nothing in what a plain matrix leaves, because that undoes it.

A photo cannot tell a grey of black and white from one of two strong complements, whose spectrum is all bands. The
latter are read off two to three times as far as other mixtures. So every near-grey may be one, the less likely the more
it leans to a colour, and least to flesh and earth.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np

from swatchread.chart.definition import ChartDefinition, load_chart
from swatchread.chart.patch_sampling import ChartSample
from swatchread.colour.cielab import Floats, de00_metric, xyz_to_lab
from swatchread.colour.shipped_data import data_file
from swatchread.correction.camera_fit import Fitted, Target
from swatchread.correction.camera_prior import WORKING_TO_XYZ

Kind = Literal["daylight", "tungsten", "fluorescent", "led", "unknown"]

KINDS: Final[tuple[Kind, ...]] = ("daylight", "tungsten", "fluorescent", "led")
"""Kinds of light that are told apart, in the order of `Lamp.probability`."""

_BEFORE: Floats = np.array([3.0, 1.0, 1.0, 1.0]) / 6.0
"""Probability of each kind before the chart is seen: half of the photos are taken in daylight (assumed)."""

_NO_DAYLIGHT = 0.5
"""Probability of daylight below which a lamp is told: it is the likelier then. Of 65 simulated charts in daylight five
fell below, three of them in hard shadows; of 28 under tungsten 27, and of 40 under tubes all."""

_DAYLIGHT = 0.8
"""Probability of daylight above which it is told."""

_PLAIN_FREEDOM = 9
"""Degrees of freedom of a plain matrix."""

_FAINT = 1e-4
"""Least linear value of a plain matrix, of a perfect white's."""

_REACH = 18.0
"""CIELAB distance over which the errors of mixtures are alike (standard deviation of a Gaussian)."""

_LEAN, _LEAN_WARM, _WARM = 12.0, 4.0, 55.0
"""Standard deviation of a* and b* among colours that may be greys mixed of complements, CIELAB units, and its least, in
the direction of this hue, degrees. Muted greens, blues and violets of paint hardly have another origin, and such greys
are read as these where they are read wrong. Flesh and earth colours mostly are other mixtures."""

_GREY = 5.0
"""Chroma of a grey patch at most, CIELAB units."""

_LEAST_LUMINANCE = 1e-6
"""Keeps a black grey from being divided by."""

_LEAST_SQUARE = 0.1
"""CIEDE2000 squared, added to a patch's squared residual before its logarithm is taken."""


@dataclass(frozen=True, eq=False)
class Lamp:
    """What a chart tells of camera and light.

    Attributes
    ----------
    departure : float
        What a plain matrix leaves on the chart: root mean square along an axis of colour, CIEDE2000.
    probability : ndarray, shape (4,)
        Of each of `KINDS`. A chart whose patches are not those of the classic one tells nothing of it.
    cast : float
        Chroma of the chart's lightest usable grey before correction, CIELAB units.
    """

    departure: float
    probability: Floats
    cast: float = 0.0

    @property
    def daylight(self) -> float:
        """Probability of daylight."""
        return float(self.probability[0])

    @property
    def kind(self) -> Kind:
        """The kind of light that the chart tells, if it tells daylight from lamps; else unknown."""
        if self.daylight >= _DAYLIGHT:
            return KINDS[0]
        if self.daylight >= _NO_DAYLIGHT:
            return "unknown"
        return KINDS[1 + int(np.argmax(self.probability[1:]))]


def tell_lamp(target: Target, fitted: Fitted, chart: ChartDefinition, cast: Floats) -> Lamp:
    """Tell how unlike the eye camera and light see, and the kind of light.

    Parameters
    ----------
    target : Target
        What the camera's model was fitted to.
    fitted : Fitted
    chart : ChartDefinition
    cast : ndarray, shape (2,)
        CIELAB a* and b* of the chart's white before correction: see `cast_of`.

    Returns
    -------
    Lamp
    """
    residual, used = plain_residual(target, fitted), target.weight > 0
    freedom = max(3 * int(used.sum()) - _PLAIN_FREEDOM, 1)
    classic = chart.patch_names == load_chart().patch_names
    probability = kind_probability(evidence(residual, cast)) if classic else _BEFORE
    return Lamp(float(np.sqrt((residual**2).sum() / freedom)), probability, float(np.hypot(*cast)))


def cast_of(sample: ChartSample) -> Floats:
    """Return a* and b* of the chart's lightest usable grey before correction, shape (2,); 0 without one.

    Parameters
    ----------
    sample : ChartSample

    Returns
    -------
    ndarray, shape (2,)
    """
    chart, encoding = sample.find.chart, sample.find.photo.encoding
    grey = (np.hypot(*chart.lab[:, 1:].T) < _GREY) & ~sample.clipped
    if not grey.any():
        return np.zeros(2)
    lightest = int(np.argmax(np.where(grey, chart.lab[:, 0], -1.0)))
    xyz = sample.linear[lightest] @ encoding.to_xyz.T
    return xyz_to_lab(xyz / max(xyz[1], _LEAST_LUMINANCE) * chart.xyz[lightest, 1])[1:]


def plain_residual(target: Target, fitted: Fitted) -> Floats:
    """Return what a plain matrix leaves on the patches, along three axes of CIEDE2000, shape (n, 3); 0 where unused."""
    model = fitted.model
    working = np.maximum(model.undone(target.linear) @ model.frame, _FAINT)
    seen = xyz_to_lab((working @ WORKING_TO_XYZ.T) * np.exp(-target.light)[:, None])
    root = np.linalg.cholesky(de00_metric(target.lab) + 1e-9 * np.eye(3)).transpose(0, 2, 1)
    off = (root @ (seen - target.lab)[..., None])[..., 0]
    return np.asarray(np.where((target.weight > 0)[:, None], off, 0.0))


def evidence(residual: Floats, cast: Floats) -> Floats:
    """Return the numbers that tell the kind of light, shape (4 n + 2,): residuals, their sizes, and the cast."""
    size = np.log((residual**2).sum(axis=1) + _LEAST_SQUARE)
    return np.concatenate([residual.ravel(), size, cast])


def kind_probability(numbers: Floats) -> Floats:
    """Return the probability of each kind of light, shape (4,), by multinomial logistic regression on `evidence`."""
    score = _kind_weights() @ np.append(1.0, numbers)
    likely = _BEFORE * np.exp(score - score.max())
    return np.asarray(likely / likely.sum())


def mixture_covariance(lab: Floats) -> Floats:
    """Return the covariance of the errors of mixtures in CIELAB, shape (n, 3, 3), for a departure of one.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)

    Returns
    -------
    ndarray, shape (n, 3, 3)
    """
    colours, covariance = _errors("mixture-errors.csv")
    apart = np.linalg.norm(lab[:, None] - colours[None], axis=-1)
    beyond = np.sqrt(np.maximum(apart**2 - apart.min(axis=1, keepdims=True) ** 2, 0.0))
    near = np.exp(-(beyond**2) / (2.0 * _REACH**2))
    return np.asarray(np.einsum("nk,kij->nij", near / near.sum(axis=1, keepdims=True), covariance))


def grey_covariance(lab: Floats) -> Floats:
    """Return the covariance in CIELAB, shape (n, 3, 3), that greys of complements add for a departure of one.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)

    Returns
    -------
    ndarray, shape (n, 3, 3)
        All of it for neutral colours, hardly any for flesh and earth, and little beyond a chroma of 30.
    """
    greys, covariance = _errors("grey-errors.csv")
    lightness = np.clip(lab[:, 0], greys[0, 0], greys[-1, 0])
    between = np.stack([np.interp(lightness, greys[:, 0], column) for column in covariance.reshape(-1, 9).T], axis=-1)
    warm = np.array([np.cos(np.radians(_WARM)), np.sin(np.radians(_WARM))])
    along, across = lab[:, 1:] @ warm, lab[:, 1:] @ np.array([-warm[1], warm[0]])
    likely = np.exp(-((along / np.where(along > 0.0, _LEAN_WARM, _LEAN)) ** 2 + (across / _LEAN) ** 2) / 2.0)
    return np.asarray(between.reshape(-1, 3, 3) * likely[:, None, None])


@cache
def _kind_weights() -> Floats:
    return np.loadtxt(data_file("light-kinds.csv"), delimiter=",", skiprows=1, usecols=range(1, 1 + len(KINDS))).T


@cache
def _errors(name: str) -> tuple[Floats, Floats]:
    """Return the colours of a table of errors, shape (k, 3), and their covariances, shape (k, 3, 3)."""
    table = np.loadtxt(data_file(name), delimiter=",", skiprows=1)
    rows, columns = np.triu_indices(3)
    covariance = np.zeros((len(table), 3, 3))
    covariance[:, rows, columns] = covariance[:, columns, rows] = table[:, 3:]
    return table[:, :3], covariance
