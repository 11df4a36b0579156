"""The correction of one photo: which patches count, which camera model is fitted, and whether it can be trusted."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind
from swatchread.chart.patch_sampling import ChartSample, sample_chart
from swatchread.colour.cielab import Floats, xyz_to_lab
from swatchread.correction.camera_fit import Fitted, Target, fit_model
from swatchread.correction.camera_model import BEYOND_ALL, Shape
from swatchread.correction.camera_prior import WORKING_TO_XYZ
from swatchread.correction.joint_fit import Observations, fit_camera_and_light
from swatchread.correction.lamp import Lamp, cast_of, tell_lamp
from swatchread.correction.light_field import LightField
from swatchread.correction.light_on_card import CardLight
from swatchread.correction.patch_errors import ResidualField, reference_weight, residual_field
from swatchread.errors import PoorReadingError
from swatchread.photo.icc_profile import linear_encoding

TRUSTED_DE00 = 6.0
"""Cross-validated CIEDE2000 above which a reading is refused unless the painter accepts a poor one."""

_LEAST_PATCHES = 10
"""Patches that a fit needs at least; a chart of fewer needs all of its own."""

_LOW, _LOW_WEIGHT = 2e-3, 0.3
"""Linear value, of full scale, below which a channel is mostly noise; the weight of such a patch in the fit."""

_GLARE = 0.6
"""Unevenness of a patch above which it shines (see `ChartSample.unevenness`)."""

_MOST_TONE, _PATCHES_PER_TONE = 5, 4
"""Terms of the tone curve at most, and patches that each of them needs."""

_MUCH_BETTER = 0.6
"""Linear light is believed if its error is below this share of the stated encoding's."""


