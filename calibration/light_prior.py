"""Rebuild `light-kinds.csv`, `mixture-errors.csv` and `grey-errors.csv`: what a chart tells, and how far paint is off.

Run from the top of the project: ``python -m calibration.light_prior`` (some minutes). Sensors that could exist
(`camera_prior.sensor`) photograph the classic chart and paint (`paint_mixtures`) in daylight and by lamps: mixtures of
all sorts, and greys mixed of complements. The photos are rendered as phones do, or left raw, and the reader's own fit
takes them to CIELAB, so that the tables hold what that fit leaves. The simulator of the tests has its own paints,
cameras and rendering.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import colour
import numpy as np
from scipy.optimize import minimize

from calibration.camera_prior import GRID_NM, Floats, fidelity_samples, reflectances, response_weights, sensor
from calibration.paint_mixtures import draw_greys, draw_mixtures, smooth_curves
from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import D50_XYZ, de00_metric, similarity, xyz_to_lab
from swatchread.correction.camera_fit import Fitted, Target, fit_model
from swatchread.correction.camera_model import Shape
from swatchread.correction.lamp import KINDS, evidence, plain_residual
from swatchread.correction.patch_errors import residual_field

HERE = Path(__file__).parent

_PHOTOS, _MIXTURES, _GREYS, _SEEDS = 500, 40, 10, range(3, 9)
"""Photos of each seed, mixtures and greys of complements in each photo, and the seeds."""

_GREY_NODES = np.array([20.0, 35.0, 50.0, 65.0, 80.0, 92.0])
"""L* of the greys whose errors are tabled."""

_RAW, _BATCH, _BALANCE = 0.3, 0.02, 0.04
"""Share of raw files; relative departure of a chart's reflectances from the average; error of the white balance."""

_KEPT = 0.3
"""Share of a lamp's cast that a phone leaves at most; half of the photos keep none (common practice)."""

_FREEDOM, _ROUNDS = 4.0, 30
"""Student's t: degrees of freedom of the errors, and how often their weights are computed."""

_NODE_REACH = 12.0
"""CIELAB distance over which mixtures tell the errors at a node (standard deviation of a Gaussian)."""

_RIDGE = 100.0
"""Ridge of the logistic regression: of those tried, it told most lamps of the simulator without a false alarm."""

_SPACES = [colour.RGB_COLOURSPACES[name] for name in ("sRGB", "Display P3")]


def light(rng: np.random.Generator, kind: str) -> Floats:
    """Draw a light of a kind, shape (71,): CIE daylight, Planckian, or one or two CIE lamps with a slight tilt."""
    if kind == "tungsten":
        # Planck's law, second radiation constant 1.4388e-2 m K (CODATA).
        return np.asarray(GRID_NM**-5.0 / np.expm1(1.4388e7 / (GRID_NM * rng.uniform(2500, 3400))))
    if kind == "daylight":
        return _power(colour.sd_CIE_illuminant_D_series(colour.temperature.CCT_to_xy_CIE_D(rng.uniform(4000, 9000))))
    prefix = {"fluorescent": "FL", "led": "LED-"}[kind]
    lamps = sorted(name for name in colour.SDS_ILLUMINANTS if name.startswith(prefix))
    one, other = (_power(colour.SDS_ILLUMINANTS[lamps[k]]) for k in rng.integers(len(lamps), size=2))
    share = rng.choice([0.0, 1.0, rng.random()], p=[0.35, 0.35, 0.3])
    mixed = share * one / one.sum() + (1.0 - share) * other / other.sum()
    return np.asarray(mixed * np.exp(rng.normal(0.0, 0.1) * (GRID_NM - 550.0) / 100.0))


def _power(source: colour.SpectralDistribution) -> Floats:
    return np.interp(GRID_NM, source.domain, source.values)


