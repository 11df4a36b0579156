"""The comparer of notes that other tests lean on, on pairs known to be alike and known to differ."""

import pytest

from tests.notes import changed, same_note, sample_note

NOTE = sample_note()
LAB = NOTE.swatch("r1c1").lab


def brighter(by):
    return changed(NOTE, "r1c1", lab=(LAB[0] + by, *LAB[1:]))


def test_floats_may_differ_by_the_tolerance_and_no_more():
    assert same_note(NOTE, brighter(0.004))
    assert not same_note(NOTE, brighter(0.006))
    assert same_note(NOTE, brighter(0.006), tol=0.01)


@pytest.mark.parametrize(
    "other",
    [
        changed(NOTE, "r1c1", recipe="4 white"),
        changed(NOTE, "r1c1", flags=["clipped"]),
        changed(NOTE, "r1c1", writing="card.r1c1.writing.jpg"),
        changed(NOTE, "r1c1", outline=NOTE.swatch("r1c1").outline[1:]),
        sample_note(missing=["r3c1"]),
        NOTE.model_copy(update={"made": "2030-01-01T00:00:00+00:00"}),
        NOTE.model_copy(update={"photo": NOTE.photo.model_copy(update={"width": NOTE.photo.width + 1})}),
    ],
    ids=["recipe", "flags", "file", "outline", "swatches", "date", "whole number"],
)
def test_everything_else_is_compared_exactly(other):
    assert not same_note(NOTE, other, tol=0.5)
    assert not same_note(other, NOTE, tol=0.5)
