"""The library baseline: what general colour libraries give at their defaults, on the same photos.

colour-checker-detection's segmentation on the decoded photo, colour-science's `colour_correction` by Finlayson,
Mackiewicz & Hurlbert (2015), swatches sampled at their true places.
"""

import time
from functools import cache

import colour
import cv2
import numpy as np
from colour_checker_detection import detect_colour_checkers_segmentation
from colour_checker_detection.detection import sample_colour_checker
from skimage.draw import disk

REFERENCE = "BabelColor Average"  # the reader's own default chart, and the one the simulator draws


@cache
def reference_linear():
    """Linear sRGB (24, 3) of the chart, as the detection library's own examples make it."""
    chart = colour.CCS_COLOURCHECKERS[REFERENCE]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    return colour.XYZ_to_RGB(xyz, "sRGB", chart.illuminant)


def decode(path):
    """Decode a file to linear light, float, (h, w, 3), as viewed."""
    code = cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1]
    return colour.models.eotf_sRGB(colour.utilities.as_float_array(code / np.float32(255)))


def detect(linear):
    """Mean linear RGB (24, 3) of the first chart the library finds, or None."""
    found = detect_colour_checkers_segmentation(linear)
    return np.asarray(found[0], float) if len(found) else None


def chart_at(linear, corners_px, pitch_ratio):
    """Patch means (24, 3) by the library's own sampler from the true corners; `pitch_ratio` is patch over pitch."""
    # The patch area's outer corners, moved out by half a gap, bound 6 × 4 whole cells as the sampler expects.
    places = np.array([[0, 0], [6, 0], [6, 4], [0, 4]], np.float32)
    margin = (1 - pitch_ratio) / 2
    inner = places + margin * np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]], np.float32)
    to_photo = cv2.getPerspectiveTransform(inner, np.asarray(corners_px, np.float32))
    outer = cv2.perspectiveTransform(places[None], to_photo)[0]
    rectangle = np.array([[0, 0], [1440, 0], [1440, 960], [0, 960]])
    return np.asarray(sample_colour_checker(linear.astype(np.float32), outer, rectangle).swatch_colours, float)


def discs(linear, swatches, radii, share=0.5):
    """Mean linear RGB (n, 3) over discs of a share of each swatch's radius at its true centre."""
    places = [
        disk(swatch.centre_px[::-1], max(share * radius, 1.0), shape=linear.shape[:2])
        for swatch, radius in zip(swatches, radii, strict=True)
    ]
    return np.array([linear[place].mean(axis=0) for place in places])


def corrected_lab(rgb, measured):
    """CIELAB (D50, 2°) of linear RGB once corrected on measured chart patches."""
    white = colour.CCS_COLOURCHECKERS[REFERENCE].illuminant
    right = colour.colour_correction(rgb, measured, reference_linear(), method="Finlayson 2015")
    return colour.XYZ_to_Lab(colour.RGB_to_XYZ(right, "sRGB", white), white)


def library_reading(drawn, swatches, radii):
    """Read a photo by the libraries.

    Returns
    -------
    dict of CIELAB (n, 3) or None: "library" (None when its finder misses the chart) and "library, chart given";
    seconds (float) of decoding, finding, correction.
    """
    start = time.process_time()
    linear = decode(drawn.path)
    measured = detect(linear)
    sampled = discs(linear, swatches, radii)
    labs = {"library": None if measured is None else corrected_lab(sampled, measured)}
    seconds = time.process_time() - start
    measured = chart_at(linear, drawn.truth.chart_corners_px, drawn.spec.chart_pitch_ratio)
    labs["library, chart given"] = corrected_lab(sampled, measured)
    return labs, seconds
