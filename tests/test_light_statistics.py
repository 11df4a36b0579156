"""The light's numbers against other libraries: robust least squares by SciPy, shares and scatter by definition."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial import ConvexHull

from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import lab_to_xyz
from swatchread.correction.camera_fit import Target, fit_model, misfit
from swatchread.correction.camera_model import Shape
from swatchread.correction.card_light import _ask_chart
from swatchread.correction.ground_selection import distance_outside, of_one_colour
from swatchread.correction.joint_fit import Observations
from swatchread.correction.light_field import (
    LEAST_GROUND,
    Brightness,
    LightField,
    even_light,
    fit_light,
    light_basis,
    nearest,
    spacing,
    spread,
)
from swatchread.correction.local_tone import _slope
from swatchread.correction.patch_errors import reference_variance, reference_weight
from swatchread.correction.shadow_edge import Edge, find_shadow_edge
from swatchread.correction.uncertainty import outside_chart

CHART = load_chart()
GRID = np.stack(np.meshgrid(np.linspace(-1.0, -0.2, 7), np.linspace(-0.6, 0.6, 9)), axis=-1).reshape(-1, 2)


def brightness(rng, ground_error=0.012, chart_error=0.05):
    """Noise of the sizes that the fit counts with, and one stain."""
    chart = (CHART.centres - [3, 2]) / 20
    field = np.array([0.2, -0.1, 0.05, 0.08, -0.06])
    seen = 0.7 * np.exp(light_basis(GRID, 2) @ field + rng.normal(0, ground_error, len(GRID)))
    seen[10] *= 0.8
    true = CHART.xyz[:, 1]
    return Brightness(
        chart, true * np.exp(light_basis(chart, 2) @ field + rng.normal(0, chart_error, 24)), true, GRID, seen
    )


@pytest.mark.parametrize(("degree", "seed"), [(1, 1), (2, 2), (3, 3)])
def test_the_light_is_that_of_scipys_robust_least_squares(degree, seed):
    """Cauchy's loss at 2.5 standard deviations; one constant a surface; terms of about 0.4."""
    seen = brightness(np.random.default_rng(seed))
    bright = seen.chart_true > 0.03
    ground, chart = light_basis(GRID, degree), light_basis(seen.chart_place[bright], degree)
    terms = ground.shape[1]

    def residuals(x):
        off_ground = (ground @ x[:terms] + x[-2] - np.log(seen.ground_seen)) / 0.012
        off_chart = (chart @ x[:terms] + x[-1] - np.log(seen.chart_seen / seen.chart_true)[bright]) / 0.05
        return np.concatenate([off_ground, off_chart, x[:terms] / 0.4])

    found = least_squares(residuals, np.zeros(terms + 2), loss="cauchy", f_scale=2.5, xtol=1e-12, ftol=1e-12)
    light = fit_light(seen, degree)
    assert light.edge is None
    places = np.random.default_rng(0).uniform([-1, -0.6], [0.2, 0.6], (40, 2))
    np.testing.assert_allclose(light.smooth(places), light_basis(places, degree) @ found.x[:terms], atol=2e-3)
    rest = np.log(seen.ground_seen) - ground @ found.x[:terms] - found.x[-2]
    np.testing.assert_allclose(light.ground_rest, rest - np.median(rest[nearest(GRID)]), atol=3e-3)


def test_dark_patches_do_not_show_the_light():
    """Nor does a black of 2 per cent."""
    seen = brightness(np.random.default_rng(4))
    seen = replace(seen, chart_true=np.where(np.arange(24) == 23, 0.02, seen.chart_true))
    spoilt = np.where(np.arange(24) == 23, 5.0, seen.chart_seen)
    np.testing.assert_allclose(
        fit_light(replace(seen, chart_seen=spoilt), 2).coefficients, fit_light(seen, 2).coefficients
    )


def test_the_basis_holds_every_monomial_up_to_its_degree():
    x, y = np.array([0.3, -0.7]), np.array([0.5, 0.2])
    place = np.stack([x, y], axis=-1)
    expected = [x, y, x**2, x * y, y**2, x**3, x**2 * y, x * y**2, y**3]
    np.testing.assert_allclose(light_basis(place, 3), np.stack(expected, axis=-1))
    assert light_basis(place, 0).shape == (2, 0)


def field(rest, places=GRID, edge=None):
    return LightField(1, np.zeros(2), places, rest, edge)


