"""Fitting the camera model on the chart, by CIEDE2000."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from swatchread.colour.cielab import Floats, de00_metric, delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.correction.camera_model import CameraModel, Shape, tone_slopes
from swatchread.correction.camera_prior import WORKING_TO_XYZ, camera_prior

_MOST_STEPS, _CONVERGED = 40, 1e-5
"""Evaluations of a fit at most (it mostly takes four), and share of the sum of squares below which a gain ends it."""

_LEAST_FRAMES, _FRAMES, _SAME_FRAME = 2, 5, 0.05
"""Times the frame is laid, at least and at most: first through the photo's own curve, then through the curve found,
until that moves it by less than this share."""

_TONE_PRIOR = np.array([0.7, 0.45, 0.3, 0.2, 0.15])
_PUSH_PRIOR = 0.15
_HIGHLIGHTS = np.array([0.3, 0.65, 1.0])
_STEEP, _STEEP_ERROR = 1.8, 0.8
"""Slope of the undone log values by the stored ones, where the chart shows none: from its lightest patch to full scale.

Tone curves flatten towards white, so that highlights are pressed together (common practice). Without this a polynomial
bends as it likes where a card lies in more light than its chart.
"""

_FRAME_FREEDOM = 4.5
_PRIOR_NOISE, _PRIOR_NOISE_RAW = 0.5, 0.3
"""CIEDE2000 that one standard deviation of a prior is worth: on pictures, and on raw files, which are bent less."""


@dataclass(frozen=True, eq=False)
class Target:
    """What a fit has to explain.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Camera values of the chart's patches.
    light : ndarray, shape (n,)
        Natural log of the light on each patch, relative.
    lab : ndarray, shape (n, 3)
        Reference CIELAB.
    weight : ndarray, shape (n,)
        0 leaves a patch out.
    """

    linear: Floats
    light: Floats
    lab: Floats
    weight: Floats


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fitted model and what it says of itself.

    Attributes
    ----------
    model : CameraModel
    residual : ndarray, shape (n, 3)
        CIELAB, fitted minus reference.
    left_out : ndarray, shape (n, 3)
        The same with each patch left out of the fit in turn (to first order, from the hat matrix).
    covariance : ndarray, shape (p, p)
        Of the parameters, for residuals of one CIEDE2000.
    de00, left_out_de00 : ndarray, shape (n,)
    variance : float
        Of a residual in the metric of CIEDE2000, summed over its three components, allowing for the fit's freedom.
    """

    model: CameraModel
    residual: Floats
    left_out: Floats
    covariance: Floats
    de00: Floats
    left_out_de00: Floats
    variance: float


class _Problem:
    """Residuals of one model on one target, scaled so that 1 is one CIEDE2000."""

    def __init__(self, target: Target, start: CameraModel) -> None:
        self.target, self.start = target, start
        metric = de00_metric(target.lab)
        self.root = np.linalg.cholesky(metric + 1e-9 * np.eye(3)).transpose(0, 2, 1) * target.weight[:, None, None]
        prior = camera_prior(start.shape.degree)
        self.bends = start.shape.bends
        noise = _PRIOR_NOISE if start.shape.rendered else _PRIOR_NOISE_RAW
        width = np.array([*_TONE_PRIOR[: start.shape.tone], _PUSH_PRIOR][: self.bends])
        self.centre = np.concatenate([np.zeros(self.bends), prior.mean.ravel()])
        self.pull = np.zeros((len(self.centre), len(self.centre)))
        self.pull[: self.bends, : self.bends] = np.diag(noise / width)
        self.pull[self.bends :, self.bends :] = noise * prior.whiten
        self.aim = self.pull @ self.centre
        if start.shape.rendered:
            top = min(float(target.linear[target.weight > 0].max()), 1.0)
            held = np.zeros((len(_HIGHLIGHTS), len(self.centre)))
            held[:, : start.shape.tone] = tone_slopes(top + (1.0 - top) * _HIGHLIGHTS, start.shape.tone)
            sure = noise / _STEEP_ERROR
            self.pull = np.concatenate([self.pull, sure * held])
            self.aim = np.append(self.aim, np.full(len(held), sure * (_STEEP - 1.0)))

    def lab(self, model: CameraModel) -> Floats:
        """Return CIELAB of the patches under a model, their light evened out."""
        return xyz_to_lab(model.xyz(self.target.linear) * np.exp(-self.target.light)[:, None])

    def residual(self, vector: Floats) -> Floats:
        """Return what is left with some parameters: first on the patches, then from the priors."""
        off = self.root @ (self.lab(self.start.with_vector(vector)) - self.target.lab)[..., None]
        return np.concatenate([off.ravel(), self.pull @ vector - self.aim])

    def slopes(self, vector: Floats) -> Floats:
        """Return the slopes of `residual` by the parameters."""
        by_parameter = self.start.with_vector(vector).lab_slopes(self.target.linear, self.target.light)
        return np.concatenate([(self.root @ by_parameter).reshape(-1, len(vector)), self.pull])


