"""A model of how a phone renders its pictures, run backwards.

A phone converts linear sensor values by a matrix, then by a tone curve that the channels share, and then pushes the
saturation. The model undoes these steps in reverse: it undoes the push (a mix with the luma) and the tone curve (a
smooth monotone function), and converts to wide working values by a matrix that is fitted to the chart, the frame. A
root-polynomial expansion of these, which does not change with exposure (Finlayson, Mackiewicz & Hurlbert 2015, IEEE
Trans. Image Processing 24(5), 1460-1470), is then taken to XYZ by a matrix. In working values all cameras are much
alike, raw or rendered, so that one prior serves them all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from swatchread.colour.cielab import Floats, xyz_to_lab, xyz_to_lab_slopes

_FLOOR = 1e-5
"""Least linear value, of full scale: far below the smallest step of an 8-bit sRGB file, 3e-4."""

_LEAST = 1e-4
"""Least working value: its logarithm is taken."""

_CODE = 2.2
"""Exponent of stored values, in which cameras push the saturation (about the curve of sRGB)."""

_LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Weights of red, green and blue in the luma (ITU-R BT.709)."""

_BEYOND = np.array([0.13, 0.03, 0.036])
"""How far below zero red, green and blue mostly were where a picture has a zero, relative to the largest channel.

Means over the sensors, lights and reflectances of `calibration/camera_prior.py`; the spread is about as large.
"""

BEYOND_ALL = (True, True, True)
"""Red, green and blue are all put below zero where they were cut off."""

_CUT, _CUT_SHARE = 0.0015, 0.03
"""Linear values below which a channel counts as cut: of full scale, and of the largest channel."""


@dataclass(frozen=True)
class Shape:
    """Which terms a camera model has.

    Attributes
    ----------
    degree : int
        Degree of the root-polynomial: 1 (a plain matrix) or 3.
    tone : int
        Number of tone-curve terms, 0 to 5.
    rendered : bool
        Whether the camera rendered a picture: pushed the saturation and cut off what its colour space cannot hold.
    """

    degree: int = 3
    tone: int = 5
    rendered: bool = False

    @property
    def name(self) -> str:
        """Name of the model in the note."""
        colour = "linear" if self.degree == 1 else f"root-polynomial {self.degree}"
        return f"{colour}, tone {self.tone}" + (", saturation" if self.rendered else "")

    @property
    def terms(self) -> int:
        """Terms of the colour expansion."""
        return {1: 3, 3: 13}[self.degree]

    @property
    def bends(self) -> int:
        """Number of parameters before the matrix: tone and push."""
        return self.tone + int(self.rendered)


@dataclass(frozen=True, eq=False)
class CameraValues:
    """Camera values with what no parameter of a model changes in them.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding, 0 to 1.
    code, luma : ndarray, shape (n, 3), (n, 1)
        About their stored values, and the luma of these.
    beyond : ndarray, shape (n, 3)
        How far below zero a picture's channels mostly were where it cut them off, over the largest channel.
    """

    linear: Floats
    code: Floats
    luma: Floats
    beyond: Floats

    @classmethod
    def of(cls, linear: Floats) -> CameraValues:
        """Return some linear values as camera values."""
        code = np.maximum(linear, _FLOOR) ** (1.0 / _CODE)
        return cls(linear, code, (code @ _LUMA)[:, None], cut(linear) * _BEYOND)


