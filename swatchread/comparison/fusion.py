"""Several readings of one card fused into one note."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from swatchread import __version__
from swatchread.colour.cielab import value_of_lab
from swatchread.comparison.fusion_alignment import Gathered, align_readings
from swatchread.comparison.fusion_outliers import Agreed, Left, drop_outliers, left_photo, warnings_of
from swatchread.comparison.fusion_weights import Weighed, weighted_mean
from swatchread.errors import UsageError
from swatchread.note.composition import describe, rounded, rounded_points, rounded_triple
from swatchread.note.flags_and_warnings import SWATCH_FLAGS
from swatchread.note.model import CardFacts, FusedPhoto, Ground, Note, Swatch, Tool, Uncertainty
from swatchread.note.swatch_flags import step_flags

_OF_STEPS = frozenset({"close_valued", "gap", "chalky"})
"""Flags that depend on neighbouring swatches; they are found anew for the fused run."""


def fuse(notes: Sequence[Note], unread: Sequence[tuple[str, str]] = ()) -> Note:
    """Fuse readings of several photos of one card into one note.

    Each swatch is the mean of its readings, weighted by their uncertainty. Photos and single readings that disagree
    with the others by more than that are left out and named in a warning. The uncertainty shrinks only by what the
    photos do not share; see `swatchread.comparison.fusion_weights`.

    Parameters
    ----------
    notes : sequence of Note
        At least two, of different photos.
    unread : sequence of (str, str)
        File and reason of photos that could not be read, for the warning.

    Returns
    -------
    Note
        Its `photo`, outlines and ids are the best photo's; `photos` names them all.

    Raises
    ------
    UsageError
        If there are fewer than two, or two of one photo.
    DifferentCardsError
        If they are not of one card, as far as their geometry and colours can tell.

    Examples
    --------
    >>> note = swatchread.fuse([swatchread.read_photo(path) for path in photos])
    >>> note.warnings
    """
    _require_several(notes)
    left: list[Left] = [Left(file, why) for file, why in unread]
    members = list(notes)
    while True:
        gathered = align_readings(members)
        left += [Left(note.photo.file, why, note) for note, why in gathered.unmatched]
        members = list(gathered.notes)
        agreed = drop_outliers(gathered)
        outliers = {one.photo: one for one in agreed.photos}
        if gathered.base not in outliers:
            break
        # The best photo itself is the one that disagrees: align the others with the best of the rest.
        left.append(left_photo(gathered, outliers[gathered.base]))
        del members[gathered.base]
    left += [left_photo(gathered, one) for one in agreed.photos]
    shown = np.any(agreed.used, axis=0)
    weighed = weighted_mean(gathered.part(shown), agreed.used[:, shown])
    return _note(gathered, agreed, weighed, left)


def _require_several(notes: Sequence[Note]) -> None:
    if len(notes) < 2:
        raise UsageError("One photo alone cannot be combined", "", "Give at least two photos of one card")
    hashes = [note.photo.sha256 for note in notes]
    twins = [note.photo.file for note in notes if hashes.count(note.photo.sha256) > 1]
    if twins:
        raise UsageError(
            "A photo cannot be combined with itself",
            f"these are one and the same photo: {', '.join(twins)}",
            "Give different photos of the card: the same one twice says nothing new",
        )


def _note(gathered: Gathered, agreed: Agreed, weighed: Weighed, left: Sequence[Left]) -> Note:
    best = gathered.notes[gathered.base]
    out = {one.photo for one in agreed.photos}
    used = [k for k in range(len(gathered.notes)) if k not in out]
    ground = np.median([gathered.notes[k].card.ground.lab for k in used], axis=0)
    swatches = _swatches(gathered, agreed, weighed)
    counts = agreed.used.sum(axis=1)
    photos = [
        *(_fused(gathered.notes[k], int(counts[k])) for k in used),
        *(_fused(one.note, 0, one.why) for one in left if one.note is not None),
    ]
    return best.model_copy(
        update={
            "tool": Tool(version=__version__),
            "made": datetime.now(UTC).isoformat(timespec="seconds"),
            "card": CardFacts(
                corners=best.card.corners,
                ground=Ground(lab=rounded_triple(ground), value=rounded(value_of_lab(ground), 2)),
            ),
            "swatches": tuple(sorted(swatches, key=lambda s: (s.row, s.column))),
            "warnings": warnings_of(gathered, agreed, left),
            "photos": tuple(photos),
        }
    )


def _fused(note: Note, swatches: int, why: str = "") -> FusedPhoto:
    photo = note.photo.model_dump(include={"file", "sha256", "taken", "camera"})
    return FusedPhoto(**photo, swatches=swatches, left_out=why)


def _swatches(gathered: Gathered, agreed: Agreed, weighed: Weighed) -> list[Swatch]:
    shown = np.flatnonzero(agreed.used.any(axis=0)).tolist()
    described = describe(weighed.lab, np.einsum("ni,ij->nij", weighed.sigma**2, np.eye(3)))
    rows, columns = (np.array([gathered.places[j][axis] for j in shown]) for axis in (0, 1))
    stepped = step_flags(rows, columns, weighed.lab, weighed.sigma[:, 0])
    made = []
    for k, j in enumerate(shown):
        readings = [s for s, use in zip(gathered.swatches[j], agreed.used[:, j], strict=True) if use and s is not None]
        mine = gathered.swatches[j][gathered.base] or readings[0]
        made.append(
            Swatch(
                id=gathered.ids[j],
                row=int(rows[k]),
                column=int(columns[k]),
                outline=rounded_points(gathered.outlines[j]),
                uncertainty=_uncertainty(weighed, k),
                spread_de00=rounded(np.median([s.spread_de00 for s in readings]), 2),
                flags=_flags(readings, stepped[k]),
                recipe=mine.recipe,
                **described[k],
            )
        )
    return made


def _uncertainty(weighed: Weighed, k: int) -> Uncertainty:
    L, a, b = rounded_triple(weighed.sigma[k])
    return Uncertainty(L=L, a=a, b=b, de00=rounded(weighed.de00[k]), own_de00=rounded(weighed.own_de00[k]))


def _flags(readings: Sequence[Swatch], stepped: set[str]) -> tuple[str, ...]:
    """Return the flags that at least half of the readings carry, and those of the fused run itself."""
    half = {
        flag
        for flag in SWATCH_FLAGS
        if flag not in _OF_STEPS and 2 * sum(flag in s.flags for s in readings) >= len(readings)
    }
    return tuple(flag for flag in SWATCH_FLAGS if flag in half | stepped)
