"""The stocks that an archive knows: what the bare ground of the painter's cards was, where several cards agree."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

import numpy as np

from swatchread.colour.cielab import Floats, lab_to_xyz
from swatchread.correction.known_stock import Stock
from swatchread.errors import DamagedNoteError
from swatchread.note.model import Note

if TYPE_CHECKING:
    from swatchread.archive.store import Archive

_LAST: Final = 100
"""Cards that are asked, the newest: a stock is used for years, and a note takes a millisecond or two to read."""

_LEAST_CARDS: Final = 3
"""Cards that have to agree before their ground counts as known."""

_AGREES, _AGREES_TINT = 0.06, 2.5
"""Log luminance, and a* and b* in CIELAB units, within which two cards show the same ground: the grounds of 14
simulated photos in daylight and by lamps came out within 0.05 and 1.6 of the truth."""

_LEAST_SPREAD: Final = 0.01
"""Standard deviation of the log luminance of a stock at least: agreement may be chance."""

_DOUBTED: Final = frozenset(
    {
        "chart_doubtful", "poor_fit", "other_light", "ground_differs", "shadow_edge", "local_tone", "mixed_light",
        "too_light", "odd_light", "no_ground", "drawn",
    }
)  # fmt: skip
"""Warnings of notes whose ground is no witness."""


def known_stocks(archive: Archive, without: int | None = None) -> tuple[Stock, ...]:
    """Return the stocks that the newest cards of an archive show.

    Parameters
    ----------
    archive : Archive
    without : int, optional
        Number of a card that is left out, because it is to be judged itself.

    Returns
    -------
    tuple of Stock
        None if a note is damaged: that is said where the archive is checked, and hinders no reading.
    """
    try:
        notes = archive.notes(_LAST)
    except DamagedNoteError:
        return ()
    return stocks_of(note for number, note in notes.items() if number != without)


def stocks_of(notes: Iterable[Note]) -> tuple[Stock, ...]:
    """Return the stocks on which several notes agree.

    Notes that name their support are asked name by name. Those without a name are put together by their ground.

    Parameters
    ----------
    notes : iterable of Note

    Returns
    -------
    tuple of Stock
    """
    by_name: dict[str, list[Note]] = {}
    for note in notes:
        if not _DOUBTED.intersection(w.code for w in note.warnings):
            by_name.setdefault(note.card_info.support.strip().casefold(), []).append(note)
    found = []
    for key, some in by_name.items():
        name = some[-1].card_info.support.strip()
        grounds = np.array([note.card.ground.lab for note in some])
        while (largest := _largest_agreement(grounds)).sum() >= _LEAST_CARDS:
            found.append(_stock(name, grounds[largest]))
            grounds = grounds[~largest]
            if key:
                break
    return tuple(found)


def _largest_agreement(lab: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Tell which grounds agree with the one that most agree with."""
    if not len(lab):
        return np.zeros(0, dtype=bool)
    log = _log_luminance(lab)
    alike = np.abs(log[:, None] - log[None]) < _AGREES
    alike &= np.linalg.norm(lab[:, None, 1:] - lab[None, :, 1:], axis=-1) < _AGREES_TINT
    return np.asarray(alike[alike.sum(axis=1).argmax()])


def _stock(name: str, lab: Floats) -> Stock:
    L, a, b = (float(v) for v in np.median(lab, axis=0))
    return Stock(name, (L, a, b), max(float(_log_luminance(lab).std()), _LEAST_SPREAD), len(lab))


def _log_luminance(lab: Floats) -> Floats:
    return np.asarray(np.log(np.maximum(lab_to_xyz(lab)[:, 1], 1e-4)))
