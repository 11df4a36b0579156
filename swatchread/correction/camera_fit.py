"""Fitting the camera model on the chart, by CIEDE2000."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour.cielab import (
    Floats,
    de00_metric,
    delta_e_2000,
    lab_slope_by_log_light,
    lab_to_xyz,
)
from swatchread.correction.camera_model import CameraModel, CameraValues, Shape, tone_slopes
from swatchread.correction.camera_prior import WORKING_TO_XYZ, camera_prior

STEPS, _CONVERGED = 20, 1e-4
"""Steps of a fit at most, and share of the sum of squares below which a gain ends it."""

_DAMPING, _LEAST_DAMPING, _MOST_DAMPING = 1e-2, 1e-6, 1e4
"""Levenberg-Marquardt damping at the start, and between which it stays, over the diagonal of the normal matrix.

Early stopping holds back terms that are much alike. scipy's own iteration goes on to the minimum: readings move by up
to 1 in CIELAB, mean errors by 0.006 CIEDE2000 down on simulated and 0.08 up on real photographs.
"""

_LEAST_FRAMES, _FRAMES = 2, 5
"""How often the frame is computed, at least and at most: first through the photo's own curve, then through the one
that was fitted."""

_SAME_FRAME = 0.05
"""Relative change of the frame below which it is not computed again."""

_TONE_PRIOR = np.array([0.7, 0.45, 0.3, 0.2, 0.15])
"""Standard deviations of the tone terms before the chart is seen (natural log; chosen on simulated scenes)."""

_PUSH_PRIOR = 0.15
"""The same of the saturation push (natural log)."""

_HIGHLIGHTS = np.array([0.3, 0.65, 1.0])
"""Where the slope of the tone curve is held: shares of the way from the chart's lightest patch to full scale."""

_STEEP, _STEEP_ERROR = 1.8, 0.8
"""Slope of the log of linear light by the log of stored values there, and its standard deviation.

Tone curves flatten towards white, so that highlights are compressed (common practice). Without this, the polynomial
is free to bend anywhere above the chart's lightest patch, where a card in more light than its chart lies.
"""

_FRAME_FREEDOM = 4.5
"""Degrees of freedom that computing the frame takes from the chart: half of its nine, as the priors hold the rest."""

_PRIOR_NOISE, _PRIOR_NOISE_RAW = 0.5, 0.3
"""CIEDE2000 that counts as much as one standard deviation of a prior: for pictures, and for raw files."""

_MOST_LEVERAGE = 0.98
"""Leverage of a patch at most, so that a patch that the fit follows completely can still be left out."""

_LEAST_FREEDOM = 8.0
"""Degrees of freedom at least, so that a small chart does not make the variance endless."""