@dataclass(frozen=True, eq=False)
class CameraModel:
    """A camera model with its parameters.

    Attributes
    ----------
    shape : Shape
    tone : ndarray, shape (shape.tone,)
    push : float
        Saturation that the camera added, as a natural logarithm.
    matrix : ndarray, shape (shape.terms, 3)
        From expanded working values to XYZ.
    frame : ndarray, shape (3, 3)
        From undone camera values to working values, multiplied from the right.
    """

    shape: Shape
    tone: Floats
    push: float
    matrix: Floats
    frame: Floats

    @property
    def vector(self) -> Floats:
        """All parameters in one row."""
        push = [self.push] if self.shape.rendered else []
        return np.concatenate([self.tone, push, self.matrix.ravel()])

    def with_vector(self, vector: Floats) -> CameraModel:
        """Return the model with other parameters."""
        shape = self.shape
        return replace(
            self,
            tone=vector[: shape.tone],
            push=float(vector[shape.tone]) if shape.rendered else 0.0,
            matrix=vector[shape.bends :].reshape(shape.terms, 3),
        )

    def xyz(self, linear: Floats, *, beyond: tuple[bool, bool, bool] = BEYOND_ALL) -> Floats:
        """Return tristimulus values of camera values, with the light on the scene still in them.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
            Linear RGB through the photo's own encoding, 0 to 1.
        beyond : tuple of bool
            Which of red, green and blue to put below zero where the photo cut them off.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        return self.terms(linear, beyond=beyond) @ self.matrix

    def terms(self, linear: Floats, *, beyond: tuple[bool, bool, bool] = BEYOND_ALL) -> Floats:
        """Return the expanded working values of camera values, shape (n, shape.terms)."""
        plain = self.undone(linear)
        if any(beyond) and self.shape.rendered:
            plain = plain - cut(linear) * np.where(beyond, _BEYOND, 0.0) * plain.max(axis=-1, keepdims=True)
        return expand(np.maximum(plain @ self.frame, _LEAST), self.shape.degree)

    def lab_slopes(self, linear: Floats, log_light: Floats) -> Floats:
        """Return the slopes of CIELAB by all parameters, shape (n, 3, p), of camera values seen under a light."""
        return self.lab_and_slopes(CameraValues.of(linear), log_light)[1]

    def lab_and_slopes(self, seen: CameraValues, log_light: Floats) -> tuple[Floats, Floats]:
        """Return CIELAB of camera values, with a light on them divided out, and its slopes as `lab_slopes`."""
        shade = np.exp(-log_light)[:, None]
        terms, slopes = self.terms_and_slopes(seen)
        xyz = (terms @ self.matrix) * shade
        to_lab = xyz_to_lab_slopes(xyz) * shade[:, None]
        by_bend = to_lab @ (self.matrix.T @ slopes)
        by_matrix = (to_lab[:, :, None, :] * terms[:, None, :, None]).reshape(len(xyz), 3, -1)
        return xyz_to_lab(xyz), np.concatenate([by_bend, by_matrix], axis=-1)

    def brightness_slopes(self, linear: Floats) -> Floats:
        """Return the slopes of log luminance factor by all parameters, shape (n, p), of camera values, shape (n, 3)."""
        terms, slopes = self.terms_and_slopes(CameraValues.of(linear))
        by_matrix = np.zeros((*terms.shape, 3))
        by_matrix[:, :, 1] = terms
        parts = [self.matrix[:, 1] @ slopes, by_matrix.reshape(len(terms), -1)]
        return np.concatenate(parts, axis=-1) / (terms @ self.matrix[:, 1])[:, None]

    def terms_and_slopes(self, seen: CameraValues) -> tuple[Floats, Floats]:
        """Return `terms` with their slopes by tone and push, shape (n, shape.terms, shape.bends)."""
        plain, slopes = self._undone_and_slopes(seen)
        if self.shape.rendered:
            top = np.arange(len(plain)), plain.argmax(axis=1)
            slopes = slopes - seen.beyond[:, :, None] * slopes[top][:, None]
            plain = plain - seen.beyond * plain[top][:, None]
        working, slopes = plain @ self.frame, self.frame.T @ slopes
        held = np.maximum(working, _LEAST)
        terms = expand(held, self.shape.degree)
        relative = slopes * ((working > _LEAST) / held)[:, :, None]
        return terms, terms[:, :, None] * (powers(self.shape.degree) @ relative)

    def _undone_and_slopes(self, seen: CameraValues) -> tuple[Floats, Floats]:
        """Return `undone` with its slopes by tone and push, shape (n, 3, shape.bends)."""
        plain, by_push = np.maximum(seen.linear, _FLOOR), []
        if self.shape.rendered:
            far = (seen.code - seen.luma) * np.exp(-self.push)
            code = np.maximum(seen.luma + far, _FLOOR ** (1.0 / _CODE))
            plain = code**_CODE
            by_push = [np.where(code > seen.luma + far, 0.0, -_CODE * plain / code * far)]
        root = np.cbrt(plain)
        polynomials, slopes = _chebyshev(len(self.tone))
        powers_of_root = _powers_of(2.0 * root - 1.0, len(self.tone))
        gain, steep = np.exp(_sums(self.tone @ polynomials, powers_of_root)), _sums(self.tone @ slopes, powers_of_root)
        by_tone = (plain * gain)[..., None] * _sums(polynomials, powers_of_root)
        by_push = [(gain * (1.0 + steep * root * (2.0 / 3.0)) * slope)[..., None] for slope in by_push]
        return plain * gain, np.concatenate([by_tone, *by_push], axis=-1)

    def undone(self, linear: Floats) -> Floats:
        """Return linear values with the saturation push and the tone curve undone."""
        plain: Floats = np.maximum(linear, _FLOOR)
        if self.push:
            code = plain ** (1.0 / _CODE)
            luma = (code @ _LUMA)[..., None]
            plain = np.maximum(luma + (code - luma) * np.exp(-self.push), _FLOOR ** (1.0 / _CODE)) ** _CODE
        if not self.shape.tone:
            return plain
        # Positions on the curve are about evenly spaced in lightness.
        powers_of_root = _powers_of(2.0 * np.cbrt(plain) - 1.0, len(self.tone))
        undone: Floats = plain * np.exp(_sums(self.tone @ _chebyshev(len(self.tone))[0], powers_of_root))
        return undone


def cut(linear: Floats) -> Floats:
    """Return how far each channel of a picture's linear values is cut off at zero, 0 to 1, shape (n, 3)."""
    least = np.minimum(_CUT, _CUT_SHARE * linear.max(axis=-1, keepdims=True))
    return np.asarray(np.clip(1.0 - linear / np.maximum(least, _FLOOR), 0.0, 1.0))


