"""The model of a phone's rendering, run backwards.

A phone takes linear sensor values through a matrix, a tone curve common to the channels and a push of saturation. So
the way back is: undo the push (a mix with the mean of the channels), undo the tone curve (a smooth monotone function),
then expand the linear values (root-polynomial, which keeps its meaning when the exposure changes: Finlayson,
Mackiewicz & Hurlbert 2015, IEEE Trans. Image Processing 24(5), 1460-1470) and take them to XYZ with a matrix.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from swatchread.colour import Floats

_FLOOR = 1e-5


@dataclass(frozen=True)
class Shape:
    """Which terms a camera model has.

    Attributes
    ----------
    degree : int
        Of the root-polynomial: 1 (a plain matrix), 2 or 3.
    tone : int
        Number of tone-curve terms, 0 to 5.
    push : bool
        Whether a saturation push is undone.
    """

    degree: int = 1
    tone: int = 3
    push: bool = False

    @property
    def name(self) -> str:
        """Name of the model in the note."""
        colour = "linear" if self.degree == 1 else f"root-polynomial {self.degree}"
        return f"{colour}, tone {self.tone}" + (", saturation" if self.push else "")

    @property
    def terms(self) -> int:
        """Terms of the colour expansion."""
        return {1: 3, 2: 6, 3: 13}[self.degree]

    @property
    def size(self) -> int:
        """Number of parameters."""
        return self.tone + int(self.push) + 3 * self.terms


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
    """

    shape: Shape
    tone: Floats
    push: float
    matrix: Floats

    @property
    def vector(self) -> Floats:
        """All parameters in one row."""
        push = [self.push] if self.shape.push else []
        return np.concatenate([self.tone, push, self.matrix.ravel()])

    def with_vector(self, vector: Floats) -> CameraModel:
        """Return the model with other parameters."""
        shape = self.shape
        rest = shape.tone + int(shape.push)
        return replace(
            self,
            tone=vector[: shape.tone],
            push=float(vector[shape.tone]) if shape.push else 0.0,
            matrix=vector[rest:].reshape(shape.terms, 3),
        )

    def xyz(self, linear: Floats) -> Floats:
        """Return tristimulus values under the light that fell on what was seen.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
            Linear RGB through the photo's own encoding, 0 to 1.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        return np.asarray(expand(self.undone(linear), self.shape.degree) @ self.matrix)

    def undone(self, linear: Floats) -> Floats:
        """Return linear values with the saturation push and the tone curve undone."""
        mean = linear.mean(axis=-1, keepdims=True)
        plain: Floats = np.maximum(mean + (linear - mean) * np.exp(-self.push), _FLOOR)
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
