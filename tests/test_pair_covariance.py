"""How the errors of a pair hang together, against general formulas of probability worked out in another way."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from swatchread.comparison.anchoring import condition_on_anchors
from swatchread.comparison.card_matching import match_cards
from swatchread.comparison.error_scale import (
    SIZES,
    SPREAD,
    expected_squares,
    lights_apart,
    likely_factors,
    weights_of_sizes,
)
from swatchread.comparison.pair_covariance import PairNoise, own_variance, pair_noise, pair_readings, total_variance
from tests.comparing_data import STATED, painted, photographed
from tests.notes import changed


def noise_of(card, seed=20):
    before, after = photographed(card, seed), photographed(card, seed + 1)
    return pair_noise(pair_readings(before, after, match_cards(before, after)))


def invented(count=6, seed=3):
    """Errors that hang together in some way: three channels, the last place is the ground's."""
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(3, count, count))
    shared = 0.2 * root @ root.transpose(0, 2, 1)
    ids = (*(f"r{k + 1}c1" for k in range(count - 1)), "ground")
    return PairNoise(
        ids, rng.normal(size=(count, 3)), shared, rng.uniform(0.05, 0.2, (3, count)), likely_factors(0.5), 1.0
    )


def test_each_size_is_weighed_by_the_anchors_likelihood():
    """Bayes' rule over the factor and the three sizes, term by term; the evidence counts half."""
    noise, anchors = invented(), ("r1c1", "r3c1", "r4c1")
    found = condition_on_anchors(noise, anchors).of_sizes.weight
    index = [noise.ids.index(name) for name in anchors]
    evidence = np.zeros((len(SIZES), 3))
    for m, k in product(range(len(SIZES)), range(3)):
        covariance = SIZES[m, k] ** 2 * noise.shared[k][np.ix_(index, index)] + np.diag(noise.own[k][index])
        evidence[m, k] = multivariate_normal(cov=covariance).logpdf(noise.difference[index, k])
    steps = np.log(SIZES[:, 0]) / SPREAD[0]
    given = norm.pdf(steps, 0.8 * steps[:, None], 0.6)  # correlated by 0.8 with the factor that the channels share
    given /= given.sum(axis=1, keepdims=True)
    expected = np.zeros((len(SIZES), 3))
    for factor, *sizes in product(range(len(SIZES)), repeat=4):
        prior = noise.likely[factor] * np.prod([given[factor, m] for m in sizes])
        posterior = prior * np.exp(0.5 * sum(evidence[m, k] for k, m in enumerate(sizes)))
        for k, m in enumerate(sizes):
            expected[m, k] += posterior
    np.testing.assert_allclose(found, expected / expected.sum(axis=0), rtol=1e-9)


def test_the_ground_ties_but_does_not_tell_the_size():
    noise = invented()
    with_ground = condition_on_anchors(noise, ("r2c1", "ground")).of_sizes.weight
    np.testing.assert_allclose(with_ground, condition_on_anchors(noise, ("r2c1",)).of_sizes.weight)
    alone = condition_on_anchors(noise, ("ground",))
    np.testing.assert_allclose(alone.of_sizes.weight, condition_on_anchors(noise, ()).of_sizes.weight)
    assert np.trace(alone.covariance[0]) < np.trace(condition_on_anchors(noise, ()).covariance[0])


@pytest.mark.parametrize("anchors", [("r1c1",), ("r2c1", "r5c1", "ground")])
def test_what_the_anchors_show_is_taken_off_the_others(anchors):
    """The conditional of a Gaussian by the inverse of its whole covariance, for each size."""
    noise = invented()
    found = condition_on_anchors(noise, anchors).of_sizes
    count = len(noise.ids)
    index = np.array([noise.ids.index(name) for name in anchors])
    seen = count + np.arange(len(index))
    for m, k in product(range(len(SIZES)), range(3)):
        shared = SIZES[m, k] ** 2 * noise.shared[k]
        anchored = shared[np.ix_(index, index)] + np.diag(noise.own[k][index])
        whole = np.block([[shared, shared[:, index]], [shared[index], anchored]])
        precision = np.linalg.inv(whole + 1e-12 * np.eye(len(whole)))
        left = np.linalg.inv(precision[:count, :count])
        error = -left @ precision[:count, seen] @ noise.difference[index, k]
        np.testing.assert_allclose(found.difference[m, :, k], noise.difference[:, k] - error, atol=1e-4)
        np.testing.assert_allclose(found.sigma[m, :, k] ** 2, np.diag(left) + noise.own[k], atol=1e-4)


def test_the_covariance_is_that_of_the_mixture_over_the_sizes():
    """Drawn many times over: first the size, then the errors that it leaves."""
    noise, rng = invented(), np.random.default_rng(5)
    whole = condition_on_anchors(noise, ("r2c1", "ground"))
    sizes = whole.of_sizes
    for k in range(3):
        m = rng.choice(len(SIZES), 100_000, p=sizes.weight[:, k])
        drawn = sizes.difference[m, :, k] + sizes.sigma[m, :, k] * rng.normal(size=(100_000, len(noise.ids)))
        np.testing.assert_allclose(drawn.mean(axis=0), whole.difference[:, k], atol=0.02)
        np.testing.assert_allclose(drawn.var(axis=0), np.diag(whole.covariance[k]), rtol=0.03)


