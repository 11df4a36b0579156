"""Fitting the camera and the light in turn, because each needs the other.

The camera's model gives the brightness of the ground. The ground and the chart together give the light. In that light
the camera is fitted again. A shadow's edge has to be known before the first fit: half a chart in the shade distorts the
tone curve so much that no later light corrects it. The edge shows on the ground or on the chart itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats
from swatchread.correction.camera_fit import Fitted, Target, fit_model, misfit
from swatchread.correction.camera_model import Shape
from swatchread.correction.ground_selection import Mask, of_one_colour, select_card_ground
from swatchread.correction.light_field import (
    CHART_ERROR,
    CHART_ERROR_RAW,
    Brightness,
    LightField,
    even_light,
    first_light,
    fit_light,
)
from swatchread.correction.shadow_edge import find_shadow_edge

_MOST_COVERED = 6
"""Patches at most that are left out because they are far off: a quarter of a classic chart."""

_FEWEST_PATCHES = 12
"""Patches that are kept however far off they are: half of a classic chart."""

_FAR, _LEAST_FAR = 4.0, 9.0
"""A patch is far off above this multiple of the median held-out CIEDE2000, and above this CIEDE2000."""

_GROUND_CELLS = 30
"""Pieces of ground for a light of the third degree; half as many are enough for the second."""

_TURNS = 2
"""How often camera and light are fitted in turn before the last fit; they settle after two."""

_CHART_SUSPECTED = 1.3
"""Cross-validated CIEDE2000 of the chart above which a shadow's edge is looked for on it."""

_CHART_PAYS, _CHART_FITS = 0.75, 3.0
"""The edge is believed if the error falls below this share and below this CIEDE2000.

Measured on simulated photos: without a shadow, the best edge left 0.9 of the error or more; with one over the chart,
0.25 to 0.7 of it, and 1.8 at most. An edge also divides a reflection from the rest, but leaves an error above 4.
"""


@dataclass(frozen=True, eq=False)
class Observations:
    """What a photo shows of chart and ground. Places go from about -1 to 1; the chart's middle is 0.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Camera values of the chart's patches.
    chart : ChartDefinition
    weight : ndarray, shape (n,)
        0 leaves a patch out.
    shape : Shape
        Of the camera's model.
    place : ndarray, shape (n, 2)
        Of the patches.
    ground_linear, ground_xyz : ndarray, shape (m, 3)
        Camera values of pieces of the ground, and their tristimulus values by the photo's own encoding.
    ground : ndarray, shape (m, 2)
        Places of the ground.
    paint : ndarray, shape (k, 2)
        Middles of the swatches.
    """

    linear: Floats
    chart: ChartDefinition
    weight: Floats
    shape: Shape
    place: Floats
    ground_linear: Floats
    ground_xyz: Floats
    ground: Floats
    paint: Floats

    @property
    def degree(self) -> int:
        """Degree of the light polynomial that so much ground can support; 0 if it supports none."""
        count = len(self.ground)
        return 3 if count >= _GROUND_CELLS else 2 if count >= _GROUND_CELLS // 2 else 0

    def target(self, light: LightField) -> Target:
        """Return what the camera is fitted to if this is the light."""
        return Target(self.linear, light.smooth(self.place), self.chart.lab, self.weight)

    def bare(self, xyz: Floats) -> Mask:
        """Tell which pieces of ground, with tristimulus values of shape (m, 3), belong to the bare card."""
        return of_one_colour(xyz, self.ground) & select_card_ground(xyz[:, 1], self.ground, self.paint)


@dataclass(frozen=True, eq=False)
class JointFit:
    """A camera fit with the light that it was made in.

    Attributes
    ----------
    light : LightField
    fitted : Fitted
    trusted : ndarray, shape (n,)
        Weight of the patches; 0 for those that are far off too.
    bare : ndarray, shape (m,), bool
        Which pieces of ground the light was fitted to.
    """

    light: LightField
    fitted: Fitted
    trusted: Floats
    bare: Mask

    @property
    def left_out_de00(self) -> float:
        """Mean CIEDE2000 over the trusted patches, each left out of the fit in turn."""
        return float(self.fitted.left_out_de00[self.trusted > 0].mean())


def fit_camera_and_light(observations: Observations) -> JointFit:
    """Fit camera and light.

    Parameters
    ----------
    observations : Observations

    Returns
    -------
    JointFit
    """
    if not observations.degree:
        bare = np.ones(len(observations.ground), dtype=bool)
        return _with_shadow_on_chart(observations, _fit_camera(observations, even_light(), bare))
    bare = observations.bare(observations.ground_xyz)
    light = first_light(observations.ground[bare], observations.ground_xyz[bare, 1])
    for turn in range(_TURNS):
        joint = _fit_camera(observations, light, bare)
        if turn == 0:  # the chart shows nothing new the second time
            joint = _with_shadow_on_chart(observations, joint)
        xyz = joint.fitted.model.xyz(observations.ground_linear)
        bare = observations.bare(xyz)
        light = _light(observations, joint, xyz[:, 1], bare)
    return _fit_camera(observations, light, bare)


def _light(observations: Observations, joint: JointFit, ground_seen: Floats, bare: Mask) -> LightField:
    used = joint.trusted > 0
    seen = Brightness(
        chart_place=observations.place[used],
        chart_seen=joint.fitted.model.xyz(observations.linear)[used, 1],
        chart_true=observations.chart.xyz[used, 1],
        ground_place=observations.ground[bare],
        ground_seen=ground_seen[bare],
        chart_error=CHART_ERROR if observations.shape.rendered else CHART_ERROR_RAW,
    )
    return fit_light(seen, observations.degree, edge=joint.light.edge is not None)


def _with_shadow_on_chart(observations: Observations, joint: JointFit) -> JointFit:
    """Return the fit with a shadow's edge over the chart, if that fits the chart far better.

    The ground may not show the edge: a chart can lie half in the shade while its card does not. The edge is the one
    that leaves the least misfit, to first order, when all parameters of the camera may adjust to it.
    """
    if joint.light.edge is not None or joint.left_out_de00 < _CHART_SUSPECTED:
        return joint
    rest = misfit(observations.target(joint.light), joint.fitted)
    edge = find_shadow_edge(np.repeat(observations.place, 3, axis=0), rest.by_light, rest.by_parameter, -rest.residual)
    with_edge = _fit_camera(observations, replace(joint.light, edge=edge), joint.bare)
    return with_edge if with_edge.left_out_de00 < min(_CHART_PAYS * joint.left_out_de00, _CHART_FITS) else joint


def _fit_camera(observations: Observations, light: LightField, bare: Mask) -> JointFit:
    """Fit the camera, leaving out patches that are far off (covered, glaring, shaded): the worst first, one a fit."""
    target = observations.target(light)
    fitted = fit_model(target, observations.shape)
    for _ in range(_MOST_COVERED):
        used = target.weight > 0
        off = np.where(used, fitted.left_out_de00, 0.0)
        worst = int(np.argmax(off))
        if used.sum() <= _FEWEST_PATCHES or off[worst] < max(_FAR * np.median(off[used]), _LEAST_FAR):
            break
        target = replace(target, weight=np.where(np.arange(len(off)) == worst, 0.0, target.weight))
        fitted = fit_model(target, observations.shape)
    return JointFit(light, fitted, target.weight, bare)
