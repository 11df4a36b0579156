"""The painter's words: value names, warmth, temperature, lean and the steps of a run."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import D50_XYZ, lab_to_lch, luminance_of_value, value_of_lab, xyz_to_lab
from swatchread.colour.painter_terms import (
    VALUE_NAMES,
    lean,
    relative_to,
    run_at,
    run_scatter,
    span_of_name,
    steps,
    value_name,
    warmth,
    warmth_name,
    warmth_uncertainty,
)
from swatchread.note.composition import describe

labs = st.tuples(st.floats(0, 100), st.floats(-90, 90), st.floats(-90, 90)).map(np.array)


# --- value names: Denman W. Ross (1907), A Theory of Pure Design, section 128


def test_nine_names_in_the_published_order():
    published = "black, low dark, dark, high dark, middle, low light, light, high light, white"
    assert published.split(", ") == list(VALUE_NAMES)


@pytest.mark.parametrize(
    ("value", "name"),
    [(0.0, "black"), (1.0, "black"), (1.5, "low dark"), (4.49, "high dark"), (4.5, "middle"), (5.0, "middle"),
     (5.5, "low light"), (8.0, "high light"), (8.5, "white"), (9.0, "white"), (10.0, "white")],
)  # fmt: skip
def test_value_names(value, name):
    """Even steps of Munsell value are our convention (common practice); half a step goes upward."""
    assert value_name(value) == name
    low, high = span_of_name(name)
    assert low <= value <= high


# --- warmth: Ou, Luo, Woodcock & Wright (2004), Color Research & Application 29(3), 232-240, shifted by 0.5


@pytest.mark.parametrize(
    ("chroma", "hue", "published"), [(0, 0, -0.5), (20.25, 50, 0.0), (40, 50, 0.5356), (40, 230, -1.5356)]
)
def test_warm_cool_formula(chroma, hue, published):
    """At h = 50 degrees C* must pass 20.25 to score above 0; the values are the formula's, worked out by hand."""
    lab = [60.0, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))]
    assert float(warmth(lab)) - 0.5 == pytest.approx(published, abs=1e-3)


def test_the_trades_warm_and_cool_colours():
    """Reds, oranges and yellows are warm, greens towards blue, blues are cool (common practice)."""
    chart = load_chart()
    score = dict(zip(chart.patch_names, warmth(chart.lab), strict=True))
    assert min(score[n] for n in ("orange", "red", "yellow", "orange yellow", "moderate red")) > 0.5
    assert max(score[n] for n in ("blue", "cyan", "blue sky", "purplish blue", "bluish green")) < -0.1
    assert max(abs(score[n]) for n in ("neutral 8", "neutral 5", "black")) < 0.05


@settings(deadline=None)
@given(labs)
def test_warmth_does_not_depend_on_lightness(lab):
    assert float(warmth(lab)) == pytest.approx(float(warmth(lab * [0.5, 1, 1])), abs=1e-12)


def test_warmth_uncertainty_is_that_of_drawn_colours():
    """Against the spread of the scores of colours drawn from the stated covariance (Monte Carlo, 4 per cent)."""
    rng = np.random.default_rng(8)
    lab = np.array([[60.0, 18, 20], [35, -10, 14], [72, 4, -25]])
    root = rng.standard_normal((3, 3, 3)) * 0.6
    covariance = root @ root.transpose(0, 2, 1)
    stated = warmth_uncertainty(lab, covariance)
    for k in range(3):
        drawn = rng.multivariate_normal(lab[k], covariance[k], 20_000)
        assert warmth(drawn).std() == pytest.approx(stated[k], rel=0.04)


# --- claims only where they stand clear


@pytest.mark.parametrize(("score", "name"), [(0.3, "warm"), (0.1, "neutral"), (0.05, "neutral"), (-0.3, "cool")])
def test_dead_band(score, name):
    assert warmth_name(score, 0.1) == name


@pytest.mark.parametrize(("off", "name"), [(0.2, "warmer"), (0.1, "even"), (0.0, "even"), (-0.2, "cooler")])
def test_relative_needs_more_than_the_uncertainty(off, name):
    assert relative_to(off, 0.1) == name


