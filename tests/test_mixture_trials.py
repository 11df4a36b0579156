"""What a mixing model believes, draws and weighs, against definitions and against many draws."""

import numpy as np
import pytest

from swatchread.colour.cielab import de00_metric
from swatchread.palette.kubelka_munk import BANDS, reflectance_of_ratio
from swatchread.palette.likely_colour import likely_lab
from swatchread.palette.pigment_prior import believe, shapes
from swatchread.palette.run_curve import fit_run_curve
from swatchread.palette.trials import BaseMixture, draw_trials

VALUES = np.linspace(2.0, 8.0, 25)


def test_a_straight_run_is_followed_also_where_nothing_is_recorded():
    """But for the ridge, which holds the slope back at the ends."""
    ab = np.stack([4.0 + 1.5 * VALUES, 20.0 - VALUES], axis=-1)
    wanted = np.array([3.0, 5.0, 7.0])
    aims = fit_run_curve(VALUES, ab, wanted)
    np.testing.assert_allclose(aims, np.stack([4.0 + 1.5 * wanted, 20.0 - wanted], axis=-1), atol=0.1)
    ends = fit_run_curve(VALUES, ab, np.array([2.0, 8.0]))
    np.testing.assert_allclose(ends, [[7.0, 18.0], [16.0, 12.0]], atol=0.6)


def test_a_stray_mixture_hardly_bends_the_run():
    ab = np.stack([np.full(25, 12.0), np.full(25, 18.0)], axis=-1)
    ab[12] += [30.0, -25.0]
    np.testing.assert_allclose(fit_run_curve(VALUES, ab, np.array([5.0])), [[12.0, 18.0]], atol=0.4)


def test_the_course_is_local():
    """A step in the middle: 2.4 values away, twice the width of the weights, each half has its own colour."""
    ab = np.where(VALUES < 5.0, 0.0, 10.0)[:, None] * np.ones(2)
    low, high = fit_run_curve(VALUES, ab, np.array([2.3, 7.7]))
    assert np.all(np.abs(low) < 1.0)
    assert np.all(np.abs(high - 10.0) < 1.0)


@pytest.fixture(scope="module")
def model(palette):
    return palette.model


def test_the_likely_colour_lies_where_two_readings_would_put_it(palette, model):
    """As the mean of the reading and of what the recipe gives, each weighed by the inverse of its covariance."""
    samples = palette.collected.samples.take(np.arange(12))
    likely = likely_lab(model, samples)
    slopes = model.paints.slopes(samples.with_touch(model.paints.touch))
    for k in range(12):
        spread = np.where(samples.touches[k], 0.5, model.habits.dosing)
        recipe = model.scale**2 * (
            (slopes.by_amount[k] * spread**2) @ slopes.by_amount[k].T + model.habits.theory_sd**2 * np.eye(3)
        )
        reading = np.diag(samples.own_sd[k] ** 2 + samples.shared_sd[k] ** 2)
        of_recipe, of_reading = np.linalg.inv(recipe), np.linalg.inv(reading)
        mean = np.linalg.solve(of_recipe + of_reading, of_recipe @ slopes.lab[k] + of_reading @ samples.lab[k])
        np.testing.assert_allclose(likely[k], mean, rtol=1e-6)


def base_of(model, off=(1.0, -2.0, 0.5)):
    shares = np.zeros(len(model.tubes))
    shares[[model.tubes.index("titanium white"), model.tubes.index("red ochre")]] = 0.75, 0.25
    return BaseMixture(model, shares, np.array(off))


def test_an_addition_thins_out_what_the_model_was_off_by(model):
    base = base_of(model)
    added = np.zeros((2, len(model.tubes)))
    added[1, model.tubes.index("viridian")] = 0.5
    before, after = base.after(added)
    np.testing.assert_allclose(before, model.paints.lab(base.shares[None])[0] + base.off)
    np.testing.assert_allclose(after, model.paints.lab((base.shares + added[1])[None])[0] + base.off / 1.5)


