"""The model of a phone's rendering, run backwards, and of the light over the table.

A phone takes linear sensor values through a matrix, a tone curve common to the channels and a push of saturation. So
the way back is: undo the push (a mix with the mean of the channels), undo the tone curve (a smooth monotone function),
then expand the linear values (root-polynomial, which keeps its meaning when the exposure changes: Finlayson,
Mackiewicz & Hurlbert 2015, IEEE Trans. Image Processing 24(5), 1460-1470) and take them to XYZ with a matrix. The light
is a low-order polynomial of the place, in log intensity; it divides the result.
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
    light : int
        Degree of the light field over the place: 0 (even) to 3.
    """

    degree: int = 1
    tone: int = 3
    push: bool = True
    light: int = 0

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
    def field_terms(self) -> int:
        """Terms of the light field."""
        return (self.light + 1) * (self.light + 2) // 2 - 1

    @property
    def size(self) -> int:
        """Number of parameters."""
        return self.tone + int(self.push) + 3 * self.terms + self.field_terms


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
    light : ndarray, shape (shape.field_terms,)
        Coefficients of the log light field.
    """

    shape: Shape
    tone: Floats
    push: float
    matrix: Floats
    light: Floats

    @property
    def vector(self) -> Floats:
        """All parameters in one row."""
        push = [self.push] if self.shape.push else []
        return np.concatenate([self.tone, push, self.matrix.ravel(), self.light])

    def with_vector(self, vector: Floats) -> CameraModel:
        """Return the model with other parameters."""
        shape = self.shape
        rest = shape.tone + int(shape.push)
        split = rest + 3 * shape.terms
        return replace(
            self,
            tone=vector[: shape.tone],
            push=float(vector[shape.tone]) if shape.push else 0.0,
            matrix=vector[rest:split].reshape(shape.terms, 3),
            light=vector[split:],
        )

    def xyz(self, linear: Floats, place: Floats) -> Floats:
        """Return tristimulus values, as under the light at the origin of the places.

        Parameters
        ----------
        linear : ndarray, shape (n, 3)
            Linear RGB through the photo's own encoding, 0 to 1.
        place : ndarray, shape (n, 2)
            Where it was seen, in the units of `light_basis`.

        Returns
        -------
        ndarray, shape (n, 3)
        """
        seen = expand(self.undone(linear), self.shape.degree) @ self.matrix
        return np.asarray(seen * np.exp(-self.log_light(place))[:, None])

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

    def log_light(self, place: Floats) -> Floats:
        """Return the log of the light's intensity at places, relative to the origin."""
        if not self.shape.light:
            return np.zeros(len(place))
        return np.asarray(light_basis(place, self.shape.light) @ self.light)


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


def light_basis(place: Floats, degree: int) -> Floats:
    """Return the monomials of a place without the constant, shape (n, terms).

    Parameters
    ----------
    place : ndarray, shape (n, 2)
        About -1 to 1 over the scene.
    degree : int
    """
    x, y = place[:, 0], place[:, 1]
    columns = [x ** (total - k) * y**k for total in range(1, degree + 1) for k in range(total + 1)]
    return np.stack(columns, axis=-1) if columns else np.zeros((len(place), 0))
