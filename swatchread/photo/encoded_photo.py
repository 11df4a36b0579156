"""The photo as a value object."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt

from swatchread.photo.camera_settings import Settings

Pixels = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]
Floats32 = npt.NDArray[np.float32]


def ends(top: int) -> tuple[int, int]:
    """Return the stored values up to which, and from which, a channel is at an end of its range.

    Parameters
    ----------
    top : int
        The largest stored value.

    Returns
    -------
    low, high : int
    """
    margin = top // 128
    return margin // 2, top - margin


@dataclass(frozen=True, eq=False)
class Encoding:
    """How stored values become linear light.

    Attributes
    ----------
    name : str
        Description of the embedded profile, ``"assumed sRGB"`` or ``"linear"``.
    table : ndarray, shape (3, 256) or (3, 65536), float32
        Linear value, 0 to 1, of each stored value of each channel.
    to_xyz : ndarray, shape (3, 3), float64
        From linear RGB to XYZ adapted to D50 (``xyz = M @ rgb``).
    tagged : bool
        Whether the file itself said so.
    scene_linear : bool
        Whether the values are the sensor's own, without a tone curve.
    icc : bytes or None
        The embedded profile itself, for pictures made from the photo.
    """

    name: str
    table: Floats32
    to_xyz: npt.NDArray[np.float64]
    tagged: bool
    scene_linear: bool = False
    icc: bytes | None = None

    def linear(self, pixels: Pixels) -> Floats32:
        """Return linear light, float32, of stored pixels with a last axis of 3."""
        linear = np.empty(pixels.shape, dtype=np.float32)
        for channel in range(3):
            linear[..., channel] = self.table[channel].take(pixels[..., channel])
        return linear


@dataclass(frozen=True, eq=False)
class Photo:
    """A decoded photo.

    Attributes
    ----------
    path : pathlib.Path
    sha256 : str
    pixels : ndarray, shape (height, width, 3), uint8 or uint16
        Stored values, RGB, after the EXIF turn.
    small : ndarray, shape (h, w, 3), uint8
        Reduced copy for geometry.
    scale : float
        Photo pixels per reduced pixel.
    encoding : Encoding
    taken : str or None
        ISO 8601 local time.
    camera : str or None
    settings : Settings
        How the camera was set, as far as the file says.
    processing : str or None
        Mode in which the camera composed the photo from several, if the file says so.
    damage : str
        What is wrong with the file's data although it could be decoded, in words; empty for whole data.
    """

    path: Path
    sha256: str
    pixels: Pixels
    small: npt.NDArray[np.uint8]
    scale: float
    encoding: Encoding
    taken: str | None = None
    camera: str | None = None
    settings: Settings = field(default_factory=Settings)
    processing: str | None = None
    damage: str = ""

    @property
    def width(self) -> int:
        """Width in pixels after the EXIF turn."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Height in pixels after the EXIF turn."""
        return int(self.pixels.shape[0])

    @property
    def top(self) -> int:
        """The largest stored value."""
        return int(np.iinfo(self.pixels.dtype).max)

    @property
    def small_to_full(self) -> npt.NDArray[np.float64]:
        """Homography from pixels of the reduced copy to photo pixels, shape (3, 3)."""
        shift = (self.scale - 1.0) / 2.0
        return np.array([[self.scale, 0.0, shift], [0.0, self.scale, shift], [0.0, 0.0, 1.0]])

    def stored_at(self, points: npt.NDArray[np.float64]) -> Pixels:
        """Return the stored values of the pixels nearest to (x, y) points, shape (..., 3); at most up to the rim."""
        column = np.rint(points[..., 0]).clip(0, self.width - 1)
        row = np.rint(points[..., 1]).clip(0, self.height - 1)
        stored: Pixels = self.pixels.reshape(-1, 3).take((row * self.width + column).astype(np.intp), axis=0)
        return stored

    def to_full(self, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Turn (x, y) points of the reduced copy into photo pixels."""
        return (points + 0.5) * self.scale - 0.5

    def to_small(self, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Turn (x, y) photo points into pixels of the reduced copy."""
        return (points + 0.5) / self.scale - 0.5


@dataclass(frozen=True, eq=False)
class Samples:
    """Colours at places of a photo.

    Attributes
    ----------
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding.
    points : ndarray, shape (n, 2)
        Where, photo pixels.
    """

    linear: npt.NDArray[np.float64]
    points: npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RingSamples:
    """Colours in rings round a thing, each of which lies within the next.

    Attributes
    ----------
    samples : Samples
        Of the broadest ring.
    within : tuple of ndarray, shape (n,), bool
        Which of these lie in each ring, from the narrowest to the broadest.
    """

    samples: Samples
    within: tuple[npt.NDArray[np.bool_], ...]