@dataclass(frozen=True, eq=False)
class Camera:
    """A sensor in a light, with the way in which its photos are rendered (none for raw files)."""

    rng: np.random.Generator
    sensor: Floats
    light: Floats
    raw: bool

    @cached_property
    def habits(self) -> dict[str, float]:
        """Exposure, curve and saturation."""
        ranges = {"exposure": (0.46, 0.9), "lift": (1.0, 1.9), "shoulder": (1.8, 3.0), "contrast": (0.0, 0.35)}
        ranges |= {"push": (1.0, 1.18), "noise": (0.001, 0.004), "kept": (-_KEPT, _KEPT)}
        return {name: float(self.rng.uniform(*ends)) for name, ends in ranges.items()}

    @cached_property
    def space(self) -> colour.RGB_Colourspace:
        """Colour space of the file."""
        return _SPACES[int(self.rng.integers(2))]

    @cached_property
    def from_xyz(self) -> Floats:
        """Matrix from XYZ (D50) to linear RGB of the file."""
        return np.linalg.inv(_adapted(self.space))

    @cached_property
    def matrix(self) -> Floats:
        """White-balanced sensor values to linear RGB: least squares on the fidelity samples, white kept white."""
        samples, white = fidelity_samples(), self._seen(np.ones(len(GRID_NM)))
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        eye = np.stack([np.interp(GRID_NM, observer.domain, observer.values[:, k]) for k in range(3)], axis=1)
        eye = eye * self.light[:, None]
        aim = (samples @ eye) / eye.sum(axis=0) * D50_XYZ @ self.from_xyz.T
        source = self._seen(samples) / white
        basis, ridge = source[:, [0, 2]] - source[:, [1]], 5e-3 * np.eye(2)
        part = np.linalg.solve(
            basis.T @ basis + ridge, basis.T @ (aim - source[:, [1]]) + ridge @ [[1, 0, 0], [0, 0, 1]]
        )
        return np.stack([part[0], 1.0 - part.sum(axis=0), part[1]])

    @cached_property
    def balance(self) -> Floats:
        """What the white balance leaves of a perfect white, shape (3,), in linear RGB of the file."""
        error = np.exp(self.rng.normal(0.0, _BALANCE, 3))
        kept = max(self.habits["kept"], 0.0)
        observer = response_weights() * (self.light / _power(colour.SDS_ILLUMINANTS["D55"]))[:, None]
        colour_of_light = np.maximum((observer.sum(axis=0) / observer[:, 1].sum()) @ self.from_xyz.T, 0.02)
        return np.asarray(error * (colour_of_light / colour_of_light[1]) ** kept)

    def _seen(self, reflectance: Floats) -> Floats:
        return np.asarray(reflectance @ (self.sensor * self.light[:, None]))

    def photograph(self, reflectance: Floats, *, grain: bool) -> Floats:
        """Return linear values through the file's encoding, shape (n, 3), of reflectances (n, 71)."""
        habit, white = self.habits, self._seen(np.ones(len(GRID_NM)))
        seen = self._seen(reflectance) / white * habit["exposure"]
        if grain:
            seen = seen * (1.0 + habit["noise"] * self.rng.normal(size=seen.shape))
            seen = seen + 3e-4 * self.rng.normal(size=seen.shape)
        if self.raw:
            return np.maximum(seen, 0.0)
        linear = np.clip(np.clip(seen, 0.0, 1.0) @ self.matrix * self.balance, 0.0, 1.0)
        lift, shoulder = habit["lift"], habit["shoulder"]
        linear = lift * linear / (1.0 + (lift**shoulder - 1.0) * linear**shoulder) ** (1.0 / shoulder)
        code = self.space.cctf_encoding(linear)
        code = code + habit["contrast"] * code * (1.0 - code) * (2.0 * code - 1.0)
        luma = (code @ [0.2126, 0.7152, 0.0722])[:, None]
        code = np.clip(luma + habit["push"] * (code - luma), 0.0, 1.0)
        # A mean over many pixels is finer than one of 255 steps.
        return np.asarray(self.space.cctf_decoding(np.round(code * 2040.0) / 2040.0))