def test_without_anchors_the_errors_have_the_expected_size():
    noise = invented()
    found = condition_on_anchors(noise, ())
    squares = expected_squares(noise.likely)
    np.testing.assert_allclose(
        found.covariance, squares[:, None, None] * noise.shared + [np.diag(o) for o in noise.own]
    )
    np.testing.assert_allclose(found.difference, noise.difference)
    assert found.doubtful == ()


def test_an_anchor_is_doubted_when_the_others_foretell_it_otherwise():
    """By leaving it out in fact, and foretelling it from the rest."""
    noise = invented()
    anchors = noise.ids
    squares = expected_squares(noise.likely)
    for moved in range(len(anchors)):
        others = [i for i in range(len(anchors)) if i != moved]
        shared = squares[0] * noise.shared[0]
        gain = shared[moved, others] @ np.linalg.inv(shared[np.ix_(others, others)] + np.diag(noise.own[0][others]))
        sd = np.sqrt(shared[moved, moved] + noise.own[0][moved] - gain @ shared[others, moved])
        for times, doubted in ((2.9, False), (3.1, True)):
            difference = np.zeros((len(anchors), 3))
            difference[moved, 0] = times * sd
            found = condition_on_anchors(replace(noise, difference=difference), anchors).doubtful
            assert (anchors[moved] in found) is doubted


@pytest.mark.parametrize(("one", "other"), [(1.0, 1.0), (1.0, 1.1), (0.8, 1.2), (2.0, 0.7)])
def test_the_kinds_of_light_are_told_by_bayes_rule(one, other):
    """Of the ratio's logarithm, normal with 0.08 in one light and with 0.45 in two, each as likely before."""
    before, after = (with_departure(photographed(painted(3), seed), d) for seed, d in ((6, one), (7, other)))
    ratio = np.log(other / one)
    same, two = norm.pdf(ratio, scale=0.08), norm.pdf(ratio, scale=0.45)
    assert lights_apart(before, after) == pytest.approx(two / (same + two))


def test_an_unknown_light_may_be_either():
    note = photographed(painted(3), 6)
    assert lights_apart(note, with_departure(note, 1.0)) == 0.5
    apart = likely_factors(0.5)
    np.testing.assert_allclose(apart, (likely_factors(0.0) + likely_factors(1.0)) / 2.0)
    assert likely_factors(0.0).sum() == pytest.approx(1.0)
    np.testing.assert_allclose(likely_factors(0.0), likely_factors(1.0)[::-1])
    steps = np.log(SIZES[:, 1]) / SPREAD[1]
    assert likely_factors(1.0) @ steps == pytest.approx(0.8, abs=0.08)


def with_departure(note, departure):
    fit = note.chart.fit.model_copy(update={"departure_de00": departure})
    return note.model_copy(update={"chart": note.chart.model_copy(update={"fit": fit})})


