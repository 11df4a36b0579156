"""What is known of the light on the card beyond the light field: a record that the witnesses fill in, one by one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StockFinding:
    """A known stock that comes out otherwise than on earlier cards.

    Attributes
    ----------
    name : str
        What the painter calls the stock; may be empty.
    cards : int
        How many earlier cards agree on it.
    shift : float
        Natural log of the ground's luminance over the known one.
    tint : tuple of float
        Difference in a* and b* once that is evened out, CIELAB units.
    tied : bool
        Whether the reading was tied to the stock: the difference is evened out.
    """

    name: str
    cards: int
    shift: float
    tint: tuple[float, float]
    tied: bool


@dataclass(frozen=True)
class CardLight:
    """How the light on the card differs from the light field, natural log of the light.

    Attributes
    ----------
    differs : float
        What the witnesses in the photo say; 0 where they say nothing.
    step : float
        What is evened out: all of it, or nothing where another surface could look the same.
    doubt : float
        Standard deviation of what is left.
    doubt_per_pitch : float
        Standard deviation that one pitch of distance from the chart adds; squares add up.
    proven : bool
        Whether anything in the photo tells of the light between card and chart.
    odd_ground : bool
        Whether nothing tells of that light, and the ground is too dark, too light or too blue for white paper.
    blue_paper : bool
        Whether white paper comes out blue in light that is the chart's, as beside a chart that has yellowed.
    local_tone : bool
        Whether the photo renders equal things unequally in different places.
    stock : StockFinding or None
        What the card's stock says, if it comes out otherwise than before.
    gain : tuple of float
        What that stock is brighter by in the working space's three channels; evened out.
    """

    differs: float = 0.0
    step: float = 0.0
    doubt: float = 0.0
    doubt_per_pitch: float = 0.0
    proven: bool = True
    odd_ground: bool = False
    blue_paper: bool = False
    local_tone: bool = False
    stock: StockFinding | None = None
    gain: tuple[float, ...] = (1.0, 1.0, 1.0)
