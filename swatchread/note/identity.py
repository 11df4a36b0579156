"""The hashes that identify what was read: one photo, one of several cards in it, or several photos of one card."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable


def identity_of(photo_sha256: str, letter: str = "") -> str:
    """Return the hash that identifies one card in a photo: the photo's own, unless it has a letter beside others.

    Parameters
    ----------
    photo_sha256 : str
        Of the photo's file, hexadecimal.
    letter : str

    Returns
    -------
    str
    """
    return _digest(f"{photo_sha256} {letter}") if letter else photo_sha256


def fused_identity(photos_sha256: Iterable[str]) -> str:
    """Return the hash that identifies several photos of one card, in any order.

    Parameters
    ----------
    photos_sha256 : iterable of str

    Returns
    -------
    str
    """
    return _digest("".join(sorted(photos_sha256)))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("ascii")).hexdigest()
