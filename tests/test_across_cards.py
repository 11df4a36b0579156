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


VACCINE = np.array(
    [
        (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
        (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232),
        (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
    ]
)  # fmt: skip
"""Thirteen trials of a vaccine (Colditz et al. 1994): ill and well with it, ill and well without; from memory."""


def test_cards_that_differ_weigh_as_in_a_published_summary():
    """DerSimonian and Laird's mean of the logarithm of relative risk is -0.7141 (as textbooks work it through)."""
    ill, well, ill_without, well_without = VACCINE.T
    risk = np.log(ill / (ill + well) / (ill_without / (ill_without + well_without)))
    variance = 1 / ill - 1 / (ill + well) + 1 / ill_without - 1 / (ill_without + well_without)
    mean, error = random_effects(risk, variance)
    assert mean == pytest.approx(-0.7141, abs=2e-4)
    assert error == pytest.approx(0.18, abs=0.01)


@pytest.mark.parametrize(("between", "least"), [(0.0, 0.0), (1.5, 0.03)])
def test_the_mean_of_a_few_cards_has_the_error_that_is_stated(between, least):
    """Student's t of four degrees of freedom: one in twenty lies outside if cards differ, and fewer if they do not."""
    rng, outside = np.random.default_rng(5), 0
    for _ in range(2000):
        variance = rng.uniform(0.2, 1.0, 5)
        mean, error = random_effects(rng.normal(0, np.sqrt(variance + between**2)), variance)
        outside += abs(mean) > 2.776 * error
    assert least <= outside / 2000 < 0.075