def _adapted(space: colour.RGB_Colourspace) -> Floats:
    """Return the matrix from linear RGB to XYZ, adapted to D50 by Bradford's transform."""
    white = space.matrix_RGB_to_XYZ.sum(axis=1)
    adaptation = colour.adaptation.matrix_chromatic_adaptation_VonKries(white, D50_XYZ, transform="Bradford")
    return np.asarray(adaptation @ space.matrix_RGB_to_XYZ)


def fit(linear: Floats, *, raw: bool) -> tuple[Target, Fitted]:
    """Fit the reader's camera model to the chart's patches, as `swatchread.correction.calibration` does."""
    weight = np.where((linear >= 0.995).any(axis=1), 0.0, np.where((linear < 2e-3).any(axis=1), 0.3, 1.0))
    target = Target(linear, np.zeros(24), load_chart().lab, weight)
    return target, fit_model(target, Shape(3, 1, rendered=False) if raw else Shape(3, 5, rendered=True))


def cast_of(camera: Camera, linear: Floats) -> Floats:
    """Return a* and b* of the chart's white before correction, shape (2,)."""
    xyz = linear[18] @ _adapted(_SPACES[0] if camera.raw else camera.space).T
    return xyz_to_lab(xyz / xyz[1] * load_chart().xyz[18, 1])[1:]


@dataclass(frozen=True, eq=False)
class PaintErrors:
    """How far paints are read off.

    Attributes
    ----------
    lab : ndarray, shape (m, 3)
        CIELAB of the paints, true.
    off : ndarray, shape (m, 3)
        CIELAB as read minus true, over the photo's departure.
    """

    lab: Floats
    off: Floats


def joined(errors: Sequence[PaintErrors]) -> PaintErrors:
    """Return the errors of several photos as one."""
    return PaintErrors(np.concatenate([e.lab for e in errors]), np.concatenate([e.off for e in errors]))


def photographs(count: int, seed: int) -> tuple[Floats, PaintErrors, PaintErrors]:
    """Take photos, as many of each kind of light.

    Returns
    -------
    evidence : ndarray, shape (count, 98)
    mixtures, greys : PaintErrors
        Of the mixtures, and of the greys of complements, in all photos.
    """
    rng, told, mixtures, greys = np.random.default_rng(seed), [], [], []
    for k in range(count):
        camera = Camera(rng, sensor(rng), light(rng, KINDS[k % len(KINDS)]), bool(rng.random() < _RAW))
        chart = np.clip(reflectances()[0][:24] * np.exp(_BATCH * smooth_curves(rng, 24)), 0.002, 1.0)
        linear = camera.photograph(chart, grain=True)
        target, fitted = fit(linear, raw=camera.raw)
        residual = plain_residual(target, fitted)
        departure = float(np.sqrt((residual**2).sum() / (3 * (target.weight > 0).sum() - 9)))
        told.append(evidence(residual, cast_of(camera, linear)))
        mixtures.append(_read(camera, target, fitted, draw_mixtures(rng, _MIXTURES), departure))
        greys.append(_read(camera, target, fitted, draw_greys(rng, _GREYS), departure))
    return np.array(told), joined(mixtures), joined(greys)


def _read(camera: Camera, target: Target, fitted: Fitted, paints: Floats, departure: float) -> PaintErrors:
    """Photograph paints beside the chart, read them by its fit, and hold them against the truth."""
    weights = response_weights()
    lab, seen = xyz_to_lab(paints @ weights, weights.sum(axis=0)), camera.photograph(paints, grain=False)
    read = xyz_to_lab(fitted.model.xyz(seen))
    read = read - residual_field(target.lab, fitted.residual, target.weight).at(read)
    # What was cut off is stated apart, and burnt out paint is flagged.
    whole = (seen < 0.995).all(axis=1) & (camera.raw | (seen > 1.5e-3).all(axis=1))
    return PaintErrors(lab[whole], (read - lab)[whole] / departure)