@dataclass(frozen=True, eq=False)
class Misfit:
    """What a fit leaves, and how that changes.

    Attributes
    ----------
    residual : ndarray, shape (3 n + m,)
        CIEDE2000 of the patches along three axes, patch by patch, then how far the parameters are from their priors.
    by_parameter : ndarray, shape (3 n + m, p)
    by_light : ndarray, shape (3 n,)
        For more log light on the patch.
    """

    residual: Floats
    by_parameter: Floats
    by_light: Floats


def misfit(target: Target, fitted: Fitted) -> Misfit:
    """Return what a fit leaves on its target.

    Parameters
    ----------
    target : Target
    fitted : Fitted

    Returns
    -------
    Misfit
    """
    problem = _Problem(target, fitted.model)
    residual, slopes = problem.residual(fitted.model.vector), problem.slopes(fitted.model.vector)
    # A cube root takes a share of light to a third of it, in a* and b* as in L* + 16.
    by_light = -(problem.lab(fitted.model) + np.array([16.0, 0.0, 0.0])) / 3.0
    return Misfit(residual, slopes, (problem.root @ by_light[..., None]).ravel())


def fit_model(target: Target, shape: Shape) -> Fitted:
    """Fit a camera model by least squares (Levenberg-Marquardt) in the metric of CIEDE2000.

    Parameters
    ----------
    target : Target
    shape : Shape

    Returns
    -------
    Fitted
    """
    mean = camera_prior(shape.degree).mean
    model = CameraModel(shape, np.zeros(shape.tone), 0.0, mean, np.eye(3))
    for turn in range(_FRAMES if shape.bends else 1):
        frame = _frame(model, target)
        if turn >= _LEAST_FRAMES and np.abs(frame - model.frame).max() < _SAME_FRAME * np.abs(frame).max():
            break
        problem = _Problem(target, replace(model, matrix=mean, frame=frame))
        vector = _least_squares(problem)
        model = problem.start.with_vector(vector)
    return _judged(problem, vector)


def _least_squares(problem: _Problem) -> Floats:
    """Return the parameters that leave least."""
    found = least_squares(
        problem.residual,
        problem.start.vector,
        problem.slopes,
        method="lm",
        x_scale="jac",
        ftol=_CONVERGED,
        max_nfev=_MOST_STEPS,
    )
    vector: Floats = found.x
    return vector


def _frame(model: CameraModel, target: Target) -> Floats:
    """Return the matrix from the camera's values to working values: least squares on the chart, about in CIELAB."""
    reference = lab_to_xyz(target.lab) * np.exp(target.light)[:, None]
    weight = (target.weight / (lab_to_xyz(target.lab)[:, 1] + 0.03) ** (2.0 / 3.0))[:, None]
    seen = model.undone(target.linear)
    to_xyz = np.linalg.lstsq(seen * weight, reference * weight, rcond=None)[0]
    return np.asarray(to_xyz @ np.linalg.inv(WORKING_TO_XYZ).T)


def _judged(problem: _Problem, vector: Floats) -> Fitted:
    target, base, jacobian = problem.target, problem.residual(vector), problem.slopes(vector)
    count, used = len(target.linear), target.weight > 0
    model = problem.start.with_vector(vector)
    covariance: Floats = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    lab = problem.lab(model)
    rows = jacobian[: 3 * count].reshape(count, 3, -1)
    hat = np.einsum("nip,pq,njq->nij", rows, covariance, rows)
    scaled = base[: 3 * count].reshape(count, 3, 1)
    without = np.linalg.solve(np.eye(3) - np.clip(hat, -0.98, 0.98), scaled)
    # A patch that carries no weight is left out already.
    off = lab - target.lab
    left_out = off.copy()
    left_out[used] = np.linalg.solve(problem.root[used], without[used])[..., 0]
    de00 = delta_e_2000(lab, target.lab)
    # The frame takes nine freedoms from the chart before the fit; the priors hold back most of the others.
    freedom = max(3.0 * float(used.sum()) - float(np.einsum("nii->", hat)) - _FRAME_FREEDOM, 8.0)
    return Fitted(
        model=model,
        residual=off,
        left_out=left_out,
        covariance=covariance,
        de00=de00,
        left_out_de00=delta_e_2000(target.lab + left_out, target.lab),
        variance=float((de00[used] ** 2).sum()) / freedom,
    )
