"""The card's stock as a witness of the light: a ground that is known from earlier cards must come out alike.

If it comes out darker, lighter or tinted, one of three things has changed: the light on the card, the chart, which may
have faded or yellowed, or the stock. The photo cannot tell which. So the difference is said and enters the uncertainty,
and is evened out only when the painter says that the stock is the same.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.colour.cielab import Floats, lab_to_xyz, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.camera_prior import WORKING_TO_XYZ
from swatchread.correction.known_stock import KnownStocks, Stock
from swatchread.correction.light_field import LEAST_GROUND
from swatchread.correction.light_on_card import StockFinding

_DIFFERS, _DIFFERS_SIGMAS = 0.06, 3.0
"""Log light by which a known ground may come out otherwise, and how many times the spread of earlier readings."""

_TINTED = 3.0
"""Difference in a* and b*, at the known lightness, that a known ground may show, CIELAB units: the grounds of 14
simulated photos in daylight and by lamps came out within 1.6."""

_ANOTHER = 1.2, 25.0
"""Log light, and a* and b* in CIELAB units, beyond which it is another stock for certain: nothing is said then."""

_TIED, _TIED_TINT = 0.08, 0.2
"""Share of a difference in light, and in tint, that stays in doubt once the reading is tied to the stock."""


def witness_stock(calibration: Calibration, known: KnownStocks) -> Calibration:
    """Return a calibration with what the card's stock says of the light on it.

    Parameters
    ----------
    calibration : Calibration
    known : KnownStocks

    Returns
    -------
    Calibration
        The same if the stock is not known, or shows too little ground.
    """
    ground = _ground(calibration)
    stock = _stock_of(ground, known)
    if ground is None or stock is None:
        return calibration
    shift, tint = _difference(ground, stock)
    light = calibration.card_light
    if abs(shift) < max(_DIFFERS, _DIFFERS_SIGMAS * stock.spread) and np.hypot(*tint) < _TINTED:
        agrees = replace(light, proven=True, odd_ground=False, doubt_per_pitch=0.0)
        if not light.step:
            agrees = replace(agrees, differs=0.0, doubt=stock.spread)
        return replace(calibration, card_light=agrees)
    found = StockFinding(stock.name, stock.cards, shift, (float(tint[0]), float(tint[1])), tied=known.tie)
    if not known.tie:
        doubted = replace(light, stock=found, odd_ground=False, doubt=float(np.hypot(light.doubt, shift)))
        return replace(calibration, card_light=doubted)
    gain = _working(ground) / _working(lab_to_xyz(np.array(stock.lab)))
    uneven = float(np.log(gain).max() - np.log(gain).min())
    doubt = float(np.hypot(_TIED * shift + _TIED_TINT * uneven, stock.spread))
    tied = replace(light, stock=found, gain=tuple(gain.tolist()), doubt=doubt, doubt_per_pitch=0.0, odd_ground=False)
    return replace(calibration, card_light=replace(tied, differs=0.0, proven=True))


def _ground(calibration: Calibration) -> Floats | None:
    """Return XYZ of the bare ground as the correction has it, shape (3,); None if too little of it shows."""
    return None if len(calibration.ground_linear) < LEAST_GROUND else calibration.ground_xyz


def _stock_of(ground: Floats | None, known: KnownStocks) -> Stock | None:
    """Return the stock that the painter named, or else the one that the ground comes nearest to."""
    if ground is None:
        return None
    if known.named:
        return next((s for s in known.stocks if s.name.casefold() == known.named.casefold()), None)
    near = [s for s in known.stocks if _could_be(_difference(ground, s))]
    return min(near, key=lambda s: _strangeness(_difference(ground, s)), default=None)


def _could_be(difference: tuple[float, Floats]) -> bool:
    shift, tint = difference
    return bool(abs(shift) < _ANOTHER[0] and np.hypot(*tint) < _ANOTHER[1])


def _strangeness(difference: tuple[float, Floats]) -> float:
    shift, tint = difference
    return float(np.hypot(shift / _DIFFERS, np.hypot(*tint) / _TINTED))


def _difference(ground: Floats, stock: Stock) -> tuple[float, Floats]:
    """Return by how much log luminance exceeds the stock's, and by how much a* and b* do once that is evened out."""
    shift = float(np.log(max(float(ground[1]), 1e-4) / lab_to_xyz(np.array(stock.lab))[1]))
    evened = xyz_to_lab(ground * np.exp(-shift))
    return shift, evened[1:] - np.array(stock.lab[1:])


def _working(xyz: Floats) -> Floats:
    """Return the values of the reader's wide RGB space, in which a change of light or a yellowed chart is a gain."""
    return np.asarray(np.maximum(np.linalg.solve(WORKING_TO_XYZ, xyz), 1e-4))
