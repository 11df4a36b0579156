"""Local tone mapping: the camera lifts darks and holds lights by place, and so renders equal things unequally.

Two things show it. The patches are even, yet the rims of some, beside the dark frame, come out lighter than their
middles; blur makes them darker. And the bare ground is even, yet it comes out darker where its surroundings are light.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.correction.calibration import Calibration
from swatchread.correction.light_field import light_basis

# Measured on 10 simulated photos, each without and with three kinds of local tone mapping, and on 52 others without.

_RIM_DIFFERS = 0.0017
"""Log brightness by which the rims of a quarter of the patches are lighter than their middles: of 82 other simulated
photos without local tone mapping one was above and the next had 0.0013; of 16 with it eight or nine were above."""

_SLOPE, _SLOPE_SIGMAS = -0.03, 4.5
"""Log brightness of the ground per log brightness of its surroundings that counts at all, and how many standard errors
from 0 prove it: without local tone mapping it was between -0.02 and 0.02, with it down to -0.27."""

_LEAST_GROUND = 30
"""Pieces of ground that are needed for a slope."""

_ROUNDS = 5
"""Times that the robust weights are computed."""

_DEGREE = 2
"""Degree of the polynomial over the card that is taken for the light."""

_DOUBT = 0.1
"""Standard deviation of the log light of swatches in such a photo: their L* was 1 to 5 off."""


def doubt_local_tone(calibration: Calibration, rim_difference: float, surroundings: Floats) -> Calibration:
    """Return a calibration whose light is doubted if the photo shows local tone mapping.

    Parameters
    ----------
    calibration : Calibration
    rim_difference : float
        As `swatchread.chart.patch_sampling.rim_difference`.
    surroundings : ndarray, shape (m, k)
        Log brightness of the surroundings of each piece of ground, averaged over k reaches.

    Returns
    -------
    Calibration
    """
    # A shadow's edge across the chart makes rims unlike middles, too.
    rims = rim_difference / _RIM_DIFFERS if calibration.light.edge is None else 0.0
    evidence = np.hypot(rims, _clear_of_zero(calibration, surroundings) / _SLOPE_SIGMAS)
    if evidence < 1.0:
        return calibration
    light = calibration.card_light
    return replace(calibration, card_light=replace(light, local_tone=True, doubt=float(np.hypot(light.doubt, _DOUBT))))


def _clear_of_zero(calibration: Calibration, surroundings: Floats) -> float:
    """Return by how many standard errors the ground is darker where its surroundings are light; 0 if it is not."""
    if len(surroundings) < _LEAST_GROUND:
        return 0.0
    place = calibration.place(calibration.ground_points)
    light = np.column_stack([np.ones(len(place)), light_basis(place, _DEGREE)])
    seen = calibration.fitted.model.xyz(calibration.ground_linear)[:, 1]
    columns = np.column_stack([np.log(np.maximum(seen, 1e-4)), surroundings])
    rest = columns - light @ np.linalg.lstsq(light, columns, rcond=None)[0]
    slopes = (_slope(rest[:, 0], around) for around in rest[:, 1:].T)
    return max((-slope / error for slope, error in slopes if slope < _SLOPE), default=0.0)


def _slope(ground: Floats, around: Floats) -> tuple[float, float]:
    """Return the robust slope (Geman & McClure) of one residual over another, and its standard error."""
    weight, slope, spread = np.ones(len(ground)), 0.0, 0.0
    for _ in range(_ROUNDS):
        power = max(float((weight * around**2).sum()), 1e-9)
        slope = float((weight * around * ground).sum()) / power
        off = ground - slope * around
        spread = 1.5 * float(np.median(np.abs(off))) + 1e-4
        weight = 1.0 / (1.0 + (off / (2.0 * spread)) ** 2)
    return slope, spread / float(np.sqrt(power))