@dataclass(frozen=True, eq=False)
class Calibration:
    """A photo's correction.

    Attributes
    ----------
    sample : ChartSample
    fitted : Fitted
    light : LightField
    residual_field : ResidualField
        What the fit leaves near a colour.
    ground_linear : ndarray, shape (m, 3)
        Camera values of the pieces of ground that belong to the card and showed the light.
    ground_points : ndarray, shape (m, 2)
        Where they are, in photo pixels.
    used : ndarray, shape (n,), bool
        Patches that were used in the fit.
    centre : ndarray, shape (2,)
        Middle of the chart in lattice units.
    extent : float
        Lattice units that are 1 in the coordinates of the light field.
    lamp : Lamp
        How unlike the eye camera and light see, and the kind of light.
    card_light : CardLight
    """

    sample: ChartSample
    fitted: Fitted
    light: LightField
    residual_field: ResidualField
    ground_linear: Floats
    ground_points: Floats
    used: npt.NDArray[np.bool_]
    centre: Floats
    extent: float
    lamp: Lamp
    card_light: CardLight = field(default_factory=CardLight)

    @property
    def find(self) -> ChartFind:
        """The chart."""
        return self.sample.find

    @property
    def mean_de00(self) -> float:
        """Mean CIEDE2000 of the fit over the patches used."""
        return float(self.fitted.de00[self.used].mean())

    @property
    def max_de00(self) -> float:
        """Largest CIEDE2000 of the fit over the patches used."""
        return float(self.fitted.de00[self.used].max())

    @property
    def cross_validated_de00(self) -> float:
        """Mean CIEDE2000 over the patches used, each left out of the fit in turn."""
        return float(self.fitted.left_out_de00[self.used].mean())

    def place(self, points: Floats) -> Floats:
        """Convert photo pixels to the coordinates of the light field."""
        return (self.find.to_lattice(points) - self.centre) / self.extent

    @cached_property
    def ground_xyz(self) -> Floats | None:
        """Tristimulus values of the bare ground, the median, shape (3,); None if none shows."""
        if not len(self.ground_linear):
            return None
        xyz = self.xyz(self.ground_linear, self.log_light(self.ground_points))
        return np.asarray(np.median(xyz, axis=0))

    def lab(self, linear: Floats, points: Floats) -> Floats:
        """Return CIELAB (D50, 2 degree) of camera values seen at places of the photo.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
            Linear RGB through the photo's own encoding.
        points : ndarray, shape (n, 2)
            Photo pixels.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        return self.without_residual(xyz_to_lab(self.xyz(linear, self.log_light(points))))

    def without_residual(self, fitted: Floats) -> Floats:
        """Return fitted CIELAB, shape (n, 3), minus what the fit leaves near each colour."""
        return fitted - self.residual_field.at(fitted)

    def log_light(self, points: Floats) -> Floats:
        """Return the natural log of the light at photo pixels of the card; it is 0 in the middle of the chart."""
        place = self.place(points)
        return self.light.smooth(place) + self.light.near(place) + self.card_light.step

    def card_light_variance(self, points: Floats) -> Floats:
        """Return the variance of the log light at photo pixels that the witnesses of the card's light leave."""
        apart = np.linalg.norm(self.find.to_lattice(points)[:, None] - self.find.chart.centres[None], axis=-1)
        light = self.card_light
        return light.doubt**2 + light.doubt_per_pitch**2 * np.asarray(apart.min(axis=1))

    def xyz(self, linear: Floats, log_light: Floats, beyond: tuple[bool, bool, bool] = BEYOND_ALL) -> Floats:
        """Return the fitted tristimulus values of camera values that were seen on the card in some log light.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
        log_light : ndarray, shape (n,)
        beyond : tuple of bool
            As in `swatchread.correction.camera_model.CameraModel.xyz`.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        return self.in_light(self.fitted.model.xyz(linear, beyond=beyond), log_light)

    def in_light(self, seen: Floats, log_light: Floats) -> Floats:
        """Return the tristimulus values of the camera model, shape (n, 3), without the light, a logarithm, on them."""
        gain = np.array(self.card_light.gain)
        seen = seen * np.exp(-log_light)[:, None]
        if (gain == 1.0).all():
            return seen
        return np.asarray(np.linalg.solve(WORKING_TO_XYZ, seen.T).T / gain @ WORKING_TO_XYZ.T)


def calibrate(
    sample: ChartSample,
    ground_linear: Floats | None = None,
    ground_points: Floats | None = None,
    paint_points: Floats | None = None,
) -> Calibration:
    """Fit the correction of a photo on its chart and, for the light, on the card's bare ground.

    Parameters
    ----------
    sample : ChartSample
    ground_linear : ndarray, shape (m, 3), optional
        Camera values of small pieces of the ground.
    ground_points : ndarray, shape (m, 2), optional
        Where these are, in photo pixels.
    paint_points : ndarray, shape (k, 2), optional
        Middles of the swatches, in photo pixels. They show which ground belongs to the card.

    Returns
    -------
    Calibration
    """
    find, chart = sample.find, sample.find.chart
    centre = np.array([chart.columns, chart.rows]) / 2.0
    linear = ground_linear if ground_linear is not None else np.zeros((0, 3))
    points, middles = (np.zeros((0, 2)) if p is None else p for p in (ground_points, paint_points))
    ground, paint = find.to_lattice(points) - centre, find.to_lattice(middles) - centre
    extent = float(np.abs(np.concatenate([chart.centres - centre, ground])).max())
    weight = np.where(sample.clipped | (sample.unevenness > _GLARE), 0.0, 1.0)
    weight = np.where((sample.linear < _LOW).any(axis=1), weight * _LOW_WEIGHT, weight) * reference_weight(chart)
    _require_patches(sample, int((weight > 0).sum()))
    observations = Observations(
        linear=sample.linear,
        chart=chart,
        weight=weight,
        shape=_shape(int((weight > 0).sum()), find.photo.encoding.scene_linear),
        place=(chart.centres - centre) / extent,
        ground_linear=linear,
        ground_xyz=linear @ find.photo.encoding.to_xyz.T,
        ground=ground / extent,
        paint=paint / extent,
    )
    joint = fit_camera_and_light(observations)
    target = replace(observations.target(joint.light), weight=joint.trusted)
    return Calibration(
        sample=sample,
        fitted=joint.fitted,
        light=joint.light,
        residual_field=residual_field(chart.lab, joint.fitted.residual, joint.trusted),
        ground_linear=linear[joint.bare],
        ground_points=points[joint.bare],
        used=joint.trusted > 0,
        centre=centre,
        extent=extent,
        lamp=tell_lamp(target, joint.fitted, chart, cast_of(sample)),
    )


def _shape(patches: int, scene_linear: bool) -> Shape:
    tone = 1 if scene_linear else _MOST_TONE
    return Shape(tone=min(tone, max(1, patches // _PATCHES_PER_TONE)), rendered=not scene_linear)


def require_trust(calibration: Calibration, *, accept_poor: bool) -> None:
    """Refuse a correction that cannot be trusted.

    Parameters
    ----------
    calibration : Calibration
    accept_poor : bool
        Let a poor fit pass; too few patches never pass.

    Raises
    ------
    PoorReadingError
        If too few patches are left, or the fit is too poor.
    """
    _require_patches(calibration.sample, int(calibration.used.sum()))
    error = calibration.cross_validated_de00
    if error > TRUSTED_DE00 and not accept_poor:
        raise PoorReadingError(
            f"The chart's colours in {calibration.find.photo.path.name} cannot be corrected well enough",
            f"tested patch by patch, they come out {error:.1f} CIEDE2000 off on average; a reading needs "
            f"{TRUSTED_DE00:.0f} or less",
        )


def _require_patches(sample: ChartSample, usable: int) -> None:
    if usable < min(_LEAST_PATCHES, len(sample.linear)):
        burnt = ", ".join(np.array(sample.find.chart.patch_names)[sample.clipped & ~sample.overlaid])
        raise PoorReadingError(
            f"Only {usable} of the chart's patches can be used in {sample.find.photo.path.name}",
            f"over-exposed: {burnt}" if burnt else "the others do not match the chart",
            "Expose darker and shoot again" if burnt else "Keep glare, fingers and shadows off the chart",
        )


def choose_encoding(sample: ChartSample) -> ChartSample:
    """Return the chart's sample in the encoding that its patches show.

    Some raw converters write linear 16-bit files without stating it. Read as sRGB, their darks would be lost. So 16-bit
    files without a stated encoding are tried in both.

    Parameters
    ----------
    sample : ChartSample

    Returns
    -------
    ChartSample
        The same, or sampled again from the photo taken as linear.
    """
    photo = sample.find.photo
    if photo.encoding.tagged or photo.pixels.dtype != np.uint16:
        return sample
    linear = replace(photo, encoding=linear_encoding(tagged=False))
    other = sample_chart(replace(sample.find, photo=linear))
    return other if _matrix_error(other) < _MUCH_BETTER * _matrix_error(sample) else sample


def _matrix_error(sample: ChartSample) -> float:
    """Return the median held-out CIEDE2000 of a plain matrix: a tone curve would make up for a wrong encoding."""
    chart, count = sample.find.chart, len(sample.linear)
    target = Target(sample.linear, np.zeros(count), chart.lab, np.where(sample.clipped, 0.0, 1.0))
    fitted = fit_model(target, Shape(degree=1, tone=0))
    return float(np.median(fitted.left_out_de00[~sample.clipped])) if not sample.clipped.all() else np.inf
