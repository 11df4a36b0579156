"""Readings of one card compared: what dried lighter or darker, and how sure that is.

Two are compared with each other; of three and more each later one is compared with the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from swatchread.comparison.anchoring import GROUND, Conditioned, anchor_ids, condition_on_anchors
from swatchread.comparison.card_matching import CardMatch, match_cards
from swatchread.comparison.comparison_result import Comparison, Series, as_triple
from swatchread.comparison.pair_covariance import pair_noise, pair_readings
from swatchread.comparison.swatch_changes import changes_of, common_of
from swatchread.errors import AnchorError, UsageError
from swatchread.note.flags_and_warnings import SPOILT, SWATCH_FLAGS
from swatchread.note.model import Note
from swatchread.note.phrases import first_of

_ODD_GROUND = 2.0
"""Widening of the shared errors above which the ground cannot be an anchor, and the painter is told (assumed)."""
_MOST_NAMED = 24
"""Swatches that a remark names."""
_FEW = 4
"""Matched swatches below which a remark says that it may be another card."""
_TURNED = 45
"""Degrees above which a remark says that the card lies turned."""


def compare(before: Note, after: Note, anchors: Sequence[str] = ()) -> Comparison:
    """Compare two readings of one card.

    Parameters
    ----------
    before, after : Note
        The first and the second reading; the card may lie turned and under other light.
    anchors : sequence of str
        What cannot have changed: ids of swatches of the first reading, ``r3`` or ``c2`` for a whole row or column, and
        ``ground`` for the bare ground. With anchors small shifts become visible.

    Returns
    -------
    Comparison

    Raises
    ------
    UsageError
        If both are readings of one photo.
    DifferentCardsError
        If the readings are not of one card.
    AnchorError
        If an anchor is not in both readings, or every swatch is one.

    Examples
    --------
    >>> change = swatchread.compare(wet, dry, anchors=["r1"])
    >>> [(swatch.id, swatch.verdict) for swatch in change.changed]
    """
    if before.photo.sha256 == after.photo.sha256:
        raise UsageError(
            "A photo cannot be compared with itself",
            f"{before.photo.file} and {after.photo.file} are the same photo",
            "Name two photos of the card, taken at different times",
        )
    match = match_cards(before, after)
    noise = pair_noise(pair_readings(before, after, match))
    named = anchor_ids(anchors, noise.ids)
    free = np.flatnonzero([one not in named for one, _ in match.pairs])
    if not len(free):
        raise AnchorError("Every swatch is named as an anchor", "nothing is left to judge")
    odd_ground = noise.widening > _ODD_GROUND
    if odd_ground and GROUND in named:
        raise AnchorError(
            "The bare ground cannot tie this pair together",
            f"it reads {np.linalg.norm(noise.difference[-1]):.1f} CIELAB units apart, more than the readings' errors "
            "allow: it changed, or one reading took something else for the ground",
            "Name swatches that cannot have changed instead",
        )
    conditioned = condition_on_anchors(noise, named)
    return Comparison(
        before=before,
        after=after,
        match=match,
        conditioned=conditioned,
        anchors=named,
        changes=changes_of((before, after), match, conditioned, named),
        common=common_of(conditioned, free),
        ground=as_triple(noise.difference[-1]),
        remarks=tuple(_remarks(match, conditioned, odd_ground, (before, after))),
        seconds=seconds_between(before, after),
    )


def follow(notes: Sequence[Note], anchors: Sequence[str] = ()) -> Series:
    """Compare each later reading of a card with the first.

    Parameters
    ----------
    notes : sequence of Note
        At least two, in the order of time.
    anchors : sequence of str
        As for `compare`.

    Returns
    -------
    Series

    Raises
    ------
    UsageError
        If there are fewer than two.
    DifferentCardsError
        If one is not of the same card as the first.
    AnchorError
        If an anchor is missing from a reading.

    Examples
    --------
    >>> series = swatchread.follow([wet, after_a_day, after_a_week])
    >>> [(number, change.L.by) for number, change in series.curve("r1c1")]
    """
    if len(notes) < 2:
        raise UsageError("One reading cannot be compared", "", "Give at least two photos or notes of one card")
    return Series(tuple(compare(notes[0], later, anchors) for later in notes[1:]))


def seconds_between(before: Note, after: Note) -> float | None:
    """Return the time between two photos in seconds, or None if one does not say when it was taken."""
    try:
        start, end = (datetime.fromisoformat(note.photo.taken or "") for note in (before, after))
        return (end - start).total_seconds()
    except (ValueError, TypeError):  # no time, or one with and one without its zone
        return None


def _remarks(match: CardMatch, conditioned: Conditioned, odd_ground: bool, notes: tuple[Note, Note]) -> list[str]:
    remarks = _of_photos(notes)
    if abs(match.turn) > _TURNED:
        remarks.append(
            f"The card lies turned by {abs(match.turn):.0f}° in the second photo; its swatches were matched."
        )
    if len(match.pairs) < _FEW:
        remarks.append(f"Only {len(match.pairs)} swatches were matched: make sure that it is the same card.")
    if match.rival:
        remarks.append(
            "The swatches could be matched in another way about as well: check on the pictures that they are right."
        )
    if match.only_before:
        remarks.append(f"Only in the first reading: {first_of(match.only_before, _MOST_NAMED)}.")
    if match.only_after:
        remarks.append(f"Only in the second reading: {first_of(match.only_after, _MOST_NAMED)}.")
    doubtful = _doubtful(match, notes)
    if doubtful:
        named = first_of(doubtful, _MOST_NAMED)
        remarks.append(f"Flagged in one of the readings, so that a change there may not be real: {named}.")
    if odd_ground:
        remarks.append(
            "The bare ground reads very differently in the two photos: it changed, or one reading took something else "
            "for the ground. All uncertainties were widened for it; anchors that cannot have changed narrow them again."
        )
    if conditioned.doubtful:
        remarks.append(
            f"These anchors disagree with the others and may have changed: {', '.join(conditioned.doubtful)}."
        )
    return remarks


def _of_photos(notes: tuple[Note, Note]) -> list[str]:
    remarks = []
    seconds = seconds_between(*notes)
    if seconds is not None and seconds < 0:
        remarks.append("By their dates the second photo is the older one; they are compared in the order given.")
    charts = [note.chart.name for note in notes]
    if charts[0] != charts[1]:
        remarks.append(
            f"The readings go by different charts ({charts[0]}, {charts[1]}): the charts' own errors do not cancel, "
            "and the uncertainties do not include them. Read both photos with one chart."
        )
    return remarks


def _doubtful(match: CardMatch, notes: tuple[Note, Note]) -> tuple[str, ...]:
    """Return the matched swatches that one of the readings flags as doubtful, each with the flag."""
    found = []
    for pair in match.pairs:
        flags = {flag for note, name in zip(notes, pair, strict=True) for flag in note.swatch(name).flags}
        spoilt = [flag for flag in SWATCH_FLAGS if flag in SPOILT & flags]
        if spoilt:
            found.append(f"{pair[0]} ({', '.join(spoilt)})")
    return tuple(found)
