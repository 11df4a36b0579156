"""Which tubes, grounds and media shift most, and silence where the cards do not carry an answer."""

import numpy as np
import pytest
from scipy.stats import ttest_1samp

from swatchread import compare
from swatchread.comparison.across_cards import LEAST_CARDS, random_effects, summarise
from tests.comparing_data import painted, photographed

GREEN = "2 titanium white + 1 viridian"
PLAIN = "2 titanium white + 1 yellow ochre"


def cards(count, by=-3.0, medium="gouache", start=0):
    """Invented cards: what holds viridian shifts by `by` L*, the rest stays."""
    results = []
    for seed in range(start, start + count):
        card = painted(seed, recipes=(GREEN, PLAIN))
        shift = np.zeros((len(card.lab), 3))
        shift[[r == GREEN for r in card.recipes], 0] = by
        later = {"medium": medium, "support": "grey card"}
        before = photographed(card, 900 + seed, taken="2025-01-01T10:00:00")
        after = photographed(card, 950 + seed, shift=shift, turn=90, taken="2025-01-11T10:00:00", info=later)
        results.append(compare(before, after))
    return results


def effect(across, name, quantity="L*"):
    return next(e for e in across.effects if e.name == name and e.quantity == quantity)


def test_a_tube_that_darkens_is_found_with_its_interval():
    across = summarise(cards(6))
    viridian = effect(across, "viridian")
    assert viridian.low < -3.0 < viridian.high
    assert viridian.high < 0
    assert viridian.clear
    assert (viridian.cards, viridian.days) == (6, pytest.approx(10.0))
    assert viridian.swatches == 48
    assert not effect(across, "viridian", "a*").clear


def test_a_tube_in_every_swatch_has_no_effect_of_its_own():
    """White is in all mixtures here: what it does cannot be told from what the card does."""
    assert not any(e.name == "titanium white" for e in summarise(cards(4)).effects)


def test_too_few_cards_are_named_and_not_told():
    across = summarise(cards(LEAST_CARDS - 1))
    assert not across.effects
    assert ("tube", "viridian", 2) in across.too_few
    assert ("medium", "gouache", 2) in across.too_few


def test_media_are_told_apart():
    across = summarise([*cards(3), *cards(3, by=0.0, medium=" Oil ", start=20)])
    gouache, oil = effect(across, "gouache"), effect(across, "oil")
    assert gouache.by < oil.by
    assert oil.low < 0 < oil.high
    assert not oil.clear


@pytest.mark.slow
def test_noise_alone_is_seldom_an_effect():
    found = [e.clear for start in range(0, 60, 4) for e in summarise(cards(4, by=0.0, start=100 + start)).effects]
    assert np.mean(found) <= 0.05


def test_the_mean_of_alike_cards_is_students():
    """With equal weights and a spread well above the readings' errors it is the plain t interval (scipy)."""
    y = np.array([-4.0, -1.0, 2.0, -6.5, 0.5])
    mean, error = random_effects(y, np.full(5, 0.01))
    test = ttest_1samp(y, 0.0)
    assert mean == pytest.approx(y.mean())
    assert mean / error == pytest.approx(test.statistic)


def test_agreeing_cards_are_no_surer_than_their_readings():
    mean, error = random_effects(np.array([-1.0, -1.0, -1.0]), np.array([0.3, 0.3, 0.3]))
    assert (mean, error) == pytest.approx((-1.0, np.sqrt(0.1)))
