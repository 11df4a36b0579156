"""Two cards in one photo, and cards that the photo's edge cuts off. The truth is the simulator's."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.correction.calibration import calibrate
from swatchread.note.card_warnings import chart_warnings
from swatchread.photo import load_photo
from tests.bench.matching import match
from tests.scene.faults import ordinary_spec, spoiled

SIZE = (1200, 900)
#: Seeds that were not looked at when the rules were made.
SEEDS = (52001, 52002, 52003)


def codes(note):
    return {warning.code for warning in note.warnings}


def right_ids(note, swatches):
    """Return how many swatches a note holds of a card, and how many of them carry the card's own name."""
    pairs = match([np.mean(s.outline, axis=0) for s in note.swatches], swatches)
    return len(pairs), sum(note.swatches[i].id == swatches[j].id for i, j in pairs)


@pytest.mark.parametrize("seed", SEEDS)
def test_of_two_cards_one_is_read_whole_and_the_other_named(reading, seed):
    read, scene = reading(spoiled(ordinary_spec(seed, SIZE), "two-cards"))
    note = read.note
    found = [right_ids(note, card) for card in (scene.truth.swatches, scene.truth.second_card)]
    assert min(found) == (0, 0)
    assert max(found) == (len(note.swatches), len(note.swatches))
    assert "second_card" in codes(note)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_card_that_the_photos_edge_cuts_off_is_doubted(reading, seed):
    assert "card_cut" in codes(reading(spoiled(ordinary_spec(seed, SIZE), "cut"))[0].note)


@pytest.mark.parametrize("seed", SEEDS)
def test_one_whole_card_is_not_doubted(reading, seed):
    read, scene = reading(ordinary_spec(seed, SIZE))
    told = {(s.row, s.column) for s in read.note.swatches}
    assert not codes(read.note) & {"card_cut", "second_card", "chart_doubtful", "photo_damaged"}
    assert len(told) == len(scene.truth.swatches)


def test_a_hard_shadow_does_not_make_two_cards_of_one(reading):
    spec = replace(ordinary_spec(SEEDS[0], SIZE), shadow="card", shadow_depth=0.6, shadow_width=0.01)
    read, scene = reading(spec)
    assert "second_card" not in codes(read.note)
    assert len(read.note.swatches) >= len(scene.truth.swatches) - 1


@pytest.mark.parametrize("kind", ["copy", ""])
def test_another_makers_chart_is_doubted_and_a_genuine_one_is_not(photograph, kind):
    spec = ordinary_spec(SEEDS[1], SIZE)
    path, _ = photograph(spoiled(spec, kind) if kind else spec)
    told = chart_warnings(calibrate(sample_chart(find_chart(load_photo(path), load_chart()))))
    assert bool({w.code for w in told} & {"chart_doubtful", "poor_fit"}) == bool(kind)
