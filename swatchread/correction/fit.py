"""Fitting the camera model on the chart, by CIEDE2000."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from swatchread.colour import Floats, de00_metric, delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.correction.model import CameraModel, Shape, expand

_ROUNDS = 25
_TONE_PRIOR = np.array([0.7, 0.45, 0.3, 0.2, 0.15])
_PUSH_PRIOR = 0.25
_MATRIX_PRIOR = 0.5
_EXTRA_PRIOR = {1: 0.3, 2: 0.6, 3: 0.12}
_PRIOR_NOISE = 0.5
"""CIEDE2000 that one standard deviation of a prior is worth."""


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
    to_xyz : ndarray, shape (3, 3)
        Matrix of the photo's own colour space: the prior.
    """

    linear: Floats
    light: Floats
    lab: Floats
    weight: Floats
    to_xyz: Floats


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
    """Residuals of one model shape on one target, scaled so that 1 is one CIEDE2000."""

    def __init__(self, target: Target, shape: Shape) -> None:
        self.target, self.shape = target, shape
        metric = de00_metric(target.lab)
        self.root = np.linalg.cholesky(metric + 1e-9 * np.eye(3)).transpose(0, 2, 1)
        self.start = _start(target, shape)
        self.centre, self.width = _prior(self.start)

    def lab(self, model: CameraModel) -> Floats:
        """Return CIELAB of the patches under a model, their light evened out."""
        return xyz_to_lab(model.xyz(self.target.linear) * np.exp(-self.target.light)[:, None])

    def residual(self, vector: Floats) -> Floats:
        """Return what is left on the patches, then how far the parameters are from their priors."""
        off = self.lab(self.start.with_vector(vector)) - self.target.lab
        chart = np.einsum("nij,nj->ni", self.root, off) * self.target.weight[:, None]
        return np.concatenate([chart.ravel(), (vector - self.centre) / self.width * _PRIOR_NOISE])

    def jacobian(self, vector: Floats, base: Floats) -> Floats:
        """Return the slopes of `residual`, by differences."""
        columns = np.empty((len(base), len(vector)))
        for k in range(len(vector)):
            step = 1e-5 * max(abs(vector[k]), 0.1)
            moved = vector.copy()
            moved[k] += step
            columns[:, k] = (self.residual(moved) - base) / step
        return columns


def fit_model(target: Target, shape: Shape) -> Fitted:
    """Fit a camera model by damped least squares (Levenberg-Marquardt) in the metric of CIEDE2000.

    Parameters
    ----------
    target : Target
    shape : Shape

    Returns
    -------
    Fitted
    """
    problem = _Problem(target, shape)
    vector = problem.start.vector
    base = problem.residual(vector)
    damping = 1e-2
    jacobian = problem.jacobian(vector, base)
    for _ in range(_ROUNDS):
        normal = jacobian.T @ jacobian
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -jacobian.T @ base)
        moved = problem.residual(vector + step)
        if moved @ moved < base @ base:
            gain = 1.0 - float(moved @ moved) / max(float(base @ base), 1e-12)
            vector, base = vector + step, moved
            damping = max(damping / 5.0, 1e-6)
            if gain < 1e-4:
                break
            jacobian = problem.jacobian(vector, base)
        else:
            damping *= 6.0
            if damping > 1e4:
                break
    return _judged(problem, vector, base, problem.jacobian(vector, base))


def _judged(problem: _Problem, vector: Floats, base: Floats, jacobian: Floats) -> Fitted:
    target = problem.target
    count = len(target.linear)
    model = problem.start.with_vector(vector)
    covariance: Floats = np.asarray(np.linalg.inv(jacobian.T @ jacobian), dtype=np.float64)
    lab = problem.lab(model)
    rows = jacobian[: 3 * count].reshape(count, 3, -1)
    hat = np.einsum("nip,pq,njq->nij", rows, covariance, rows)
    scaled = base[: 3 * count].reshape(count, 3, 1)
    without = np.linalg.solve(np.eye(3) - np.clip(hat, -0.98, 0.98), scaled)[..., 0]
    # A patch that carries no weight is left out already.
    without = np.where(target.weight[:, None] > 0, without / np.maximum(target.weight[:, None], 1e-9), 0.0)
    left_out = np.where(
        target.weight[:, None] > 0, np.linalg.solve(problem.root, without[..., None])[..., 0], lab - target.lab
    )
    de00 = delta_e_2000(lab, target.lab)
    used = target.weight > 0
    # The priors hold about a fifth of the parameters; the chart's own freedom is what is left.
    freedom = max(3.0 * float(used.sum()) - 0.8 * problem.shape.size, 8.0)
    return Fitted(
        model=model,
        residual=lab - target.lab,
        left_out=left_out,
        covariance=covariance,
        de00=de00,
        left_out_de00=delta_e_2000(target.lab + left_out, target.lab),
        variance=float((de00[used] ** 2).sum()) / freedom,
    )


def _start(target: Target, shape: Shape) -> CameraModel:
    """Return the photo's own colour space, scaled to the chart's brightness."""
    plain = CameraModel(shape, np.zeros(shape.tone), 0.0, np.zeros((shape.terms, 3)))
    used = target.weight > 0
    terms = expand(plain.undone(target.linear[used]), 1)
    reference = lab_to_xyz(target.lab[used])
    weight = (1.0 / (reference[:, 1] + 0.03) ** (2.0 / 3.0))[:, None]
    ridge = 0.05 * np.sqrt((terms * weight).var(axis=0).mean() * used.sum()) * np.eye(3)
    guess = terms @ target.to_xyz.T
    scale = (guess[:, 1] * weight[:, 0] ** 2 @ reference[:, 1]) / (guess[:, 1] ** 2 @ weight[:, 0] ** 2)
    prior = scale * target.to_xyz.T
    rows = np.concatenate([terms * weight, ridge])
    aims = np.concatenate([reference * weight, ridge @ prior])
    matrix = np.zeros((shape.terms, 3))
    matrix[:3] = np.linalg.lstsq(rows, aims, rcond=None)[0]
    return CameraModel(shape, plain.tone, 0.0, matrix)


def _prior(start: CameraModel) -> tuple[Floats, Floats]:
    """Return centre and width of every parameter's prior."""
    shape = start.shape
    size = float(np.abs(start.matrix[:3]).max())
    matrix = np.full((shape.terms, 3), _EXTRA_PRIOR[shape.degree] * size)
    matrix[:3] = _MATRIX_PRIOR * size * (1.0 if shape.degree == 1 else 1.5)
    push = [_PUSH_PRIOR] if shape.push else []
    width = np.concatenate([_TONE_PRIOR[: shape.tone], push, matrix.ravel()])
    return start.vector, width