def test_what_the_ground_leaves_is_averaged_over_near_pieces():
    """A normal kernel of 0.8 pitches: of pieces one and two pitches away the nearer counts exp(1.5 / 0.64) times."""
    pitch = spacing(GRID)
    assert pitch == pytest.approx(min(0.8 / 6, 1.2 / 8))
    rest = np.random.default_rng(5).normal(0, 0.02, len(GRID))
    light = field(rest)
    place = np.random.default_rng(6).uniform([-1, -0.6], [-0.2, 0.6], (5, 2))
    shares = light.shares(place)
    np.testing.assert_allclose(shares.sum(axis=1), 1.0)
    assert np.all(shares >= 0.0)
    line = field(np.zeros(7), np.stack([np.arange(7.0), np.zeros(7)], axis=-1))
    one, two = line.shares(np.array([[0.0, 0.0]]))[0, [1, 2]]
    assert np.log(one / two) == pytest.approx(1.5 / 0.64, rel=1e-3)
    np.testing.assert_allclose(light.near(place), [np.average(rest, weights=w) for w in shares])
    unsure = [np.sqrt(np.cov(rest, aweights=w, bias=True)) for w in shares]
    np.testing.assert_allclose(light.unsure(place), unsure, rtol=1e-6)


def test_an_edge_adds_a_share_of_what_it_changes_near_a_place():
    edge = Edge(0.0, -0.6, 0.02, -0.5)
    light = field(np.zeros(len(GRID)), edge=edge)
    place = np.array([[-0.6, 0.0], [-0.9, 0.3]])
    change = [0.35 * np.sqrt(np.cov(edge.at(GRID), aweights=w, bias=True)) for w in light.shares(place)]
    np.testing.assert_allclose(light.unsure(place), change, rtol=1e-6)
    assert light.jump == pytest.approx(1.0 - np.exp(-0.5))
    assert field(np.where(GRID[:, 0] < -0.6, 0.9, -0.9)).jump > 0.5
    np.testing.assert_allclose(light.smooth(place), edge.at(place))


def test_little_ground_says_nothing_of_the_light_nearby():
    """Six pieces do, five do not."""
    place, rest = GRID[: LEAST_GROUND + 3 : 2], np.linspace(-0.05, 0.05, len(GRID))
    for count, silent in ((LEAST_GROUND, False), (LEAST_GROUND - 1, True)):
        light = field(rest[:count] * 10, GRID[:count])
        told = [np.abs(light.near(place)).max(), np.abs(light.unsure(place)).max(), light.unevenness, light.jump]
        assert [value == 0.0 for value in told] == [silent] * 4
    assert even_light().jump == 0.0
    assert LEAST_GROUND == 6


def test_scatter_is_told_from_the_deciles():
    """Of normal values it is the standard deviation, and a twentieth of outliers hardly changes it."""
    values = np.random.default_rng(7).normal(3.0, 0.2, 20_000)
    assert spread(values) == pytest.approx(0.2, rel=0.02)
    values[:1000] = 50.0
    assert spread(values) == pytest.approx(0.2, rel=0.25)


def test_the_ground_nearest_the_chart_is_a_sixth_of_it():
    place = np.random.default_rng(8).uniform(-1, 1, (60, 2))
    chosen = nearest(place)
    assert len(chosen) == 10
    far = np.linalg.norm(place, axis=1)
    assert far[chosen].max() <= np.delete(far, chosen).min()
    assert len(nearest(place[:20])) == LEAST_GROUND


@pytest.mark.parametrize(("angle", "offset", "width", "depth"), [(0.4, -0.5, 0.06, -0.4), (2.6, 0.3, 0.02, 0.3)])
def test_an_edge_is_found_where_it_is(angle, offset, width, depth):
    edge = Edge(angle, offset, width, depth)
    aims = np.concatenate([edge.at(GRID) + 0.3, np.zeros(3)]) / 0.01
    rows = np.zeros((len(aims), 1))
    rows[: len(GRID), 0] = 1.0
    found = find_shadow_edge(GRID, np.full(len(GRID), 100.0), rows, aims)
    np.testing.assert_allclose(found.at(GRID), edge.at(GRID), atol=0.06)
    np.testing.assert_allclose(found.at(np.zeros((1, 2))), 0.0, atol=1e-12)


def test_the_profile_of_an_edge_is_a_hyperbolic_tangent():
    edge = Edge(np.pi / 2, 0.2, 0.1, -0.6)
    y = np.array([-0.5, 0.2, 0.3, 0.9])
    at = edge.at(np.stack([np.full(4, 7.0), y], axis=-1))
    np.testing.assert_allclose(at, -0.3 * (np.tanh((y - 0.2) / 0.1) - np.tanh(-2.0)))