def test_unknown_is_even():
    assert relative_to(float("nan"), 0.1) == "even"
    assert relative_to(0.5, float("nan")) == "even"


@pytest.mark.parametrize(
    ("da", "db", "name"), [(5, 1, "red"), (-5, 1, "green"), (1, 5, "yellow"), (1, -5, "blue"), (0.5, 0.5, "none")]
)
def test_lean_names_the_way_it_differs(da, db, name):
    """CIELAB's axes by their usual names: +a* red, -a* green, +b* yellow, -b* blue (CIE 015:2018)."""
    run = np.array([60.0, 12.0, 18.0])
    assert lean(run + [0, da, db], run, 0.5) == name
    assert lean(run + [0, da, db], run, 6.0) == "none"


def test_a_lean_stands_clear_of_the_scatter_of_its_run():
    """Rayleigh distribution: beyond twice the median lie exp(-4 ln 2), one in sixteen."""
    rng = np.random.default_rng(3)
    run = np.tile([60.0, 12.0, 18.0], (400, 1))
    lab = run + np.concatenate([np.zeros((400, 1)), rng.normal(0.0, 5.0, (400, 2))], axis=1)
    scatter = run_scatter(lab, run)
    assert scatter == pytest.approx(5.0 * np.sqrt(2 * np.log(2)), rel=0.1)
    share = np.mean([lean(one, at, 0.5, scatter) != "none" for one, at in zip(lab, run, strict=True)])
    assert share == pytest.approx(1 / 16, abs=0.03)
    assert lean(run[0] + [0.0, 20.0, 0.0], run[0], 0.5, scatter) == "red"


def test_the_scatter_is_that_of_the_swatches_that_have_a_run():
    run = np.array([[50.0, 10, 10], [50, np.nan, np.nan], [50, 10, 10]])
    lab = np.array([[50.0, 13, 14], [50, 60, 60], [50, 10, 15]])
    assert run_scatter(lab, run) == pytest.approx(5.0)
    assert run_scatter(lab, np.full((3, 3), np.nan)) == 0.0


# --- the run


def test_run_of_a_straight_line_is_the_line():
    value = np.array([2.0, 3.0, 4.1, 4.9, 6.0, 7.2, 8.0])
    np.testing.assert_allclose(run_at(value, 0.2 + 0.1 * value)[1:-1], (0.2 + 0.1 * value)[1:-1], atol=0.02)


def test_run_leaves_the_swatch_itself_out_and_the_odd_one_hardly_counts():
    value = np.linspace(2, 8, 13)
    score = np.full(13, 0.4)
    score[6] = 1.5
    run = run_at(value, score)
    assert run[6] == pytest.approx(0.4, abs=1e-6)
    assert np.abs(run - 0.4).max() < 0.1


def test_run_needs_three_others_near_in_value():
    assert np.isnan(run_at(np.array([2.0, 3.0, 4.0]), np.ones(3))).all()
    run = run_at(np.array([1.0, 6.0, 6.5, 7.0, 7.5]), np.ones(5))
    assert np.isnan(run[0])
    np.testing.assert_allclose(run[1:], 1.0, atol=1e-9)


# --- the steps


def made(value, a, b):
    """CIELAB of the given Munsell values with a*, b*."""
    lightness = xyz_to_lab(luminance_of_value(value)[:, None] * D50_XYZ)[:, 0]
    return np.stack(np.broadcast_arrays(lightness, a, b), axis=-1)


def flags_of(value, a, b, blur=0.05):
    value = np.asarray(value, dtype=float)
    return [(s.lower, s.upper, s.flag) for s in steps(made(value, a, b), value, np.full(len(value), blur))]


def test_even_steps_are_not_flagged():
    assert [f for _, _, f in flags_of([2, 3, 4, 5, 6, 7], 12, 20)] == [""] * 5


def test_close_valued_and_gap():
    """Closer than 0.35; above 1.5 times the run's median step (design, section 6)."""
    flags = flags_of([2.0, 3.0, 3.3, 4.3, 6.2, 7.2], 12, 20)
    assert [f for _, _, f in flags] == ["", "close_valued", "", "gap", ""]


