"""The model of a phone's rendering, run backwards.

A phone takes linear sensor values through a matrix, a tone curve common to the channels and a push of saturation. So
the way back is: undo the push (a mix with the luma), undo the tone curve (a smooth monotone function), go to wide
working values by a matrix laid on the chart (the frame), then expand these (root-polynomial, which keeps its meaning
when the exposure changes: Finlayson, Mackiewicz & Hurlbert 2015, IEEE Trans. Image Processing 24(5), 1460-1470) and
take them to XYZ with a matrix. In the frame all cameras are alike, raw or rendered, so that one prior serves them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour import Floats

_FLOOR = 1e-5
_LEAST = 1e-4
_CODE = 2.2
"""Exponent of stored values, in which cameras push saturation."""
_LUMA = np.array([0.2126, 0.7152, 0.0722])
"""ITU-R BT.709."""
_BEYOND = np.array([0.13, 0.03, 0.036])
"""How far below zero red, green and blue mostly were where a picture holds a zero, relative to the largest channel.

Over the sensors, lights and reflectances of `calibration/camera_prior.py`; the spread is about as large as the mean.
"""
_CUT, _CUT_SHARE = 0.0015, 0.03
"""Linear values below which a channel counts as cut: of full scale, and of the largest channel."""


@dataclass(frozen=True)
class Shape:
    """Which terms a camera model has.

    Attributes
    ----------
    degree : int
        Of the root-polynomial: 1 (a plain matrix) or 3.
    tone : int
        Number of tone-curve terms, 0 to 5.
    rendered : bool
        Whether the camera made a picture: it pushed the saturation and cut off what its colour space cannot hold.
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
class CameraModel:
    """A camera model with its parameters.

    Attributes
    ----------
    shape : Shape
    tone : ndarray, shape (shape.tone,)
    push : float
        Saturation that the camera added, as a natural logarithm.
    matrix : ndarray, shape (shape.terms, 3)
        Expanded working values to XYZ.
    frame : ndarray, shape (3, 3)
        Undone camera values to working values, from the right.
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

    def xyz(self, linear: Floats, *, beyond: bool = True) -> Floats:
        """Return tristimulus values under the light that fell on what was seen.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
            Linear RGB through the photo's own encoding, 0 to 1.
        beyond : bool
            Put channels that the photo cut off where they probably were.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        return np.asarray(self.terms(linear, beyond=beyond) @ self.matrix)

    def terms(self, linear: Floats, *, beyond: bool = True) -> Floats:
        """Return the expanded working values of camera values, shape (n, shape.terms)."""
        plain = self.undone(linear)
        if beyond and self.shape.rendered:
            plain = plain - cut(linear) * _BEYOND * plain.max(axis=-1, keepdims=True)
        return expand(np.maximum(plain @ self.frame, _LEAST), self.shape.degree)

    def undone(self, linear: Floats) -> Floats:
        """Return linear values with the saturation push and the tone curve undone."""
        plain: Floats = np.maximum(linear, _FLOOR)
        if self.push:
            code = plain ** (1.0 / _CODE)
            luma = (code @ _LUMA)[..., None]
            plain = np.maximum(luma + (code - luma) * np.exp(-self.push), _FLOOR ** (1.0 / _CODE)) ** _CODE
        if not self.shape.tone:
            return plain
        # Places on the curve are spaced as the eye spaces them.
        position = 2.0 * np.cbrt(plain) - 1.0
        bend = np.zeros_like(plain)
        before, here = np.ones_like(position), position
        for coefficient in self.tone:
            bend += coefficient * here
            before, here = here, 2.0 * position * here - before
        return np.asarray(plain * np.exp(bend))


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
    r, g, b = linear.T
    second = [np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)]
    if degree == 2:
        return np.stack([r, g, b, *second], axis=-1)
    third = [
        np.cbrt(r * g * g),
        np.cbrt(g * b * b),
        np.cbrt(r * b * b),
        np.cbrt(g * r * r),
        np.cbrt(b * g * g),
        np.cbrt(b * r * r),
        np.cbrt(r * g * b),
    ]
    return np.stack([r, g, b, *second, *third], axis=-1)
