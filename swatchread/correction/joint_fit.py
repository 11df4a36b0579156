"""The camera's fit and the light's, in turn: each needs the other.

The fit tells how bright the ground is; the ground, with the chart, tells the light; and in that light the chart is
fitted anew. A shadow's edge has to be known before the first fit: half a chart in the shade draws a tone curve off so
far that no light brings it back. The ground shows it, or the chart itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.chart.definition import ChartDefinition
from swatchread.colour.cielab import Floats
from swatchread.colour.order import median
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
_FAR = 4.0
_LEAST_FAR = 9.0
_GROUND_CELLS = 30
_TURNS = 2
"""Turns before the last fit; they settle after two."""

_CHART_SUSPECTED, _CHART_PAYS, _CHART_FITS = 1.3, 0.75, 3.0
"""Cross-validated CIEDE2000 from which a shadow's edge is looked for on the chart; share and amount that may be left.

On photos without a shadow the best of edges left 0.9 of it and more, with one over the chart 0.25 to 0.7 and 1.8 at
most. A reflection over half the chart is parted by an edge too, but not mended: 4 and more are left.
"""


@dataclass(frozen=True, eq=False)
class Observations:
    """What a photo shows of chart and ground. Places are about -1 to 1, the chart's middle is at 0.

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
        Camera values of pieces of the ground; tristimulus values as the photo has them.
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
        """Degree of the light that so much ground can tell; 0 if it tells none."""
        count = len(self.ground)
        return 3 if count >= _GROUND_CELLS else 2 if count >= _GROUND_CELLS // 2 else 0

    def target(self, light: LightField) -> Target:
        """Return what a fit has to explain under a light."""
        return Target(self.linear, light.smooth(self.place), self.chart.lab, self.weight)

    def bare(self, xyz: Floats) -> Mask:
        """Tell which pieces of the ground, of these tristimulus values, are the bare card's own, shape (m,), bool."""
        return np.asarray(of_one_colour(xyz, self.ground) & select_card_ground(xyz[:, 1], self.ground, self.paint))


@dataclass(frozen=True, eq=False)
class JointFit:
    """A light and a fit that agree.

    Attributes
    ----------
    light : LightField
    fitted : Fitted
    trusted : ndarray, shape (n,)
        Weight of the patches; 0 for those that are far off too.
    bare : ndarray, shape (m,), bool
        Which ground told the light.
    """

    light: LightField
    fitted: Fitted
    trusted: Floats
    bare: Mask

    @property
    def left_out_de00(self) -> float:
        """Mean CIEDE2000 over the trusted patches, each left out of the fit in turn."""
        return float(self.fitted.left_out_de00[self.trusted > 0].mean())


def fit_camera_and_light(scene: Observations) -> JointFit:
    """Fit camera and light.

    Parameters
    ----------
    scene : Observations

    Returns
    -------
    JointFit
    """
    if not scene.degree:
        bare = np.ones(len(scene.ground), dtype=bool)
        return _parted(scene, _fitted(scene, even_light(), bare))
    bare = scene.bare(scene.ground_xyz)
    light = first_light(scene.ground[bare], scene.ground_xyz[bare, 1])
    for turn in range(_TURNS):
        told = _fitted(scene, light, bare)
        if turn == 0:  # a second time the chart tells nothing new
            told = _parted(scene, told)
        xyz = told.fitted.model.xyz(scene.ground_linear)
        bare = scene.bare(xyz)
        light = _light(scene, told, xyz[:, 1], bare)
    return _fitted(scene, light, bare)


def _light(scene: Observations, told: JointFit, ground_seen: Floats, bare: Mask) -> LightField:
    used = told.trusted > 0
    seen = Brightness(
        chart_place=scene.place[used],
        chart_seen=told.fitted.model.xyz(scene.linear)[used, 1],
        chart_true=scene.chart.xyz[used, 1],
        ground_place=scene.ground[bare],
        ground_seen=ground_seen[bare],
        chart_error=CHART_ERROR if scene.shape.rendered else CHART_ERROR_RAW,
    )
    return fit_light(seen, scene.degree, edge=told.light.edge is not None)


def _parted(scene: Observations, told: JointFit) -> JointFit:
    """Return the same with a shadow's edge over the chart, if the chart fits far better so.

    The ground may not show it: a chart can lie half in the shade, and its card not at all. The edge is the one that,
    to first order, leaves least of the misfit when all parameters may follow.
    """
    if told.light.edge is not None or told.left_out_de00 < _CHART_SUSPECTED:
        return told
    left = misfit(scene.target(told.light), told.fitted)
    edge = find_shadow_edge(np.repeat(scene.place, 3, axis=0), left.by_light, left.by_parameter, -left.residual)
    parted = _fitted(scene, replace(told.light, edge=edge), told.bare)
    return parted if parted.left_out_de00 < min(_CHART_PAYS * told.left_out_de00, _CHART_FITS) else told


def _fitted(scene: Observations, light: LightField, bare: Mask) -> JointFit:
    """Fit; leave out patches that are far off (covered, glaring, shaded), the worst first, and fit again."""
    target = scene.target(light)
    fitted = fit_model(target, scene.shape)
    for _ in range(_MOST_COVERED):
        used = target.weight > 0
        off = np.where(used, fitted.left_out_de00, 0.0)
        worst = int(np.argmax(off))
        if off[worst] < max(_FAR * median(off[used]), _LEAST_FAR) or used.sum() <= 12:
            break
        target = replace(target, weight=np.where(np.arange(len(off)) == worst, 0.0, target.weight))
        fitted = fit_model(target, scene.shape)
    return JointFit(light, fitted, target.weight, bare)