def test_ground_outside_the_swatches_is_told_in_pitches():
    """Against SciPy's convex hull: the farthest of its half-planes, inside and beyond a side."""
    paint = np.stack(np.meshgrid(np.arange(4.0), np.arange(3.0)), axis=-1).reshape(-1, 2) * 0.3
    hull = ConvexHull(paint)
    ground = np.array([[0.45, 0.3], [0.1, 0.35], [1.2, 0.3], [0.45, -0.25]])
    signed = (hull.equations[:, :2] @ ground.T + hull.equations[:, 2:]).max(axis=0)
    np.testing.assert_allclose(distance_outside(paint, ground), signed / 0.3, atol=1e-5)


def test_ground_of_one_colour_is_kept_whatever_its_brightness():
    rng = np.random.default_rng(9)
    xyz = np.outer(rng.uniform(0.3, 0.8, 60), [0.96, 1.0, 0.82]) * rng.normal(1, 0.002, (60, 3))
    place = rng.uniform(-1, 1, (60, 2))
    assert of_one_colour(xyz, place).all()
    other = np.arange(3, 60, 7)
    xyz[other, 2] *= 0.85
    np.testing.assert_array_equal(np.flatnonzero(~of_one_colour(xyz, place)), other)


def test_saturation_beyond_the_chart_is_the_distance_from_its_hull():
    """Of a* and b* over L* + 16, against SciPy's convex hull; 72 directions are a little short of all."""
    rng = np.random.default_rng(10)
    lab = rng.uniform([20, -80, -80], [90, 80, 80], (300, 3))
    known, seen = (c[:, 1:] / (c[:, :1] + 16.0) for c in (CHART.lab, lab))
    hull = ConvexHull(known)
    signed = (hull.equations[:, :2] @ seen.T + hull.equations[:, 2:]).max(axis=0)
    inside = signed < 0
    np.testing.assert_allclose(outside_chart(lab, CHART.lab)[inside], signed[inside], atol=0.03)
    corner = np.linalg.norm(seen[:, None] - known[None], axis=-1).min(axis=1)
    outside = outside_chart(lab, CHART.lab)[~inside]
    assert np.all((outside <= corner[~inside] + 1e-9) & (outside >= signed[~inside] - 0.03))


@pytest.mark.parametrize("shape", [Shape(1, 0), Shape(3, 5, rendered=True)])
def test_slopes_of_the_residuals_are_those_of_small_steps(shape):
    """By single parameters and by the light on each patch, priors among the rows."""
    linear = 0.8 * CHART.xyz / CHART.xyz.max()
    light = np.random.default_rng(11).normal(0, 0.1, 24)
    target = Target(linear, light, CHART.lab, np.linspace(0.5, 1.0, 24))
    fitted = fit_model(target, shape)
    here = misfit(target, fitted)
    for k in (0, shape.bends, len(fitted.model.vector) - 1):
        step = 1e-5 * np.eye(len(fitted.model.vector))[k]
        up, down = (
            misfit(target, replace(fitted, model=fitted.model.with_vector(fitted.model.vector + s * step))).residual
            for s in (1, -1)
        )
        np.testing.assert_allclose(here.by_parameter[:, k], (up - down) / 2e-5, rtol=1e-4, atol=2e-4)
    up, down = (misfit(replace(target, light=light + s * 1e-5), fitted).residual for s in (1, -1))
    np.testing.assert_allclose(here.by_light, ((up - down) / 2e-5)[:72], rtol=1e-4, atol=1e-4)


def test_a_fit_ends_where_nothing_pulls_any_more():
    """At the least sum of squares the slopes' rows are at right angles to the residuals."""
    rng = np.random.default_rng(12)
    target = Target(
        0.8 * CHART.xyz / CHART.xyz.max(), np.zeros(24), CHART.lab + rng.normal(0, 0.5, (24, 3)), np.ones(24)
    )
    for shape in (Shape(1, 0), Shape(3, 5, rendered=True)):
        end = misfit(target, fit_model(target, shape))
        left = np.linalg.solve(end.by_parameter.T @ end.by_parameter, end.by_parameter.T @ end.residual)
        gain = end.residual @ end.by_parameter @ left / (end.residual @ end.residual)
        assert 0.0 <= gain < 0.02


