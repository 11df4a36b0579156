"""Which swatch is which, however the card lies; and cards that are not one card."""

import re
from dataclasses import replace

import numpy as np
import pytest

from swatchread.comparison.card_matching import match_cards
from swatchread.comparison.pair import compare
from swatchread.comparison.same_card import date_key, grouped
from swatchread.errors import DifferentCardsError
from tests.comparing_data import Card, beside_another_print, painted, photographed


def true_pairs(card, one, other):
    """Pair ids by the card's own colours: within a reading, the nearest to the painted one."""
    names = []
    for note in (one, other):
        lab = np.array([s.lab for s in note.swatches])
        names.append([note.swatches[int(np.linalg.norm(lab - c, axis=1).argmin())].id for c in card.lab])
    return set(zip(*names, strict=True))


@pytest.mark.parametrize("turn", [0, 7, 90, 137, 180, 270])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_turned_card_is_matched_swatch_by_swatch(seed, turn):
    card = painted(seed)
    before, after = photographed(card, seed, noise=0.3), photographed(card, seed + 100, turn=turn, noise=0.3)
    match = match_cards(before, after)
    assert set(match.pairs) == true_pairs(card, before, after)
    assert not match.only_before
    assert not match.only_after
    assert abs((match.turn - turn + 180) % 360 - 180) < 3


def test_missed_swatches_are_named_and_shift_no_ids():
    card = painted(4)
    before, after = photographed(card, 4, noise=0.3), photographed(card, 5, missed=(0, 1, 2, 7), noise=0.3)
    match = match_cards(before, after)
    assert set(match.only_before) == {"r1c1", "r1c2", "r1c3", "r3c2"}
    assert ("r2c1", "r1c1") in match.pairs  # the first row was missed, so the second is now called the first
    assert any("r3c2" in remark for remark in compare(before, after).remarks)


def test_things_taken_for_swatches_stay_alone():
    card = painted(5)
    match = match_cards(photographed(card, 6, noise=0.3), photographed(card, 7, extra=9, noise=0.3))
    assert len(match.pairs) == len(card.lab)
    assert len(match.only_after) == 9


def test_a_large_common_shift_does_not_hide_the_card():
    card = painted(6)
    match = match_cards(photographed(card, 8), photographed(card, 9, turn=180, shift=(-8, -2, 5)))
    assert len(match.pairs) == len(card.lab)


@pytest.mark.parametrize("seed", range(10, 16))
def test_another_card_of_the_same_layout_is_refused(seed):
    with pytest.raises(DifferentCardsError, match="not of one card") as caught:
        compare(photographed(painted(seed), seed), photographed(painted(seed + 50), seed + 50))
    assert caught.value.why
    assert caught.value.exit_status == 2


def test_another_layout_is_refused():
    with pytest.raises(DifferentCardsError, match="not of one card"):
        compare(photographed(painted(20, 6, 3), 20), photographed(painted(20, 3, 2), 21))


GREY_BOARD = (56.0, 0.4, 0.4)


def painted_again(card, seed):
    """Paint the same run in the same paints on the same layout once more: like places and like colours, no more."""
    rng = np.random.default_rng([seed, 79])
    places = card.places + rng.normal(0, 1.4 * 0.04, card.places.shape)
    return replace(card, places=places, lab=card.lab + rng.normal(0, 3.0, card.lab.shape))


@pytest.mark.parametrize("seed", [60, 62, 66, 68])
def test_the_same_run_on_another_ground_is_another_card(seed):
    card = painted(seed)
    again = replace(painted_again(card, seed), ground=GREY_BOARD)
    with pytest.raises(DifferentCardsError, match="not of one card") as caught:
        match_cards(photographed(card, seed), photographed(again, seed + 200))
    assert "grounds are 3" in caught.value.why  # 32 apart
    assert 1.0 < float(re.search(r"places ([\d.]+) %", caught.value.why)[1]) < 20.0  # painted by hand, within a tenth
    assert grouped([photographed(card, seed), photographed(again, seed + 200)]) == ()


def test_a_card_whose_ground_was_misread_is_still_that_card():
    card = painted(63)
    before, after = photographed(card, 63), photographed(replace(card, ground=GREY_BOARD), 263, turn=5)
    assert len(match_cards(before, after).pairs) == len(card.lab)
    assert any("ground reads very differently" in remark for remark in compare(before, after).remarks)