def expand(linear: Floats, degree: int) -> Floats:
    """Return the root-polynomial expansion of linear values.

    Parameters
    ----------
    linear : ndarray, shape (n, 3), positive
    degree : int
        1, 2 or 3.

    Returns
    -------
    ndarray, shape (n, 3), (n, 6) or (n, 13)
    """
    if degree == 1:
        return np.asarray(linear, dtype=np.float64)
    return np.exp(np.log(linear) @ powers(degree).T)


@cache
def powers(degree: int) -> Floats:
    """Return the powers of red, green and blue in each term of the expansion, shape (terms, 3)."""
    r, g, b = np.eye(3)
    second = [(r + g) / 2, (g + b) / 2, (r + b) / 2]
    third = [(r + 2 * g) / 3, (g + 2 * b) / 3, (r + 2 * b) / 3, (g + 2 * r) / 3, (b + 2 * g) / 3, (b + 2 * r) / 3]
    return np.array([r, g, b, *(second if degree >= 2 else []), *([*third, (r + g + b) / 3] if degree >= 3 else [])])


def tone_slopes(linear: Floats, terms: int) -> Floats:
    """Return what each tone term adds to the slope of the undone log values by the linear ones, shape (n, terms)."""
    root = np.cbrt(linear)
    return _sums(_chebyshev(terms)[1], _powers_of(2.0 * root - 1.0, terms)) * (root * (2.0 / 3.0))[:, None]


def _powers_of(position: Floats, terms: int) -> Floats:
    """Return the powers 0 to `terms` of some places, shape (terms + 1, ...)."""
    factors = np.empty((terms + 1, *position.shape))
    factors[0], factors[1:] = 1.0, position
    return np.multiply.accumulate(factors)


def _sums(coefficients: Floats, powers: Floats) -> Floats:
    """Return polynomials, shape (...) for one row of coefficients by the powers of `powers`, else (..., rows)."""
    sums = coefficients @ powers.reshape(len(powers), -1)
    return sums.T.reshape(*powers.shape[1:], *coefficients.shape[:-1])


@cache
def _chebyshev(terms: int) -> tuple[Floats, Floats]:
    """Return the Chebyshev polynomials T_1 to T_terms, and their slopes, by the powers 0 to `terms`: a row each."""
    own = np.eye(terms + 1)
    for order in range(2, terms + 1):
        own[order] = -own[order - 2]
        own[order, 1:] += 2.0 * own[order - 1, :-1]
    slopes = np.zeros_like(own)
    slopes[:, :-1] = own[:, 1:] * np.arange(1, terms + 1)
    return own[1:], slopes[1:]