def test_even_evidence_leaves_the_sizes_as_they_were_believed():
    likely = likely_factors(0.5)
    even = weights_of_sizes(np.full(SIZES.shape, -7.0), likely)
    np.testing.assert_allclose(even, weights_of_sizes(np.zeros(SIZES.shape), likely))
    assert expected_squares(likely) == pytest.approx((even * SIZES**2).sum(axis=0))
    np.testing.assert_allclose(even[:, 0], even[:, 0][::-1], atol=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_a_pairs_errors_can_be_drawn(seed):
    """A covariance is symmetric and has no negative direction, also with swatches that look alike."""
    card = painted(seed)
    lab = card.lab.copy()
    lab[1] = lab[0]
    noise = noise_of(replace(card, lab=lab))
    np.testing.assert_allclose(noise.shared, noise.shared.transpose(0, 2, 1))
    assert np.linalg.eigvalsh(noise.shared).min() > -1e-9
    assert noise.own.min() > 0.0


def test_near_colours_share_more_of_their_error_than_far_ones():
    card = painted(2)
    lab = np.array(card.lab)
    lab[:4] = [[60.0, 10.0, 15.0], [60.5, 10.5, 15.0], [60.0, 40.0, 45.0], [30.0, 10.0, 15.0]]
    noise = noise_of(replace(card, lab=lab))
    before = photographed(replace(card, lab=lab), 20, noise=0.0)
    at = [next(k for k, s in enumerate(before.swatches) if np.allclose(s.lab, row, atol=0.02)) for row in lab[:4]]
    for channel in (1, 2):
        shared = noise.shared[channel][np.ix_(at, at)]
        correlation = shared / np.sqrt(np.outer(np.diag(shared), np.diag(shared)))
        assert correlation[0, 1] > 0.95
        assert correlation[0, 1] > correlation[0, 2] + 0.2


def stating(by, **more):
    """Return the variance of a swatch's own errors, before and after it states more."""
    before, after = photographed(painted(3), 6), photographed(painted(3), 7)
    match = match_cards(before, after)
    usual = pair_noise(pair_readings(before, after, match))
    uncertainty = after.swatch(by).uncertainty.model_copy(update=more)
    wide = pair_noise(pair_readings(before, changed(after, by, uncertainty=uncertainty.model_dump()), match))
    k = usual.ids.index(by)
    return usual.own[:, k], wide.own[:, k]


def test_uneven_paint_counts_for_the_strokes_that_only_one_photo_averages():
    """Most of the strokes are the same in both: far less than the variance that a reading states of them."""
    own = STATED["own_de00"]
    usual, wide = stating("r3c2", own_de00=0.35)
    more = 0.35**2 - own**2
    assert (wide - usual)[0] > 0.03 * more
    assert np.all((wide > usual) & (wide - usual < 0.06 * more))


def test_doubt_of_one_swatch_is_its_own_in_its_channel_alone():
    usual, wide = stating("r3c2", L=2.0)
    assert wide[0] > 2.0 * usual[0]
    np.testing.assert_allclose(wide[1:], usual[1:])


def test_paint_that_a_photo_cut_off_is_as_far_off_in_the_next():
    """Its doubt does not cancel as that of a swatch at the edge of the light mostly does."""
    before, after = photographed(painted(3), 6), photographed(painted(3), 7)
    match = match_cards(before, after)
    wide = after.swatch("r3c2").uncertainty.model_copy(update={"L": 2.0}).model_dump()
    own = [
        pair_noise(pair_readings(before, changed(after, "r3c2", uncertainty=wide, flags=flags), match)).own[0]
        for flags in ((), ("clipped",), ("uneven",))
    ]
    k = [one for one, _ in match.pairs].index("r3c2")
    assert own[1][k] > 4.0 * own[0][k]
    np.testing.assert_allclose(own[2], own[0])
    np.testing.assert_allclose(np.delete(own[1], k), np.delete(own[0], k))


def test_a_burnt_out_reading_is_as_unsure_as_it_states():
    """No other photo repeats its error: it counts in full, as the swatch's own, and makes no other swatch less sure."""
    before, after = photographed(painted(3), 6), photographed(painted(3), 7)
    match = match_cards(before, after)
    usual = pair_noise(pair_readings(before, after, match))
    u = after.swatch("r3c2").uncertainty
    wide = {"L": np.hypot(u.L, 2.0), "a": np.hypot(u.a, 9.0), "b": np.hypot(u.b, 4.0), "de00": np.hypot(u.de00, 5.0)}
    burnt = changed(after, "r3c2", uncertainty={**u.model_dump(), **wide, "burnt_de00": 5.0}, flags=("clipped",))
    noise = pair_noise(pair_readings(before, burnt, match))
    k = noise.ids.index("r3c2")
    np.testing.assert_allclose((noise.own - usual.own)[:, k], [4.0, 81.0, 16.0], rtol=0.1)
    np.testing.assert_allclose(np.delete(noise.own, k, axis=1), np.delete(usual.own, k, axis=1), rtol=0.05)
    others = np.ix_(range(3), *2 * (np.delete(np.arange(len(noise.ids)), k),))
    np.testing.assert_allclose(noise.shared[others], usual.shared[others], rtol=0.05)


@pytest.mark.parametrize("times", [1.4, 3.0])
def test_a_ground_beyond_one_and_a_half_times_its_errors_widens_those_of_all(times):
    """The errors to be expected of it: as stated of the pair without anchors, by the middle of both grounds."""
    notes = photographed(painted(3), 6, noise=0.0), photographed(painted(3), 7, noise=0.0)
    match = match_cards(*notes)
    middle = np.array(notes[0].card.ground.lab)

    def apart_by(difference):
        moved = []
        for note, side in zip(notes, (-0.5, 0.5), strict=True):
            ground = note.card.ground.model_copy(update={"lab": tuple(middle + side * difference)})
            moved.append(note.model_copy(update={"card": note.card.model_copy(update={"ground": ground})}))
        return pair_noise(pair_readings(*moved, match))

    still = apart_by(np.zeros(3))
    assert still.widening == 1.0
    sd = np.sqrt(np.einsum("kii->ki", condition_on_anchors(still, ()).covariance)[:, -1])
    odd = apart_by(times * sd)
    assert odd.widening == pytest.approx(max(1.0, times / 1.5))
    np.testing.assert_allclose(odd.shared[0][:3, :3], odd.widening**2 * still.shared[0][:3, :3], rtol=1e-9)
    np.testing.assert_allclose(odd.own, still.own)


def test_no_reading_is_without_an_error_of_its_own():
    swatch = photographed(painted(3), 6).swatches[0]
    exact = swatch.model_copy(update={"uncertainty": swatch.uncertainty.model_copy(update={"own_de00": 0.0})})
    assert np.all(own_variance(exact) > 0.0)
    assert np.all(own_variance(swatch) > own_variance(exact))
    np.testing.assert_allclose(total_variance(swatch), [STATED["L"] ** 2, STATED["a"] ** 2, STATED["b"] ** 2])
