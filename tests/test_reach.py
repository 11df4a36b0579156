"""The box of a CIEDE2000 radius misses nothing; the probability of likeness is the textbook distribution."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchread.archive.same_colour import SIGMAS_PER_UNCERTAINTY, same_probability
from swatchread.archive.search_bounds import least_de00, reach
from swatchread.colour.cielab import delta_e_2000

axis = st.floats(-110, 110)
colour = st.tuples(st.floats(0, 100), axis, axis)


def holds(box, lab):
    return np.all((np.array(box.low) <= lab) & (lab <= np.array(box.high)), axis=-1)


@settings(max_examples=500)
@given(colour, colour)
def test_two_colours_lie_in_each_others_box(one, other):
    radius = float(delta_e_2000(np.array(one), np.array(other)))
    assert holds(reach(one, radius), np.array(other))


@settings(max_examples=500)
@given(colour, colour)
def test_the_least_difference_is_not_above_the_difference(one, other):
    least = least_de00(one, np.array([other]))[0]
    assert 0.0 <= least <= float(delta_e_2000(np.array(one), np.array(other)))


def test_the_least_difference_is_of_use():
    # Round a flesh colour it must sort out most of what is far.
    others = np.array([[60.0, 15.0, 20.0], [60.0, -20.0, -20.0], [20.0, 15.0, 20.0]])
    least = least_de00((60.0, 15.0, 20.0), others)
    assert least[0] == 0.0
    assert np.all(least[1:] > 12.0)


@pytest.mark.parametrize("radius", [0.3, 1.0, 3.0, 8.0, 15.0, 40.0])
def test_every_colour_within_the_radius_is_in_the_box(radius):
    # Against scikit-image's own CIEDE2000, all round the hue circle and through the blues where R_T rotates.
    from skimage.color import deltaE_ciede2000

    rng = np.random.default_rng(5)
    for _ in range(60):
        hue = rng.choice([rng.uniform(0, 360), rng.uniform(240, 310)])
        chroma = rng.uniform(0, 100)
        centre = (
            rng.uniform(0, 100),
            chroma * math.cos(math.radians(hue)),
            chroma * math.sin(math.radians(hue)),
        )
        steps = rng.normal(size=(3000, 3)) * radius * rng.uniform(0.2, 3.0, size=(3000, 1))
        others = np.clip(np.array(centre) + steps * [1.0, 2.0, 2.0], [0, -200, -200], [100, 200, 200])
        near = others[deltaE_ciede2000(np.broadcast_to(centre, others.shape), others) <= radius]
        assert len(near) > 0
        assert np.all(holds(reach(centre, radius), near))


def test_the_box_is_close_enough_to_be_of_use():
    # A flesh colour at radius 3: a box that were merely "everything" would pass the tests above.
    box = reach((60.0, 15.0, 20.0), 3.0)
    half = (np.array(box.high) - np.array(box.low)) / 2
    assert np.all(half < [4.0, 9.0, 9.0])
    assert half[0] >= 3.0


def test_radius_zero_is_a_point():
    box = reach((40.0, -20.0, 30.0), 0.0)
    assert holds(box, np.array([40.0, -20.0, 30.0]))
    assert not holds(box, np.array([40.0, -20.0, 30.001]))


@settings(deadline=None)
@given(st.floats(0, 12), st.floats(0.05, 4), st.floats(0, 4), st.floats(0.2, 3))
def test_likeness_is_the_non_central_chi_distribution(de00, u1, u2, visible):
    # Oracle: scipy's non-central chi-square, 3 degrees of freedom.
    from scipy.stats import ncx2

    sigma = math.hypot(u1, u2) / SIGMAS_PER_UNCERTAINTY
    expected = ncx2.cdf((visible / sigma) ** 2, 3, max((de00 / sigma) ** 2, 1e-12))
    assert same_probability(de00, (u1, u2), visible) == pytest.approx(expected, abs=2e-6)


def test_the_uncertainty_is_the_68_percent_radius():
    # Oracle: scipy's chi distribution; 68.27 % is the mass within one sigma of one axis.
    from scipy.stats import chi, norm

    assert chi(3).ppf(norm.cdf(1) - norm.cdf(-1)) == pytest.approx(SIGMAS_PER_UNCERTAINTY, abs=5e-6)


def test_exact_colours_are_alike_or_not():
    assert same_probability(0.5, (0.0, 0.0)) == 1.0
    assert same_probability(1.0, (0.0, 0.0)) == 0.0


def test_likeness_falls_with_the_difference():
    chances = [same_probability(d / 10, (0.5, 0.5)) for d in range(35)]
    assert all(a > b for a, b in itertools.pairwise(chances))