@dataclass(frozen=True, eq=False)
class Target:
    """What a model is fitted to.

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
    """A fitted model with its residuals and its covariance.

    Attributes
    ----------
    model : CameraModel
    residual : ndarray, shape (n, 3)
        CIELAB, fitted minus reference.
    covariance : ndarray, shape (p, p)
        Of the parameters, if the residuals are one CIEDE2000.
    de00, left_out_de00 : ndarray, shape (n,)
        Of the fit, and with each patch left out of it in turn (to first order, from the hat matrix).
    variance : float
        Mean square of the residuals in CIEDE2000, corrected for the degrees of freedom of the fit.
    """

    model: CameraModel
    residual: Floats
    covariance: Floats
    de00: Floats
    left_out_de00: Floats
    variance: float


class _Problem:
    """Residuals of one model on one target, scaled so that 1 is one CIEDE2000."""

    def __init__(self, target: Target, start: CameraModel) -> None:
        self.target, self.start, self.seen = target, start, CameraValues.of(target.linear)
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

    def beginning(self, start: CameraModel) -> _Problem:
        """Return the same problem with another model of the same shape to begin with."""
        other = copy(self)
        other.start = start
        return other

    def at(self, vector: Floats) -> tuple[Floats, Floats, Floats]:
        """Return CIELAB of the patches for some parameters, the residuals, and the slopes of these by the parameters.

        The residuals are first those of the patches, then those of the priors.
        """
        lab, by_parameter = self.start.with_vector(vector).lab_and_slopes(self.seen, self.target.light)
        off = self.root @ (lab - self.target.lab)[..., None]
        slopes = (self.root @ by_parameter).reshape(-1, len(vector))
        return lab, np.concatenate([off.ravel(), self.pull @ vector - self.aim]), np.concatenate([slopes, self.pull])


@dataclass(frozen=True, eq=False)
class Misfit:
    """The residuals of a fit and their slopes.

    Attributes
    ----------
    residual : ndarray, shape (3 n + m,)
        CIEDE2000 of the patches along three axes, patch by patch, then how far the parameters are from their priors.
    by_parameter : ndarray, shape (3 n + m, p)
    by_light : ndarray, shape (3 n,)
        Slopes by the log light on the patch.
    """

    residual: Floats
    by_parameter: Floats
    by_light: Floats


def misfit(target: Target, fitted: Fitted) -> Misfit:
    """Return the residuals of a fit on its target.

    Parameters
    ----------
    target : Target
    fitted : Fitted

    Returns
    -------
    Misfit
    """
    problem = _Problem(target, fitted.model)
    lab, residual, slopes = problem.at(fitted.model.vector)
    by_light = -lab_slope_by_log_light(lab)
    return Misfit(residual, slopes, (problem.root @ by_light[..., None]).ravel())


def fit_model(target: Target, shape: Shape, steps: int = STEPS) -> Fitted:
    """Fit a camera model by damped least squares (Levenberg-Marquardt) in the metric of CIEDE2000.

    Parameters
    ----------
    target : Target
    shape : Shape
    steps : int
        Steps of the least squares at most.

    Returns
    -------
    Fitted
    """
    mean = camera_prior(shape.degree).mean
    model = CameraModel(shape, np.zeros(shape.tone), 0.0, mean, np.eye(3))
    problem = _Problem(target, model)
    for attempt in range(_FRAMES if shape.bends else 1):
        frame = _frame(model, target)
        if attempt >= _LEAST_FRAMES and np.abs(frame - model.frame).max() < _SAME_FRAME * np.abs(frame).max():
            break
        problem = problem.beginning(replace(model, matrix=mean, frame=frame))
        vector = _least_squares(problem, steps)
        model = problem.start.with_vector(vector)
    return _with_statistics(problem, vector)


def _least_squares(problem: _Problem, steps: int) -> Floats:
    """Return the parameters with the least sum of squares."""
    vector, damping = problem.start.vector, _DAMPING
    _, base, jacobian = problem.at(vector)
    for _ in range(steps):
        normal = jacobian.T @ jacobian
        normal[np.diag_indices_from(normal)] *= 1.0 + damping
        step = np.linalg.solve(normal, -jacobian.T @ base)
        _, moved, slopes = problem.at(vector + step)
        gain = 1.0 - float(moved @ moved) / max(float(base @ base), 1e-12)
        if gain > 0.0:
            vector, base, jacobian = vector + step, moved, slopes
            damping = max(damping / 5.0, _LEAST_DAMPING)
            if gain < _CONVERGED:
                break
        else:
            damping *= 6.0
            if damping > _MOST_DAMPING:
                break
    return vector


def _frame(model: CameraModel, target: Target) -> Floats:
    """Return the matrix from camera values to working values: weighted least squares, about uniform in CIELAB."""
    reference = lab_to_xyz(target.lab) * np.exp(target.light)[:, None]
    weight = (target.weight / (lab_to_xyz(target.lab)[:, 1] + 0.03) ** (2.0 / 3.0))[:, None]
    seen = model.undone(target.linear)
    to_xyz = np.linalg.lstsq(seen * weight, reference * weight, rcond=None)[0]
    return to_xyz @ np.linalg.inv(WORKING_TO_XYZ).T


def _with_statistics(problem: _Problem, vector: Floats) -> Fitted:
    target, (lab, base, jacobian) = problem.target, problem.at(vector)
    count, used = len(target.linear), target.weight > 0
    model = problem.start.with_vector(vector)
    covariance: Floats = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    rows = jacobian[: 3 * count].reshape(count, 3, -1)
    hat = rows @ covariance @ rows.transpose(0, 2, 1)
    scaled = base[: 3 * count].reshape(count, 3, 1)
    without = np.linalg.solve(np.eye(3) - np.clip(hat, -_MOST_LEVERAGE, _MOST_LEVERAGE), scaled)
    # A patch without weight is left out already.
    off = lab - target.lab
    left_out = off.copy()
    left_out[used] = np.linalg.solve(problem.root[used], without[used])[..., 0]
    de00 = delta_e_2000(lab, target.lab)
    freedom = max(3.0 * float(used.sum()) - float(np.einsum("nii->", hat)) - _FRAME_FREEDOM, _LEAST_FREEDOM)
    return Fitted(
        model=model,
        residual=off,
        covariance=covariance,
        de00=de00,
        left_out_de00=delta_e_2000(target.lab + left_out, target.lab),
        variance=float((de00[used] ** 2).sum()) / freedom,
    )