def test_the_frame_of_a_linear_camera_is_its_own_matrix():
    """Then nothing is left to the polynomial: its terms stand at what the prior holds most likely."""
    sensor = np.array([[0.7, 0.25, 0.05], [0.2, 0.75, 0.05], [0.02, 0.13, 0.85]])
    linear = 0.6 * CHART.xyz @ sensor.T
    fitted = fit_model(Target(linear, np.zeros(24), CHART.lab, np.ones(24)), Shape(1, 0))
    lab = np.random.default_rng(13).uniform([30, -20, -20], [80, 30, 40], (20, 3))
    seen = fitted.model.xyz(0.6 * lab_to_xyz(lab) @ sensor.T)
    np.testing.assert_allclose(seen, lab_to_xyz(lab), rtol=0.01)


def stated(de00):
    return replace(CHART, de00=np.broadcast_to(np.asarray(de00, float), 24).copy())


def test_readings_inherit_half_the_variance_of_like_patches():
    lab = CHART.lab[[3, 18]] + 0.5
    np.testing.assert_allclose(reference_variance(stated(1.2), np.ones(24, bool), lab), 0.5 * 1.2**2)
    single = np.where(np.arange(24) == 3, 2.0, 0.0)
    near, far = reference_variance(stated(single), np.ones(24, bool), lab)
    assert 5.0 * far < near < 2.0
    assert reference_variance(stated(single), np.arange(24) != 3, lab) == pytest.approx(0.0)


def test_a_patch_twice_as_uncertain_as_usual_weighs_less():
    """Of two independent causes of error, in proportion to one over the standard deviation."""
    np.testing.assert_allclose(reference_weight(stated(0.0)), 1.0)
    np.testing.assert_allclose(reference_weight(stated(0.6)), 0.8 / 1.0)


@pytest.mark.parametrize(("pieces", "degree"), [(30, 3), (29, 2), (15, 2), (14, 0), (0, 0)])
def test_as_much_ground_as_a_light_of_some_degree_needs(pieces, degree):
    """Three pieces a term: nine terms and a constant of the third degree, and half as many pieces of the second."""
    none = np.zeros((pieces, 3))
    seen = Observations(
        CHART.xyz, CHART, np.ones(24), Shape(), np.zeros((24, 2)), none, none, none[:, :2], np.zeros((0, 2))
    )
    assert seen.degree == degree


def test_the_slope_over_the_surroundings_is_unmoved_by_stray_pieces_and_states_its_scatter():
    """Drawn many times over: a quarter of the pieces lies in stains, far off on one side."""
    rng = np.random.default_rng(12)
    slopes, errors = [], []
    for _ in range(300):
        around = rng.normal(0.0, 0.3, 60)
        ground = -0.2 * around + rng.normal(0.0, 0.02, 60)
        stained = rng.random(60) < 0.25
        ground[stained] -= 1.0 + around[stained]
        slope, error = _slope(ground, around)
        slopes.append(slope)
        errors.append(error)
    assert np.mean(slopes) == pytest.approx(-0.2, abs=0.005)
    assert np.mean(errors) == pytest.approx(np.std(slopes), rel=0.5)


@pytest.mark.parametrize(("shaded", "shift"), [(0.0, 0.3), (1.0, 0.3 + np.log(0.6)), (0.5, None)])
def test_a_second_chart_tells_the_light_unless_a_shadow_cuts_it(shaded, shift):
    """A third lighter than the chart's own light, and a shadow that takes 40 % of it from some of the patches."""
    rng = np.random.default_rng(4)
    xyz = np.repeat(rng.uniform(0.1, 0.9, (24, 1)), 3, axis=1)
    points = np.column_stack([np.arange(24.0), np.zeros(24)])
    light = np.exp(0.3) * np.where(points[:, 0] < 24 * shaded, 0.6, 1.0)
    linear = xyz * light[:, None] * np.exp(rng.normal(0.0, 0.02, (24, 1)))
    calibration = SimpleNamespace(
        place=np.asarray,
        log_light=lambda places: np.zeros(len(places)),
        sample=SimpleNamespace(points=points + [0.0, 90.0]),
        fitted=SimpleNamespace(model=SimpleNamespace(xyz=np.asarray)),
    )
    find = SimpleNamespace(chart=SimpleNamespace(xyz=xyz))
    other = SimpleNamespace(find=find, linear=linear, points=points, clipped=np.zeros(24, dtype=bool))
    card = points + [0.0, 10.0]
    witness = _ask_chart(calibration, other, card)
    if shift is None:
        assert witness is None
        return
    assert witness.shift == pytest.approx(shift, abs=0.015)
    assert witness.low < shift < witness.high
    assert _ask_chart(calibration, other, card + [0.0, 80.0]) is None  # the chart itself lies nearer
