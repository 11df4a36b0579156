"""The warnings of a lamp: its kind, and mixtures whose blue a picture has cut off."""

from __future__ import annotations

from swatchread.correction.calibration import Calibration
from swatchread.correction.camera_model import cut
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.swatch_flags import RIM
from swatchread.sampling.card_sampling import CardSample

_CAST = 25.0
"""Colour cast of the light before it is corrected, CIELAB units."""

_LAMPS = {"tungsten": "a tungsten lamp", "fluorescent": "a fluorescent lamp", "led": "an LED lamp"}
"""What is said of each kind of lamp that the chart tells."""

_BLUE_LOST = 0.5
"""Share of a swatch's pixels without blue."""


def odd_light(calibration: Calibration) -> list[tuple[str, str]]:
    """Return doubts about light that is far from daylight.

    Parameters
    ----------
    calibration : Calibration

    Returns
    -------
    list of tuple
        Code and detail.
    """
    lamp = _LAMPS.get(calibration.lamp.kind)
    if lamp is not None:
        return [("odd_light", f"most likely {lamp}, as the chart's colours show")]
    if calibration.lamp.cast > _CAST:
        return [("odd_light", f"a colour cast of {calibration.lamp.cast:.0f} CIELAB units before correction")]
    return []


def blue_lost(paint: CardSample, calibration: Calibration, colours: UncertainColours) -> list[tuple[str, str]]:
    """Return doubts about mixtures whose blue a picture taken by a lamp has cut off.

    Strong yellows hold no blue in any light. They lie outside the chart's colours and are flagged there.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours

    Returns
    -------
    list of tuple
        Code and detail.
    """
    if not calibration.fitted.model.shape.rendered or calibration.lamp.kind == "daylight":
        return []
    lost = [
        sample.cell.id
        for sample, outside in zip(paint.swatches, colours.outside, strict=True)
        if outside < RIM and len(sample.pixels) and cut(sample.pixels)[:, 2].mean() > _BLUE_LOST
    ]
    return [("blue_lost", f"{len(lost)} of {len(paint.swatches)} swatches: {', '.join(lost)}")] if lost else []
