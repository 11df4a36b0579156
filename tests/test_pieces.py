"""Pieces of thin marks against OpenCV's own figures of them."""

import cv2
import numpy as np
import pytest

from swatchread.card.background import distance, thin_pieces


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.45, 1.0])
@pytest.mark.parametrize("shape", [(60, 97), (1, 40), (40, 1)])
def test_pieces_are_opencvs(share, shape):
    marks = (np.random.default_rng(7).random(shape) < share).astype(np.uint8)
    labels, stats = thin_pieces(marks)
    _, wanted, figures, _ = cv2.connectedComponentsWithStats(marks, connectivity=8)
    np.testing.assert_array_equal(labels, wanted)
    np.testing.assert_array_equal(stats[1:], figures[1:])


def test_the_distance_is_that_of_cielab():
    """Levels of L* are 100 / 255 wide, those of a* and b* one unit."""
    generator = np.random.default_rng(8)
    colours = generator.integers(0, 256, (11, 13, 3), dtype=np.uint8)
    field = generator.uniform(0, 255, (11, 13, 3)).astype(np.float32)
    wanted = np.linalg.norm((colours - field.astype(np.float64)) * [100 / 255, 1, 1], axis=-1)
    np.testing.assert_allclose(distance(colours, field), wanted, rtol=1e-5)
