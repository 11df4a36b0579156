"""What is true of a scene. All pixel coordinates are (x, y) in the photo as viewed, after the EXIF turn."""

import json
from dataclasses import asdict, dataclass, field

import numpy as np


@dataclass(frozen=True)
class SwatchTruth:
    """One painted swatch.

    Attributes
    ----------
    id : "r1c1": row and column from 1 in the card's own frame (writing upright, from its top left).
    centre_px, outline_px : (2,) and (n, 2).
    lab : (3,) CIELAB, CIE D50, 1931 2° observer, of the opaque paint, from its reflectance.
    reflectance : (71,) on 380…730 nm in 5-nm steps.
    recipe : parts by tube; empty for a colour made near the ground.
    is_flesh_or_earth : a flesh or earth mixture, not a bright tube colour.
    camera : (3,) noise-free camera values under the even reference light; a perfect white has green 1.
    light : relative irradiance at the centre (1 at the chart's middle, unshadowed).
    contrast : greatest difference from the ground beside it, 8-bit codes, noise-free; below about 2 it cannot be seen.
    clipped : share of the swatch's core where the sensor or the rendering clipped, local tone mapping left aside.
    glint : a specular glint was put on it.
    shown : share of it that lies inside the frame and under no overlay.
    """

    id: str
    row: int
    column: int
    centre_px: np.ndarray
    outline_px: np.ndarray
    lab: np.ndarray
    reflectance: np.ndarray
    recipe: dict
    is_flesh_or_earth: bool
    camera: np.ndarray
    light: float
    contrast: float
    clipped: float
    glint: bool
    shown: float = 1.0


@dataclass(frozen=True)
class Truth:
    """All that is known of a scene. Of other charts the arrays of 24 have as many rows as the chart has patches.

    Attributes
    ----------
    size_px : (width, height) as viewed.
    chart_corners_px : (4, 2) outer corners of the patch area: dark skin, bluish green, black, white corner.
    chart_patches_px : (24, 2) patch centres, row by row from dark skin to black.
    chart_outlines_px : (24, 4, 2) patch corners.
    chart_lab : (24, 3) CIELAB D50 2° of this very chart (its batch included).
    chart_camera : (24, 3) as `SwatchTruth.camera`.
    chart_light : (24,) relative irradiance at the patch centres.
    chart_covered : (24,) bool, hidden by an object or an overlay, or outside the frame.
    chart_glare : (24,) added light at the patch centres, of a perfect white's.
    chart_clipped : (24,) share of the patch clipped.
    chart_fraction : patch area's upper side over the photo's width, as drawn.
    strip_lab : (n, 3): a home-made strip's chips beside the chart; empty without one.
    second_chart_px : (4, 2) patch-area corners of a second, smaller chart, or (0, 2).
    card_corners_px : (4, 2) from the card's own top left, clockwise on the card; (0, 2) without a card.
    ground_lab : CIELAB D50 2°.
    swatches : what was painted.
    missing : ids of the cells left unpainted.
    rendering : exposure, gains, matrix, tone curve and saturation used.
    spec : the factors.
    second_card : what was painted on a second card; its ids are its own.
    second_card_px : (4, 2) its corners, as the first card's; (0, 2) without one.
    """

    size_px: tuple
    chart_corners_px: np.ndarray
    chart_patches_px: np.ndarray
    chart_outlines_px: np.ndarray
    chart_lab: np.ndarray
    chart_camera: np.ndarray
    chart_light: np.ndarray
    chart_covered: np.ndarray
    chart_glare: np.ndarray
    chart_clipped: np.ndarray
    chart_fraction: float
    strip_lab: np.ndarray
    second_chart_px: np.ndarray
    card_corners_px: np.ndarray
    ground_lab: np.ndarray
    swatches: tuple
    missing: tuple
    rendering: dict
    spec: object
    second_card: tuple = ()
    second_card_px: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))

    def to_json(self):
        """Return JSON text; numbers in arrays to 4 places."""
        return json.dumps(asdict(self), default=_plain, indent=1)


def _plain(array):
    """Return an array as lists of rounded numbers."""
    return array.tolist() if array.dtype == bool else np.round(array, 4).tolist()