def test_trials_begin_at_the_reading_and_scatter_as_it_does(model):
    """Ninety-six draws know a standard deviation to 7 %; each begins near the colour read, whatever it is made of."""
    base, start = base_of(model), np.array([70.0, 18.0, 20.0])
    still = np.zeros((1, len(model.tubes)))
    dots = np.zeros((1, len(model.tubes)), bool)
    exact = np.concatenate([trial.after(still, dots) for trial in draw_trials([base], start, 0.0)])
    np.testing.assert_allclose(exact, np.broadcast_to(start, exact.shape), atol=1e-9)
    read = np.concatenate([trial.after(still, dots) for trial in draw_trials([base], start, 0.9)]) - start
    squares = np.einsum("ni,ij,nj->n", read, de00_metric(start), read)
    assert np.sqrt(squares.mean()) == pytest.approx(0.9, rel=0.2)
    assert np.abs(read.mean(axis=0)).max() < 0.4


def test_trials_dose_as_the_painter_does(model):
    trials = draw_trials([base_of(model)], np.array([70.0, 18.0, 20.0]), 0.5)
    parts = np.log([trial.by_parts for trial in trials])
    dots = np.log([trial.by_dot for trial in trials])
    assert parts.std() == pytest.approx(model.scale * model.habits.dosing, rel=0.12)
    assert dots.std() == pytest.approx(0.5, rel=0.12)
    assert abs(parts.mean()) < 0.1 * model.habits.dosing * 4
    added = np.zeros(len(model.tubes))
    added[0] = 0.4
    for as_dot in (False, True):
        trial = trials[3]
        factor = trial.by_dot if as_dot else trial.by_parts
        seen = trial.after(added, np.full(len(added), as_dot))
        np.testing.assert_allclose(seen, trial.base.after(added * factor))


def test_every_likely_mixture_is_tried_as_often(model):
    one, other = base_of(model), base_of(model)
    ochre, viridian = (model.tubes.index(name) for name in ("red ochre", "viridian"))
    other.shares[[ochre, viridian]] = 0.0, 0.25
    trials = draw_trials([one, other], np.array([60.0, 10.0, 10.0]), 0.0)
    assert [trial.base.shares[ochre] > 0 for trial in trials] == [True, False] * (len(trials) // 2)
    for trial in trials:
        assert trial.base.shares.sum() == pytest.approx(1.0)


def test_a_belief_is_the_unit_gaussian_of_its_departures():
    """The leading shapes hold nearly all of a Gaussian process of the stated height and length."""
    for leading, (level, bend, length) in (
        (shapes().absorption, (0.8, 0.9, 45.0)),
        (shapes().scattering, (0.6, 0.25, 120.0)),
    ):
        apart = np.subtract.outer(BANDS, BANDS) / length
        whole = level**2 + bend**2 * np.exp(-(apart**2) / 2.0)
        left = whole - leading @ leading.T
        assert np.linalg.eigvalsh(left).min() > -1e-9  # nothing is believed twice
        assert np.trace(left) < 0.1 * np.trace(whole)
        np.testing.assert_allclose(leading.T @ leading, np.diag(np.diag(leading.T @ leading)), atol=1e-9)
        assert np.all(np.diff(np.diag(leading.T @ leading)) <= 0)


def test_an_unknown_tube_may_have_any_colour():
    known, unknown = believe(("viridian",)), believe(("a tube nobody listed",))
    assert unknown.stretch[0] == pytest.approx(1.6 * known.stretch[0])
    R = reflectance_of_ratio(np.exp(unknown.log_absorption - unknown.log_scattering))
    np.testing.assert_allclose(R, 0.15)
    assert np.ptp(reflectance_of_ratio(np.exp(known.log_absorption - known.log_scattering))) > 0.05
    assert known.count == sum(known.counts[1:]) + 2
