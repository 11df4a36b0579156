"""What is known of a card's stock before its photo is read: plain records that whoever keeps earlier cards fills in."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Stock:
    """A card stock, as earlier cards showed its bare ground.

    Attributes
    ----------
    name : str
        What the painter calls it; empty if it has no name.
    lab : tuple of float
        CIELAB of the ground, D50, 2 degree.
    spread : float
        Standard deviation of the log luminance from card to card.
    cards : int
        How many cards agree.
    """

    name: str
    lab: tuple[float, float, float]
    spread: float
    cards: int


@dataclass(frozen=True)
class KnownStocks:
    """What is known of the card's stock before a photo is read.

    Attributes
    ----------
    stocks : tuple of Stock
        Those that earlier cards showed.
    named : str
        What the painter calls the stock of this card; empty if that was not said.
    tie : bool
        Whether the painter says that the stock is the same, so that a difference is evened out.
    """

    stocks: tuple[Stock, ...] = ()
    named: str = ""
    tie: bool = False
