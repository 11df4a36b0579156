"""The probability that two colours look alike is what its model says."""

import itertools

import numpy as np
import pytest
from scipy.stats import chi

from swatchread.archive.search import same_probability


@pytest.mark.parametrize(
    ("de00", "u1", "u2", "visible"),
    [(0.0, 0.5, 0.5, 0.8), (0.3, 0.2, 0.0, 0.8), (1.0, 0.7, 0.3, 0.8), (2.0, 2.0, 1.0, 0.5), (3.0, 0.5, 4.0, 2.0)],
)
def test_it_is_how_often_true_colours_lie_close_enough(de00, u1, u2, visible):
    """Truth: the model itself, drawn 400,000 times; each error's length stays below its u 68.27 % of the time."""
    rng = np.random.default_rng(1)
    errors = [rng.normal(0.0, u / chi(3).ppf(0.6827), (400_000, 3)) for u in (u1, u2)]
    apart = np.linalg.norm([de00, 0.0, 0.0] + errors[0] - errors[1], axis=1)
    assert same_probability(de00, (u1, u2), visible) == pytest.approx(np.mean(apart <= visible), abs=0.003)


@pytest.mark.parametrize("u", [0.0, 1e-200, 1e-9, 0.002])
def test_exact_colours_are_alike_or_not(u):
    assert same_probability(0.5, (u, 0.0)) == pytest.approx(1.0)
    assert same_probability(1.0, (u, 0.0)) == pytest.approx(0.0)


def test_likeness_falls_with_the_difference():
    chances = [same_probability(d / 10, (0.5, 0.5)) for d in range(35)]
    assert all(a > b for a, b in itertools.pairwise(chances))