def test_one_swatch_alone_says_too_little():
    card = painted(21, 1, 1)
    with pytest.raises(DifferentCardsError, match="two swatches"):
        compare(photographed(card, 1), photographed(card, 2))


def test_a_card_that_fits_both_ways_says_so_and_is_taken_as_unturned():
    """Four alike swatches in a square look the same after every quarter turn."""
    places = np.array([[0.0, 0.0], [1.4, 0.0], [0.0, 1.4], [1.4, 1.4]])
    card = Card(places, np.tile([50.0, 10.0, 15.0], (4, 1)))
    result = compare(photographed(card, 30), photographed(card, 31))
    assert result.match.rival
    assert all(one == other for one, other in result.match.pairs)
    assert any("another way" in remark for remark in result.remarks)


def test_a_card_that_fits_two_ways_and_has_lost_its_numbers_is_refused():
    """Six alike swatches in two rows; turned by a quarter they stand in three, and either end may be the upper one."""
    places = np.array([[1.4 * column, 1.4 * row] for row in range(2) for column in range(3)])
    card = Card(places, np.tile([50.0, 10.0, 15.0], (6, 1)))
    with pytest.raises(DifferentCardsError, match="It is not certain which") as caught:
        match_cards(photographed(card, 30), photographed(card, 31, turn=90))
    assert "two ways" in caught.value.why


@pytest.mark.parametrize("size", [0.3, 0.6, 1.6, 3.0])
def test_the_chart_may_be_a_larger_or_a_smaller_print(size):
    """Lengths are the card's own: another size of the chart neither hides the card nor moves swatches."""
    for seed in range(4):
        card = painted(seed)
        before = photographed(card, seed, noise=0.3)
        after = beside_another_print(photographed(card, seed + 100, turn=12, noise=0.3), size)
        assert set(match_cards(before, after).pairs) == true_pairs(card, before, after)
        assert grouped([before, after]) == ((0, 1),)


def test_another_card_is_refused_at_any_size_of_the_chart():
    for seed in range(10, 16):
        other = photographed(painted(seed + 50), seed + 50)
        for size in (0.6, 1.6):
            with pytest.raises(DifferentCardsError):
                match_cards(photographed(painted(seed), seed), beside_another_print(other, size))


def test_a_few_rows_of_another_card_are_not_taken_for_it():
    """Of thirty swatches some six always come to lie on six others of like colours."""
    small = [photographed(painted(seed, 3, 2), seed) for seed in range(70, 76)]
    for seed, note in enumerate(small):
        with pytest.raises(DifferentCardsError):
            match_cards(note, photographed(painted(seed + 170, 6, 5), seed + 170))


def test_readings_of_one_card_are_put_together_by_date():
    first, second = painted(40), painted(41)
    notes = [
        photographed(first, 50, taken="2025-06-01T10:00:00"),
        photographed(second, 51, taken="2025-01-01T10:00:00"),
        photographed(painted(42, 6, 2), 52),
        photographed(first, 53, turn=90, taken="2024-06-01T10:00:00"),
        photographed(second, 54, missed=(3,), taken="2025-03-01T10:00:00"),
    ]
    assert grouped(notes) == ((3, 0), (1, 4))


def test_cards_without_a_photos_date_are_ordered_by_their_own_where_it_says_a_day():
    card = painted(3)
    written = ["2024-06-02", "2023-12-31", "1 May 2024", "2024.4.30"]  # the third may mean any day of its year
    notes = [photographed(card, 40 + k, info={"date": date}) for k, date in enumerate(written)]
    made = notes[2].model_copy(update={"made": "2024-05-15T10:00:00+00:00"})
    assert grouped([*notes[:2], made, notes[3]]) == ((1, 3, 2, 0),)


@pytest.mark.parametrize("written", ["2024-05-03", "2024.5.3"])
def test_a_card_is_ordered_by_the_day_that_it_names(written):
    note = photographed(painted(3), 6)
    dated = note.model_copy(update={"card_info": note.card_info.model_copy(update={"date": written})})
    assert date_key(dated) == ("2024-05-03", note.made)
