"""The quick medians and quantiles against numpy's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from swatchread.colour.order import distinct, median, medians, quantile, quantiles

KINDS = st.sampled_from([np.uint8, np.int32, np.float32, np.float64])


@st.composite
def numbers(draw):
    kind = np.dtype(draw(KINDS))
    values = st.integers(0, 255) if kind.kind in "ui" else st.floats(-1e3, 1e3, width=32)
    return draw(arrays.arrays(kind, draw(st.integers(1, 40)), elements=values))


@given(numbers())
def test_the_median_is_numpys(values):
    assert median(values) == pytest.approx(float(np.median(values.astype(np.float64))))


@given(numbers(), st.floats(0.0, 1.0))
def test_the_quantile_is_numpys(values, share):
    assert quantile(values, share) == pytest.approx(float(np.quantile(values.astype(np.float64), share)), abs=1e-9)


def test_medians_are_those_of_the_columns():
    values = np.array([[1, 9, 5], [2, 8, 5], [3, 1, 255]], np.uint8)
    assert medians(values).tolist() == [2.0, 8.0, 5.0]


@given(numbers())
def test_distinct_numbers_are_numpys(values):
    assert distinct(values).tolist() == np.unique(values).tolist()


@given(arrays.arrays(np.uint8, st.tuples(st.integers(0, 9), st.integers(1, 3))))
def test_medians_of_whole_numbers_are_numpys(values):
    wanted = np.median(values.astype(float), axis=0) if len(values) else [np.nan] * values.shape[1]
    np.testing.assert_array_equal(medians(values), wanted)


@given(arrays.arrays(np.float64, st.tuples(*[st.integers(1, 7)] * 3), elements=st.floats(-9, 9)), st.integers(0, 2))
def test_medians_and_quantiles_along_an_axis_are_numpys(values, axis):
    np.testing.assert_allclose(medians(values, axis), np.median(values, axis=axis))
    wanted = np.quantile(values, [0.0, 0.3, 1.0], axis=axis)
    np.testing.assert_allclose(quantiles(values, [0.0, 0.3, 1.0], axis), wanted, atol=1e-12)


@given(
    arrays.arrays(np.uint8, st.one_of(st.tuples(st.integers(1, 40)), st.tuples(st.integers(1, 40), st.integers(1, 3)))),
    st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4),
)
def test_quantiles_of_bytes_are_numpys(values, shares):
    """They are counted, not sorted."""
    wanted = np.quantile(values.astype(np.float64), shares, axis=0)
    np.testing.assert_allclose(quantiles(values, shares), wanted, atol=1e-9)


def test_nothing_has_no_median():
    assert np.isnan(median(np.zeros(0)))
