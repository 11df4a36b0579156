"""The cards of one photo: a lone one goes by the photo's checksum, one of several by checksum and letter."""

from __future__ import annotations

from string import ascii_lowercase
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from swatchread.archive.tables import CardRow
from swatchread.note.identity import identity_of

if TYPE_CHECKING:
    from swatchread.archive.store import Archive


def cards_of_photo(connection: Connection, photo_sha256: str) -> tuple[int, ...]:
    """Return the numbers of all cards in a photo, in the order of their letters, whichever version read them."""
    order = {identity_of(photo_sha256, letter): place for place, letter in enumerate(("", *ascii_lowercase))}
    rows = connection.execute(select(CardRow.id, CardRow.photo_sha256).where(CardRow.photo_sha256.in_(order)))
    return tuple(row.id for row in sorted(rows, key=lambda row: order[row.photo_sha256]))


def whole_photo(archive: Archive, photo_sha256: str, tool_version: str) -> tuple[int, ...]:
    """Return the numbers of all cards in a photo, in the order of their letters.

    Parameters
    ----------
    archive : Archive
    photo_sha256 : str
    tool_version : str

    Returns
    -------
    tuple of int
        Empty unless that version has read every card that it saw in the photo.
    """
    alone = archive.holds(photo_sha256, tool_version)
    if alone is not None:
        return (alone,)
    first = archive.holds(identity_of(photo_sha256, "a"), tool_version)
    if first is None:
        return ()
    letters = ascii_lowercase[: archive.card(first, tool_version).note.card.cards]
    found = [archive.holds(identity_of(photo_sha256, letter), tool_version) for letter in letters]
    return () if None in found else tuple(card for card in found if card is not None)
