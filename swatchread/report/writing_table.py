"""What handwriting may say, as a table for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from swatchread.note.phrases import plain
from swatchread.writing.offers import Offer

if TYPE_CHECKING:
    from rich.table import Table


def writing_table(offers: Mapping[str, Offer]) -> Table:
    """Lay out offers, one swatch a row.

    Parameters
    ----------
    offers : mapping of str to Offer
        By the id of the swatch.

    Returns
    -------
    rich.table.Table
    """
    from rich.table import Table

    table = Table("Swatch", "May say", "Look closely at", box=None, pad_edge=False, caption_justify="left")
    for swatch, offer in offers.items():
        table.add_row(swatch, plain(offer.text) or "(cannot be read)", plain(", ".join(offer.doubts)))
    if not offers:
        table.caption = "No handwriting was found beside these swatches."
    return table