def test_steps_within_the_uncertainty_are_close_valued():
    assert [f for _, _, f in flags_of([2.0, 2.5, 3.0], 12, 20, blur=0.05)] == ["", ""]
    assert [f for _, _, f in flags_of([2.0, 2.5, 3.0], 12, 20, blur=0.5)] == ["close_valued"] * 2


def test_a_gap_must_stand_clear_of_the_uncertainty():
    assert flags_of([2, 3, 4, 5.7], 12, 20, blur=0.05)[-1][2] == "gap"
    assert flags_of([2, 3, 4, 5.7], 12, 20, blur=0.3)[-1][2] == ""


def test_steps_are_told_dark_to_light_whatever_the_order_on_the_card():
    value = [6.0, 2.0, 5.0, 3.0]
    assert [(low, high) for low, high, _ in flags_of(value, 12, 20)] == [(1, 3), (3, 2), (2, 0)]


def test_chalky_is_colder_and_greyer_than_the_run():
    a = np.array([10, 13, 16, 19, 9, 10.0])
    b = np.array([14, 18, 22, 26, 10, 11.0])
    assert [f for _, _, f in flags_of([2, 3, 4, 5, 6, 7], a, b)] == ["", "", "", "chalky", ""]
    # Lighter and greyer all along is the run's own way, not a fault of one step.
    fading = np.array([22, 19, 16, 13, 10, 7.0])
    assert "chalky" not in [f for _, _, f in flags_of([2, 3, 4, 5, 6, 7], fading, 1.3 * fading)]


def test_white_alone_makes_a_step_chalky():
    """White cools a mixture and lowers its chroma (common practice).

    Mixed by Kubelka-Munk from the simulator's invented paints: a run that climbs as black gives way, and a last step
    made with white alone.
    """
    from tests.scene import paints, spectra

    black_and_white = ((3, 0.5), (1.5, 1.5), (0.8, 3), (0.2, 5), (0, 10), (0, 30))
    mixtures = [
        {"yellow ochre": 3, "cadmium red": 1, "ivory black": k, "titanium white": w} for k, w in black_and_white
    ]
    lab = np.array([spectra.lab_of(paints.mix(parts)) for parts in mixtures])
    found = steps(lab, value_of_lab(lab), np.full(len(lab), 0.03))
    assert [step.flag for step in found[:-1]] == [""] * 4
    assert lab_to_lch(lab)[-1, 1] < lab_to_lch(lab)[-2, 1] - 5
    assert warmth(lab)[-1] < warmth(lab)[-2] - 0.1
    assert found[-1].flag == "chalky"


def test_a_fall_too_small_to_see_is_not_chalky():
    """Chroma lower by 0.1 and warmth by 0.01 at the top of a climbing run: no photo can show that."""
    a, b = np.array([3, 6, 9, 12, 15, 14.95]), np.array([5, 10, 15, 20, 25, 24.9])
    assert [f for _, _, f in flags_of([2, 3, 4, 5, 6, 7], a, b)] == [""] * 5


def test_no_steps_where_there_is_one_swatch():
    assert steps(np.array([[50.0, 10, 10]]), np.array([5.0]), np.array([0.1])) == []
    assert steps(np.zeros((0, 3)), np.zeros(0), np.zeros(0)) == []


def test_without_a_run_nothing_leans_from_it():
    """Three swatches are no run; beside a grey all flesh would lean yellow, which says nothing."""
    flesh = np.array([[35.0, 14, 16], [50, 15, 22], [65, 13, 20]])
    alone = describe(flesh, np.tile(np.eye(3) * 0.25, (3, 1, 1)))
    assert {(one["lean"], one["temperature"].relative) for one in alone} == {("none", "even")}
    among = np.vstack([flesh, [[42.0, 14, 19], [58, 14, 21], [50, 15, 34]]])
    assert describe(among, np.tile(np.eye(3) * 0.25, (6, 1, 1)))[-1]["lean"] == "yellow"
