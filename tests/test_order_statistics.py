"""Medians and quantiles that are counted or sorted: numpy's own are the truth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from swatchread.photo.order_statistics import median_of_few, quantiles_of_bytes

NUMBERS = st.floats(-1e6, 1e6, width=32)


@given(
    hnp.arrays(np.float32, st.tuples(st.integers(1, 40), st.integers(1, 4)), elements=NUMBERS), st.sampled_from([0, -1])
)
def test_the_median_of_few_is_numpys(values, axis):
    assert median_of_few(values, axis) == pytest.approx(np.median(values, axis=axis), rel=1e-6)


@given(hnp.arrays(np.uint8, st.integers(1, 300)), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4))
def test_quantiles_of_bytes_are_numpys(values, shares):
    assert quantiles_of_bytes(values, shares) == pytest.approx(np.quantile(values, shares), abs=1e-6)
