"""The warnings of the light between chart and card: what the witnesses say of it."""

from __future__ import annotations

import numpy as np

from swatchread.correction.calibration import Calibration
from swatchread.correction.light_on_card import StockFinding

_SAID_SHARE, _SAID_TINT = 0.02, 1.0
"""Relative difference of a ground's luminance, and of its a* and b* in CIELAB units, that is worth a word."""


def doubts_between(calibration: Calibration) -> list[tuple[str, str]]:
    """Return doubts about the light between card and chart.

    Parameters
    ----------
    calibration : Calibration

    Returns
    -------
    list of tuple
        Code and detail.
    """
    light = calibration.card_light
    found = [("local_tone", "")] if light.local_tone else []
    if light.stock is not None:
        found.append(("ground_differs", _stock_words(light.stock)))
    if light.odd_ground:
        seen = "no surface lies under both, and the ground is too dark, too light or too blue for white paper"
        return [*found, ("other_light", f"{seen}; the uncertainty was increased")]
    if not light.differs:
        return found
    share = 100.0 * abs(1.0 - np.exp(light.differs))
    seen = f"what they lie on is {share:.0f} % {'lighter' if light.differs > 0 else 'darker'} beside the card"
    what = "this was evened out" if light.step else "unless it is another surface there; the uncertainty was increased"
    return [*found, ("other_light", f"{seen}; {what}" if light.step else f"{seen}, {what}")]


def _stock_words(stock: StockFinding) -> str:
    """Say how a ground differs from the known stock, and what was done about it."""
    share, (a, b) = 100.0 * (np.exp(stock.shift) - 1.0), stock.tint
    said = [f"{abs(share):.0f} % {'lighter' if share > 0 else 'darker'}"] if abs(share) > 100.0 * _SAID_SHARE else []
    if np.hypot(a, b) > _SAID_TINT:
        word = ("redder" if a > 0 else "greener") if abs(a) > abs(b) else ("yellower" if b > 0 else "bluer")
        said.append(f"{word} by {np.hypot(a, b):.0f} CIELAB units")
    earlier = f"than on {stock.cards} earlier cards{f' of {stock.name}' if stock.name else ''}"
    done = "this was evened out" if stock.tied else "the uncertainty was increased"
    return f"{' and '.join(said)} {earlier} ({done})"
