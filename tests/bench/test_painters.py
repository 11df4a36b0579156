"""What six invented painters are promised, on seeds that nothing was tuned on."""

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from tests.bench.painters import PAINTERS, figures


@pytest.fixture(scope="module")
def found():
    options = SimpleNamespace(cards=16, targets=24)
    return [figures(painter, 11, options) for painter in PAINTERS]


def together(found, name):
    return np.concatenate([one[name] for one in found])


@pytest.mark.slow
def test_matches_come_near(found):
    made, _, again, _ = together(found, "match").T
    assert np.median(made) <= 0.8
    assert np.quantile(made, 0.9) <= 2.0
    # What was recorded, made again by its recipe, is hardly ever nearer (1 of 144 on the seeds that it was built with).
    assert np.mean(made > again + 0.005) <= 0.02


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["misjudged", "another"])
def test_each_addition_brings_the_mixture_nearer(found, kind):
    steps = [after < before for one in found for left, *_ in one[kind] for before, after in pairwise(left)]
    assert np.mean(steps) >= 0.97


@pytest.mark.slow
def test_predictions_are_as_sure_as_they_say(found):
    colour, _, stated = together(found, "predict").T
    assert 0.6 <= np.mean(colour <= stated) <= 0.8


@pytest.mark.slow
@pytest.mark.parametrize(("kind", "least"), [("even", 0.95), ("truly even", 0.9)])
def test_intervals_of_a_run_are_even(found, kind, least):
    # In truth fewer are, because a reading of one swatch is off by 0.08 of a value.
    assert np.mean(np.abs(together(found, kind)) <= 0.2) >= least
