"""The least squares of the mixing model and its cards left out, against numpy's own on the whole design at once."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.colour.cielab import de00_metric, delta_e_2000
from swatchread.palette.fitted_palette import _known_tubes, _too_little, leave_cards_out
from swatchread.palette.mixture_fit import fit, linearise, members, normal_equations, prior_weights
from swatchread.palette.mixture_model import dose_spread
from swatchread.palette.training_data import Card, collect
from swatchread.recipes.tubes import load_tubes


def whitened(fitted, values):
    """Divide values of each swatch's colour, (n, 3, k), by the noise of the cards: the inverse of the roots."""
    return np.vstack(
        [
            np.linalg.inv(root) @ values[which].reshape(3 * len(which), -1)
            for root, which in zip(fitted.roots, members(fitted.samples), strict=True)
        ]
    )


def cost(fitted, theta):
    """Half the sum of squares that the fit makes small: readings by their noise, departures by the belief."""
    paints = replace(fitted.model.paints, theta=theta)
    off = paints.lab(fitted.samples.with_touch(paints.touch)) - fitted.samples.lab
    return 0.5 * float((whitened(fitted, off[..., None]) ** 2).sum() + ((prior_weights(len(theta)) * theta) ** 2).sum())


def test_the_pull_of_the_cards_and_of_the_belief_is_the_slope_of_the_cost(fitted):
    """By central differences, away from the best fit, along single departures and along some at once."""
    rng = np.random.default_rng(2)
    theta = fitted.model.paints.theta + 0.3 * rng.normal(size=len(fitted.model.paints.theta))
    moved = replace(fitted.model.paints, theta=theta)
    _, pull = normal_equations(moved, fitted.samples, fitted.roots)
    slope = prior_weights(len(theta)) ** 2 * theta - pull.sum(axis=0)
    for direction in (*np.eye(len(theta))[[0, 17, -2, -1]], rng.normal(size=len(theta))):
        step = 1e-4 * direction
        measured = (cost(fitted, theta + step) - cost(fitted, theta - step)) / 2e-4
        assert slope @ direction == pytest.approx(measured, rel=2e-3, abs=2e-2)


def test_the_fit_is_where_nothing_pulls_any_more(fitted):
    paints = fitted.model.paints
    matrix, pull = normal_equations(paints, fitted.samples, fitted.roots)
    prior = prior_weights(len(paints.theta)) ** 2
    left = np.linalg.solve(matrix.sum(axis=0) + np.diag(prior), pull.sum(axis=0) - prior * paints.theta)
    assert np.abs(left).max() < 0.05  # standard deviations of the belief


def test_the_covariance_is_that_of_least_squares(fitted):
    """The inverse of the design's own square, belief included, by numpy's pseudo-inverse."""
    design = design_of(fitted)
    inverse = np.linalg.pinv(design)
    np.testing.assert_allclose(fitted.model.covariance, inverse @ inverse.T, rtol=1e-4, atol=1e-7)


def design_of(fitted, kept=None):
    by_theta = linearise(fitted.model.paints, fitted.samples).by_theta
    rows = whitened(fitted, by_theta)
    if kept is not None:
        rows = rows[kept]
    return np.vstack([rows, np.diag(prior_weights(by_theta.shape[-1]))])


def test_a_card_left_out_is_foretold_by_least_squares_on_the_others(fitted):
    """One step from the fit, with the rows of the other cards alone (numpy's lstsq); then the model as it is."""
    held, samples, paints = leave_cards_out(fitted), fitted.samples, fitted.model.paints
    of_rows = np.concatenate([np.repeat(k, 3 * len(which)) for k, which in enumerate(members(samples))])
    off = samples.lab - linearise(paints, samples).lab
    for card in (0, 5, 11):
        kept = of_rows != card
        design = design_of(fitted, kept)
        aims = np.concatenate(
            [whitened(fitted, off[..., None])[kept, 0], -prior_weights(len(paints.theta)) * paints.theta]
        )
        step = np.linalg.lstsq(design, aims, rcond=None)[0]
        out = np.flatnonzero(samples.card == card)
        moved = replace(paints, theta=paints.theta + step)
        foretold = moved.lab(samples.take(out).with_touch(moved.touch))
        np.testing.assert_allclose(held.lab[out], foretold, atol=1e-4)
        np.testing.assert_allclose(held.de00[out], delta_e_2000(foretold, samples.lab[out]), atol=1e-4)


