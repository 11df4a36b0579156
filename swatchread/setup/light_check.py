"""Whether the light is still that of the kept set-up, judged by the bare ground of a card of the same paper."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import Floats, de00_metric, lab_slope_by_log_light, lab_to_xyz
from swatchread.correction.calibration import Calibration
from swatchread.correction.light_field import spacing, spread
from swatchread.correction.uncertainty import UncertainColours
from swatchread.errors import ChangedLightError
from swatchread.setup.setup_file import Setup

_BRIGHTNESS = 0.04
"""Change of the ground's log brightness at most: about 0.6 L* of a light ground."""

_COLOUR = 1.5
"""Change of the ground's a* and b* at most, CIELAB units."""

_FALL = 0.03
"""Change of the light's unevenness over the card at most, as standard deviation of log brightness."""

_REACH = 2.0
"""Ground is compared with kept ground up to this far away, in distances between kept places."""

_LEAST = 6
"""Places that have to be compared."""

_STEADY, _STEADY_CHROMA = 0.01, 0.2
"""Drift that the ground cannot show: of log brightness, and of a* and b* in CIELAB units."""

_LEAST_LUMINANCE = 1e-4
"""Luminance factor below which the logarithm is not taken."""


@dataclass(frozen=True)
class Drift:
    """How the bare ground differs from that of the kept set-up.

    Attributes
    ----------
    brightness : float
        Natural log of its brightness over the kept one's, median over the places.
    L, a, b : float
        Median difference in CIELAB.
    fall : float
        Standard deviation of that log ratio over the card: how differently the light falls off now.
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
    """Compare bare ground with the kept ground, place by place, by the kept correction.

    Parameters
    ----------
    kept : Calibration
        The correction made from the set-up alone.
    setup : Setup
    linear : ndarray, shape (m, 3)
        Linear RGB of the ground in the new photo.
    points : ndarray, shape (m, 2)
        Where it is, in photo pixels.

    Returns
    -------
    Drift
    """
    before, places = setup.ground_linear, setup.ground_points
    distance = np.linalg.norm(points[:, None] - places[None], axis=-1)
    nearest = distance.argmin(axis=1)
    # Far from the kept ground, the kept light is unknown.
    near = distance.min(axis=1) <= _REACH * spacing(places)
    if not near.any():
        return Drift(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)
    now, then = kept.lab(linear[near], points[near]), kept.lab(before[nearest[near]], places[nearest[near]])
    ratio = np.log(_luminance(now) / _luminance(then))
    L, a, b = (float(v) for v in np.median(now - then, axis=0))
    return Drift(float(np.median(ratio)), L, a, b, spread(ratio), float(np.median(then[:, 0])), int(near.sum()))


def require_same_light(drift: Drift, name: str, settings: tuple[str, ...]) -> None:
    """Refuse a photo whose light is not that of the kept set-up.

    Parameters
    ----------
    drift : Drift
    name : str
        Name of the photo.
    settings : tuple of str
        Camera settings that have changed, which the message names.

    Raises
    ------
    ChangedLightError
        If the ground has another brightness or colour, or if too little of it shows.
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
    """Widen uncertainties by the drift of the light: what the ground shows of it, and what it cannot show.

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
    slope = lab_slope_by_log_light(lab) * bright
    share = (lab[:, 0] + 16.0) / (drift.lightness + 16.0)
    tint = np.zeros_like(lab)
    tint[:, 1] = np.hypot(drift.a, _STEADY_CHROMA) * share
    tint[:, 2] = np.hypot(drift.b, _STEADY_CHROMA) * share
    added = slope[:, :, None] * slope[:, None, :] + np.einsum("ni,ij->nij", tint**2, np.eye(3))
    grown = np.sqrt(colours.de00**2 + np.einsum("nij,nji->n", metric, added))
    return replace(colours, covariance=colours.covariance + added, de00=grown)


def _luminance(lab: Floats) -> Floats:
    """Return the luminance factor, at least as large as a logarithm needs."""
    return np.maximum(lab_to_xyz(lab)[:, 1], _LEAST_LUMINANCE)
