"""What a page draws over a card's photo: corners, outlines, and the lines between rows and columns."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.note.model import Note
from swatchread.photo.geometry import UNIT_SQUARE, fit_homography, project


def card_overlay(note: Note) -> dict[str, Any]:
    """Return what is drawn over a photo, in its pixels.

    Parameters
    ----------
    note : Note

    Returns
    -------
    dict
        For JSON: ``width`` and ``height`` of the photo; ``card`` and ``chart``, four corners each; ``swatches`` with
        ``id``, ``outline`` and ``middle``; and ``rows`` and ``columns``, the two ends of each line that parts them.
    """
    middles = np.array([_middle(np.array(s.outline)) for s in note.swatches])
    to_photo = fit_homography(UNIT_SQUARE, np.array(note.card.corners, dtype=np.float64))
    on_card = project(np.linalg.inv(to_photo), middles)
    rows = _parting([s.row for s in note.swatches], on_card[:, 1])
    columns = _parting([s.column for s in note.swatches], on_card[:, 0])
    return {
        "width": note.photo.width,
        "height": note.photo.height,
        "card": note.card.corners,
        "chart": note.chart.corners,
        "swatches": [
            {"id": s.id, "outline": s.outline, "middle": _rounded(middle)}
            for s, middle in zip(note.swatches, middles, strict=True)
        ],
        "rows": [_rounded(project(to_photo, [[0.0, v], [1.0, v]])) for v in rows],
        "columns": [_rounded(project(to_photo, [[u, 0.0], [u, 1.0]])) for u in columns],
    }


def _middle(outline: Floats) -> Floats:
    middle: Floats = (outline.min(axis=0) + outline.max(axis=0)) / 2.0
    return middle


def _parting(numbers: Sequence[int], places: Floats) -> list[float]:
    """Return the places half-way between neighbouring rows, or columns."""
    lines = np.array(numbers)
    means = [float(places[lines == number].mean()) for number in sorted(set(numbers))]
    return [(one + other) / 2.0 for one, other in pairwise(means)]


def _rounded(points: Floats) -> Any:
    return np.round(points, 1).tolist()
