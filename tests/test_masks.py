"""Pieces of masks: OpenCV's own statistics are the truth."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from swatchread.photo.masks import pieces_of


@given(hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, max_side=24)), st.sampled_from([4, 8]))
def test_the_extents_of_pieces_are_opencvs(mask, connectivity):
    labels, stats = pieces_of(mask, connectivity)
    _, expected_labels, expected, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=connectivity)
    np.testing.assert_array_equal(labels, expected_labels)
    np.testing.assert_array_equal(stats[1:], expected[1:])
    if not mask.all():  # of no pixels OpenCV tells the largest numbers there are
        np.testing.assert_array_equal(stats[0], expected[0])


@pytest.mark.parametrize("connectivity", [4, 8])
def test_a_mask_of_nothing_and_one_of_all_have_no_piece_and_one(connectivity):
    assert len(pieces_of(np.zeros((5, 7), dtype=bool), connectivity)[1]) == 1
    np.testing.assert_array_equal(
        pieces_of(np.ones((5, 7), dtype=bool), connectivity)[1], [[0, 0, 0, 0, 0], [0, 0, 7, 5, 35]]
    )
