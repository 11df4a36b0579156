"""Medians and quantiles that are counted or sorted: numpy's own are the truth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from swatchread.photo.order_statistics import median, quantile, quantiles_of_bytes

NUMBERS = st.floats(-1e6, 1e6, width=32)
SHAPES = st.tuples(st.integers(1, 40), st.integers(1, 4))


@given(
    st.one_of(
        hnp.arrays(np.float32, SHAPES, elements=NUMBERS),
        hnp.arrays(np.float64, SHAPES, elements=NUMBERS),
        hnp.arrays(np.int64, SHAPES, elements=st.integers(-1000, 1000)),
        hnp.arrays(np.uint8, SHAPES),
    ),
    st.sampled_from([0, -1]),
)
def test_the_median_is_numpys(values, axis):
    assert median(values, axis) == pytest.approx(np.median(values, axis=axis), rel=1e-6)
    assert median(values, axis).dtype == np.median(values, axis=axis).dtype


@pytest.mark.parametrize("kind", [np.float32, np.float64, np.int64, np.uint8])
@pytest.mark.parametrize("count", [400, 401, 1500])
def test_the_median_of_many_is_numpys_too(kind, count):
    values = np.random.default_rng(count).uniform(0, 255, (count, 3)).astype(kind)
    assert median(values, 0) == pytest.approx(np.median(values, axis=0), rel=1e-6)
    assert median(values[:, 1]) == pytest.approx(np.median(values[:, 1]), rel=1e-6)


@given(hnp.arrays(np.float64, st.integers(1, 900), elements=NUMBERS), st.floats(0.0, 1.0))
def test_a_quantile_is_numpys(values, share):
    assert quantile(values, share) == pytest.approx(np.quantile(values, share), rel=1e-6, abs=1e-6)


@given(hnp.arrays(np.uint8, st.integers(1, 300)), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4))
def test_quantiles_of_bytes_are_numpys(values, shares):
    assert quantiles_of_bytes(values, shares) == pytest.approx(np.quantile(values, shares), abs=1e-6)