def test_what_is_stated_of_cards_left_out_scatters_so(fitted):
    """Tubes, doses, the theory and the reading, drawn many times over for the swatches of one card."""
    held, samples, rng = leave_cards_out(fitted), fitted.samples, np.random.default_rng(3)
    out = np.flatnonzero(samples.card == 4)
    here = linearise(fitted.model.paints, samples.take(out))
    of_rows = np.concatenate([np.repeat(k, 3 * len(which)) for k, which in enumerate(members(samples))])
    design = design_of(fitted, of_rows != 4)
    root = np.linalg.pinv(design)  # its square is the covariance of the tubes without that card
    draws, habits, taken = 4000, fitted.model.habits, samples.take(out)
    tubes = rng.normal(size=(draws, root.shape[1])) @ root.T
    doses = rng.normal(size=(draws, *taken.touches.shape)) * dose_spread(habits, taken.touches, taken.touches.shape)
    noise = np.sqrt(taken.own_sd**2 + taken.shared_sd**2 + habits.theory_sd**2)
    error = np.einsum("nip,dp->dni", here.by_theta, tubes) + np.einsum("nit,dnt->dni", here.by_amount, doses)
    error += noise * rng.normal(size=error.shape)
    squares = np.einsum("dni,nij,dnj->dn", error, de00_metric(here.lab), error)
    assert np.sqrt(squares.mean(axis=0)) == pytest.approx(held.stated[out], rel=0.08)


def test_the_scale_makes_stated_errors_hold_two_in_three(fitted):
    held = leave_cards_out(fitted)
    for times in (1.0, 3.0):
        wide = replace(held, de00=times * held.de00)
        inside = np.mean(wide.de00 <= wide.scale * wide.stated)
        assert inside == pytest.approx(0.68, abs=0.02) or wide.scale == 0.7
    assert replace(held, de00=0.01 * held.de00).scale == 0.7
    assert held.median == pytest.approx(np.median(held.de00))


def test_doses_that_are_touches_are_known_less_well(fitted):
    touches = np.array([[True, False], [False, False]])
    spread = dose_spread(fitted.model.habits, touches, (2, 2))
    assert spread[0, 0] > spread[0, 1] == spread[1, 0] == fitted.model.habits.dosing
    assert dose_spread(fitted.model.habits, None, (2, 2)).tolist() == [[spread[0, 1]] * 2] * 2


def test_a_tubes_scattering_is_known_when_it_hardly_varies_among_likely_tubes(fitted):
    """Drawn from the covariance: the mean over wavelengths of ln S, against that of the tube used most."""
    paints, rng = fitted.model.paints, np.random.default_rng(6)
    root = np.linalg.cholesky(fitted.model.covariance)
    most = int(np.argmax(fitted.samples.with_touch(paints.touch).sum(axis=0)))
    drawn = []
    for _ in range(2000):
        moved = replace(paints, theta=paints.theta + root @ rng.normal(size=len(root)))
        level = np.log(moved.scattering).mean(axis=1)
        drawn.append(level - level[most])
    varies = np.std(drawn, axis=0)
    half = np.sqrt(np.prod(np.sort(varies)[4:6]))  # between the fifth tube and the sixth
    wider = replace(fitted.model, covariance=(0.35 / half) ** 2 * fitted.model.covariance)
    known = sorted_like(fitted.samples.tubes, _known_tubes(fitted.samples, replace(fitted, model=wider)))
    assert [one.constants for one in known] == np.where(varies < half, 2, 1).tolist()


def sorted_like(tubes, known):
    return sorted(known, key=lambda one: tubes.index(one.tube))


def test_each_tube_says_how_often_it_was_recorded(fitted):
    known = _known_tubes(fitted.samples, fitted)
    used = dict(zip(fitted.samples.tubes, fitted.samples.used.sum(axis=0).tolist(), strict=True))
    assert {one.tube: one.swatches for one in known} == used
    assert [one.swatches for one in known] == sorted(used.values(), reverse=True)
    for one in known:
        assert bool(one.missing) is (one.swatches < 3)


@pytest.mark.parametrize(("count", "enough"), [(11, False), (12, True)])
def test_a_dozen_mixtures_of_two_cards_are_enough_to_try(world, count, enough):
    notes = [cut_to(world.notes[0], count - 6), cut_to(world.notes[1], 6)]
    assert (not _too_little(collect(cards_of(notes), load_tubes()))) is enough
    one = collect(cards_of([merged(notes)]), load_tubes())
    assert any("2 cards" in why for why in _too_little(one))


def cut_to(note, count):
    return note.model_copy(update={"swatches": note.swatches[:count]})


def merged(notes):
    swatches = [s for note in notes for s in note.swatches]
    numbered = tuple(
        s.model_copy(update={"id": f"r{k + 1}c9", "row": k + 1, "column": 9}) for k, s in enumerate(swatches)
    )
    return notes[0].model_copy(update={"swatches": numbered})


def cards_of(notes):
    return [Card(str(k), note) for k, note in enumerate(notes)]


def test_what_the_painter_doses_is_learnt(fitted):
    """The cards' doses are off by 0.15; another dozen, dosed on scales, shows a far smaller error."""
    assert fitted.model.habits.dosing == pytest.approx(0.15, rel=0.35)
    samples = fitted.samples
    touch = fitted.model.paints.touch
    exact = replace(samples, lab=fitted.model.paints.lab(samples.with_touch(touch)))
    noise = np.random.default_rng(7).normal(size=samples.lab.shape)
    read = replace(exact, lab=exact.lab + samples.own_sd * noise)
    assert fit(read).model.habits.dosing < 0.6 * fitted.model.habits.dosing
