"""The uncertainties of a change, against changes drawn many times over and colour sums from other libraries."""

import colour
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000

from swatchread import compare
from swatchread.comparison.swatch_changes import SWATCH_LEVEL, TAIL, judge, two_sided
from tests.comparing_data import painted, photographed

DRAWS = 20_000


@pytest.fixture(scope="module")
def result():
    card = painted(9)
    return compare(photographed(card, 18), photographed(card, 19, shift=(2.0, 1.5, -2.0)), ["ground"])


def after_drawn(change, rng):
    """Draw what may have become of a swatch, about the middle of the change, with the stated deviations."""
    middle = (np.array(change.before) + np.array(change.after)) / 2.0
    sigma = [change.L.u, change_of_a(change), change.b.u]
    return middle, middle + sigma * rng.normal(size=(DRAWS, 3))


def change_of_a(change):
    """Return the uncertainty of a*, which the note of a change does not name: from those of chroma and b*."""
    middle = (np.array(change.before) + np.array(change.after)) / 2.0
    a, b = middle[1:] / np.hypot(*middle[1:])
    return np.sqrt((change.C.u**2 - (b * change.b.u) ** 2) / a**2)


def warmth(lab):
    """Ou, Luo, Woodcock & Wright (2004), with grey at 0."""
    chroma, hue = np.hypot(lab[:, 1], lab[:, 2]), np.arctan2(lab[:, 2], lab[:, 1])
    return 0.02 * chroma**1.07 * np.cos(hue - np.radians(50.0))


def value(lab):
    Y = 100.0 * colour.Lab_to_XYZ(lab, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])[:, 1]
    return colour.notation.munsell.munsell_value_ASTMD1535(Y)


@pytest.mark.parametrize("k", [1, 7, 13])
def test_every_quantity_scatters_as_stated(result, k):
    """To the first order: the drawn errors are small beside the chroma of these mixtures."""
    change = result.changes[k]
    assert not change.anchor
    rng = np.random.default_rng(k)
    middle, drawn = after_drawn(change, rng)
    hue = np.degrees(np.arctan2(drawn[:, 2], drawn[:, 1]) - np.arctan2(middle[2], middle[1]))
    assert change.h.u == pytest.approx(np.std((hue + 180.0) % 360.0 - 180.0), rel=0.05)
    assert change.warmth.u == pytest.approx(np.std(warmth(drawn)), rel=0.05)
    assert change.value.u == pytest.approx(np.std(value(drawn)), rel=0.05)
    off = deltaE_ciede2000(np.broadcast_to(middle, drawn.shape), drawn)
    assert change.de00.u == pytest.approx(np.sqrt(np.mean(off**2)), rel=0.05)


def test_the_amounts_are_of_the_colours_told(result):
    for change in result.changes:
        before, after = np.array([change.before]), np.array([change.after])
        turn = np.degrees(np.arctan2(*after[0, :0:-1]) - np.arctan2(*before[0, :0:-1]))
        assert change.h.by == pytest.approx((turn + 180.0) % 360.0 - 180.0, abs=1e-6)
        assert change.warmth.by == pytest.approx((warmth(after) - warmth(before))[0], abs=1e-3)
        assert change.value.by == pytest.approx((value(after) - value(before))[0], abs=0.01)
        assert change.de00.by == pytest.approx(deltaE_ciede2000(before, after)[0], abs=1e-3)
        assert change.L.by == pytest.approx((after - before)[0, 0])
        assert change.C.by == pytest.approx(np.hypot(*after[0, 1:]) - np.hypot(*before[0, 1:]))


def test_the_hue_of_a_grey_is_not_known_at_all():
    card = painted(9)
    card.lab[:, 1:] = 0.0
    result = compare(*(photographed(card, seed, noise=0.0) for seed in (18, 19)))
    assert {change.h.u for change in result.changes} == {180.0}
    assert all(change.C.u > 0.2 for change in result.changes)


def test_the_cards_common_change_is_the_mean_with_its_own_scatter(result):
    """Drawn with the whole covariance: what the swatches share does not average out."""
    free = [k for k, change in enumerate(result.changes) if not change.anchor]
    rng = np.random.default_rng(4)
    for channel, common in enumerate((result.common.L, result.common.a, result.common.b)):
        assert common.by == pytest.approx(result.conditioned.difference[free, channel].mean())
        covariance = result.conditioned.covariance[channel][np.ix_(free, free)]
        means = rng.multivariate_normal(np.zeros(len(free)), covariance, 20_000).mean(axis=1)
        assert common.u == pytest.approx(means.std(), rel=0.03)
    assert result.common.words
    assert all(0.0 <= p <= 1.0 for p in result.common.p)


def test_claims_are_as_rare_as_promised_where_nothing_changed():
    """Student's t of one size: lightness and colour each in half of the promised share, either in all of it."""
    rng = np.random.default_rng(6)
    tails = np.sqrt((TAIL - 2.0) / rng.chisquare(TAIL, (200_000, 2)))
    drawn = rng.normal(size=(200_000, 3)) * tails[:, [0, 1, 1]]
    judged = judge(drawn[None], np.ones((1, *drawn.shape)), np.ones((1, 3)))
    for p in (judged.lightness, judged.colour):
        assert np.mean(p < SWATCH_LEVEL / 2) == pytest.approx(SWATCH_LEVEL / 2, rel=0.06)
    assert np.mean(judged.swatch < SWATCH_LEVEL) == pytest.approx(SWATCH_LEVEL, rel=0.06)
    assert judged.swatch.max() <= 1.0


def test_p_values_are_those_of_tables():
    """Of the standard normal distribution (any handbook): 1.96 and 2.576 leave 5 and 1 per cent outside."""
    assert two_sided([1.959964, -2.575829, 0.0]) == pytest.approx([0.05, 0.01, 1.0], abs=1e-6)
    far = judge(np.array([[[2.365 * np.sqrt(5.0 / 7.0), 0.0, 0.0]]]), np.ones((1, 1, 3)), np.ones((1, 3)))
    assert far.lightness == pytest.approx([0.05], abs=2e-4)  # t of seven degrees of freedom: 2.365
    assert far.colour == pytest.approx([1.0])
