"""Where the reader and the library's finder see the chart and the swatches of one scene, held against the truth."""

import time
from contextlib import contextmanager
from dataclasses import dataclass, field

import cv2
import numpy as np

from .matching import VISIBLE, match, rightly_placed

CLOSE = 0.15  # corner error in patch pitches at which the chart's place is right
ROUGH = 1.0  # … at which a finder has the right chart the right way round; the library draws upright rectangles


@dataclass
class Place:
    """One scene's record.

    Attributes
    ----------
    spec, truth : what was drawn.
    chart : "right", "off" (right way round, a corner beyond 0.15 patch), "wrong" (elsewhere or turned), "none"
        or, on a scene without chart, "false" and "none".
    corner_error : largest over the four corners, patch pitches.
    card : "read", or the error's code.
    there, found, matched, false, placed : counts of swatches.
    lost : ids of true swatches not found.
    library : as `chart`, of the library's finder, judged at a whole pitch; "" when not asked.
    seconds : {"load", "chart", "card", "library"} CPU seconds, {"wall": of finding chart and card}.
    """

    spec: object
    truth: object
    chart: str = "none"
    corner_error: float = np.nan
    card: str = ""
    there: int = 0
    found: int = 0
    matched: int = 0
    false: int = 0
    placed: int = 0
    lost: tuple = ()
    library: str = ""
    seconds: dict = field(default_factory=dict)


def pitch_px(truth):
    """Typical distance between neighbouring patches in the photo."""
    return float(np.sqrt(cv2.contourArea(truth.chart_corners_px.astype(np.float32)) / 24))


def judged_chart(corners_px, truth, close=CLOSE):
    """(verdict, corner error in pitches) of found corners in the chart's own order."""
    if not truth.spec.chart_present:
        return "false", np.nan
    error = float(np.linalg.norm(corners_px - truth.chart_corners_px, axis=1).max() / pitch_px(truth))
    return ("right" if error <= close else "off" if error <= ROUGH else "wrong"), error


def locate(drawn, *, library=False):
    """Find chart and card of one scene.

    Parameters
    ----------
    drawn : Drawn
    library : also run the library's finder

    Returns
    -------
    Place
    """
    place = Place(drawn.spec, drawn.truth)
    place.there = sum(s.contrast >= VISIBLE for s in drawn.truth.swatches) if drawn.spec.chart_present else 0
    _by_reader(drawn, place)
    if library:
        place.library = _by_library(drawn, place)
    return place


def _by_reader(drawn, place):
    from swatchread.card.card_detection import find_card
    from swatchread.chart.chart_detection import find_chart
    from swatchread.chart.definition import load_chart
    from swatchread.chart.patch_sampling import sample_chart
    from swatchread.errors import SwatchreadError
    from swatchread.ink.orientation import stand_upright
    from swatchread.photo import load_photo
    from swatchread.plane.rectification import rectify
    from swatchread.sampling.card_sampling import sample_card

    try:
        with _timed(place.seconds, "load"):
            photo, chart = load_photo(drawn.path), load_chart()
        with _timed(place.seconds, "chart"):
            found = find_chart(photo, chart)
        place.chart, place.corner_error = judged_chart(found.corners, drawn.truth)
        with _timed(place.seconds, "card"):
            card = stand_upright(find_card(rectify(sample_chart(found))))
        place.card = "read"
    except SwatchreadError as error:
        place.card = error.code
        return
    hold_against(place, sample_card(card), drawn.truth)


def hold_against(place, sample, truth):
    pairs = match([np.mean(s.outline, axis=0) for s in sample.swatches], truth.swatches)
    seen = [(i, j) for i, j in pairs if truth.swatches[j].contrast >= VISIBLE]
    place.found, place.matched = len(sample.swatches), len(seen)
    place.false = len(sample.swatches) - len(pairs)
    cells = {i: swatch.cell for i, swatch in enumerate(sample.swatches)}
    place.placed = rightly_placed([((cells[i].row, cells[i].column), j) for i, j in seen], truth.swatches)
    got = {j for _, j in seen}
    place.lost = tuple(s.id for j, s in enumerate(truth.swatches) if j not in got and s.contrast >= VISIBLE)


@contextmanager
def _timed(seconds, name):
    """Take the CPU seconds of a stage, and add up the wall time of all but loading."""
    cpu, wall = time.process_time(), time.perf_counter()
    try:
        yield
    finally:
        seconds[name] = time.process_time() - cpu
        if name != "load":
            seconds["wall"] = seconds.get("wall", 0.0) + time.perf_counter() - wall


def _by_library(drawn, place):
    from colour_checker_detection import detect_colour_checkers_segmentation

    from .baseline import decode

    linear = decode(drawn.path)
    start = time.process_time()
    found = detect_colour_checkers_segmentation(linear, additional_data=True)
    place.seconds["library"] = time.process_time() - start
    if not found:
        return "none"
    return judged_chart(_library_corners(found[0], linear.shape), drawn.truth, close=ROUGH)[0]


def _library_corners(found, shape):
    """Corners in the chart's own order, photo px: the library scales to a width of 1440 and lays portraits down."""
    quad = np.asarray(found.quadrilateral, float)[[3, 0, 1, 2]]  # its own order begins at the top right
    height, width = shape[:2]
    if width >= height:
        return quad * width / 1440
    x, y = (quad * height / 1440).T
    return np.stack([y, height - 1 - x], axis=-1)
