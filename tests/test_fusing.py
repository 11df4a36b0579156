"""Several photos of one card fused: on invented readings of known truth, so that every case is quick and exact."""

import numpy as np
import pytest

from tests.comparing_data import painted, photographed


def shots(card, count=5, first=100, **factors):
    return [photographed(card, first + k, turn=3.0 * k, **factors) for k in range(count)]


def truth_of(card, note):
    """True colours in the order of the note's swatches, by their order on the card (all are there, none turned)."""
    return np.array([card.lab[3 * (s.row - 1) + s.column - 1] for s in note.swatches])


def codes(note):
    return [w.code for w in note.warnings]


@pytest.fixture(scope="module")
def card():
    return painted(3)