def covariance_near(errors: PaintErrors, node: Floats) -> Floats:
    """Return the covariance of the errors near a colour, shape (3, 3), so large that what is stated of them holds.

    Its shape is that of a Student's t by maximum likelihood. Its size leaves 68 % of the errors inside one standard
    uncertainty and 95 % inside two, whichever asks for more: near greys a few mixtures are far off.
    """
    near, off = similarity(errors.lab, node[None], _NODE_REACH)[:, 0], errors.off
    covariance = np.eye(3)
    for _ in range(_ROUNDS):
        distance = np.einsum("ni,ij,nj->n", off, np.linalg.inv(covariance), off)
        weight = near * (_FREEDOM + 3.0) / (_FREEDOM + distance)
        covariance = (off * weight[:, None]).T @ off / near.sum()
    metric = de00_metric(node[None])[0]
    de00 = np.sqrt(np.einsum("ni,ij,nj->n", off, metric, off))
    order = np.argsort(de00)
    inside = np.interp([0.68, 0.95], np.cumsum(near[order]) / near.sum(), de00[order])
    stated = np.einsum("ij,ji->", metric, covariance)
    return np.asarray(covariance * max(inside[0], inside[1] / 2.0) ** 2 / stated)


def kind_weights(told: Floats, ridge: float = _RIDGE) -> Floats:
    """Return the weights of the multinomial logistic regression, shape (1 + numbers, kinds)."""
    mean, spread, kinds = told.mean(axis=0), told.std(axis=0) + 1e-9, len(KINDS)
    design = np.column_stack([np.ones(len(told)), (told - mean) / spread])
    true = np.eye(kinds)[np.arange(len(told)) % kinds]

    def cost(flat: Floats) -> tuple[float, Floats]:
        weight = flat.reshape(-1, kinds)
        score = design @ weight
        score = score - score.max(axis=1, keepdims=True)
        likely = np.exp(score) / np.exp(score).sum(axis=1, keepdims=True)
        held = np.vstack([np.zeros((1, kinds)), weight[1:]])
        loss = -np.log((likely * true).sum(axis=1) + 1e-12).sum() + ridge / 2.0 * (held**2).sum()
        return float(loss), (design.T @ (likely - true) + ridge * held).ravel()

    found = minimize(cost, np.zeros(design.shape[1] * kinds), jac=True, method="L-BFGS-B", options={"maxiter": 500})
    weight = found.x.reshape(-1, kinds)
    weight[1:] /= spread[:, None]
    weight[0] -= mean @ weight[1:]
    return weight


def write_light_prior(folder: Path = HERE, count: int = _PHOTOS) -> None:
    """Write the three tables."""
    told, mixtures, greys = zip(*(photographs(count, seed) for seed in _SEEDS), strict=True)
    names = [f"{name} {axis}" for name in load_chart().patch_names for axis in (1, 2, 3)]
    names += [f"{name} size" for name in load_chart().patch_names] + ["cast a", "cast b"]
    with (folder / "light-kinds.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["number", *KINDS])
        for name, row in zip(["constant", *names], kind_weights(np.concatenate(told)), strict=True):
            writer.writerow([name, *(f"{w:.6g}" for w in row)])
    neutral = np.column_stack([_GREY_NODES, np.zeros((len(_GREY_NODES), 2))])
    _write_errors(folder / "mixture-errors.csv", joined(mixtures), load_chart().lab)
    _write_errors(folder / "grey-errors.csv", joined(greys), neutral)


def _write_errors(path: Path, errors: PaintErrors, nodes: Floats) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["L", "a", "b", "LL", "La", "Lb", "aa", "ab", "bb"])
        for node in nodes:
            covariance = covariance_near(errors, node)
            writer.writerow([f"{v:.5g}" for v in (*node, *covariance[np.triu_indices(3)])])


if __name__ == "__main__":
    write_light_prior()
