"""Whether the light is still the one that a set-up was kept in: the bare ground of a card of the same stock tells."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, lab_to_xyz
from swatchread.colour.order import median, medians, quantiles
from swatchread.correction.calibration import Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.errors import ChangedLightError
from swatchread.setup.setup_file import Setup

_BRIGHTNESS = 0.04
_COLOUR = 1.5
_FALL = 0.03
"""What may change: log brightness of the ground, its a* and b* (CIELAB), and how differently over the card."""

_REACH = 2.0
_LEAST = 6
_STEADY = 0.01
_STEADY_CHROMA = 0.2
"""Drift that the ground cannot show: log brightness, and a*, b* in CIELAB."""


@dataclass(frozen=True)
class Drift:
    """How the bare ground differs from when the set-up was kept.

    Attributes
    ----------
    brightness : float
        Natural log of the ratio, median over the places.
    L, a, b : float
        Median difference in CIELAB.
    fall : float
        Spread of the log ratio over the card: how differently the light falls off now.
    lightness : float
        L* of the kept ground.
    places : int
        Places that could be compared.
    """

    brightness: float
    L: float
    a: float
    b: float
    fall: float
    lightness: float
    places: int


def ground_drift(kept: Calibration, setup: Setup, linear: Floats, points: Floats) -> Drift:
    """Compare bare ground with the kept one, place by place, through the kept correction.

    Parameters
    ----------
    kept : Calibration
        Made from the set-up alone.
    setup : Setup
    linear : ndarray, shape (m, 3)
        Linear RGB of the ground in the new photo.
    points : ndarray, shape (m, 2)
        Where, photo pixels.

    Returns
    -------
    Drift
    """
    before, places = setup.ground_linear, setup.ground_points
    apart = np.linalg.norm(places[:, None] - places[None], axis=-1)
    np.fill_diagonal(apart, np.inf)
    reach = _REACH * median(apart.min(axis=1))
    if not len(points):
        return Drift(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    distance = np.linalg.norm(points[:, None] - places[None], axis=-1)
    nearest = distance.argmin(axis=1)
    # Beyond the kept ground nobody knows what the light was.
    near = distance.min(axis=1) <= reach
    if not near.any():
        return Drift(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    now, then = kept.lab(linear[near], points[near]), kept.lab(before[nearest[near]], places[nearest[near]])
    ratio = np.log(_luminance(now) / _luminance(then))
    low, high = quantiles(ratio, [0.1, 0.9])
    L, a, b = (float(v) for v in medians(now - then))
    return Drift(median(ratio), L, a, b, float(high - low) / 2.56, median(then[:, 0]), int(near.sum()))


def require_same_light(drift: Drift, name: str, settings: tuple[str, ...]) -> None:
    """Refuse a photo whose light is not the kept one.

    Parameters
    ----------
    drift : Drift
    name : str
        The photo's.
    settings : tuple of str
        Camera settings that have changed, for the reason.

    Raises
    ------
    ChangedLightError
        If the ground has another brightness or colour, or there is too little of it to tell.
    """
    if drift.places < _LEAST:
        raise ChangedLightError(
            f"Nothing in {name} shows that the light is still the same",
            f"bare ground shows in {drift.places} places where the set-up's card had some, {_LEAST} are needed",
            "Lay the card where the first one lay, with bare ground between its swatches, or keep the set-up anew "
            "with --keep-setup",
        )
    why = _changes(drift)
    if why:
        also = f"; the camera was set otherwise: {', '.join(settings)}" if settings else ""
        raise ChangedLightError(f"The light in {name} is not the one that the set-up was kept in", f"{why}{also}")


def _changes(drift: Drift) -> str:
    found = []
    percent = 100.0 * (np.exp(drift.brightness) - 1.0)
    if abs(drift.brightness) > _BRIGHTNESS:
        word = "brighter" if percent > 0 else "darker"
        found.append(f"{abs(percent):.1f} % {word} ({100 * _BRIGHTNESS:.0f} % at most)")
    if np.hypot(drift.a, drift.b) > _COLOUR:
        found.append(f"{_direction(drift)} by {np.hypot(drift.a, drift.b):.1f} CIELAB units ({_COLOUR:g} at most)")
    if drift.fall > _FALL:
        found.append(f"unevenly lit in another way ({100 * drift.fall:.1f} %, {100 * _FALL:.0f} % at most)")
    return f"the bare ground comes out {', '.join(found)}" if found else ""


def _direction(drift: Drift) -> str:
    if abs(drift.a) > abs(drift.b):
        return "redder" if drift.a > 0 else "greener"
    return "yellower" if drift.b > 0 else "bluer"


def widened(colours: UncertainColours, drift: Drift) -> UncertainColours:
    """Widen uncertainties by what the light may have drifted: as far as the ground did, and what it cannot show.

    Parameters
    ----------
    colours : UncertainColours
    drift : Drift

    Returns
    -------
    UncertainColours
    """
    lab = colours.lab
    metric = de00_metric(lab)
    bright = np.hypot(drift.brightness, _STEADY)
    slope = (lab + np.array([16.0, 0.0, 0.0])) / 3.0 * bright
    share = (lab[:, 0] + 16.0) / (drift.lightness + 16.0)
    tint = np.zeros_like(lab)
    tint[:, 1] = np.hypot(drift.a, _STEADY_CHROMA) * share
    tint[:, 2] = np.hypot(drift.b, _STEADY_CHROMA) * share
    added = slope[:, :, None] * slope[:, None, :] + np.einsum("ni,ij->nij", tint**2, np.eye(3))
    grown = np.sqrt(colours.de00**2 + np.einsum("nij,nji->n", metric, added))
    return replace(colours, covariance=colours.covariance + added, de00=grown)


def _luminance(lab: Floats) -> Floats:
    """Return relative luminance, kept off zero."""
    return np.asarray(np.maximum(lab_to_xyz(lab)[:, 1], 1e-4))
