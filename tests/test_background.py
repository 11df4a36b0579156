"""Distances from a card's ground, against their definition."""

import numpy as np

from swatchread.card.background import distance


def test_the_distance_is_that_of_cielab():
    """Levels of L* are 100 / 255 wide, those of a* and b* one unit."""
    generator = np.random.default_rng(8)
    colours = generator.integers(0, 256, (11, 13, 3), dtype=np.uint8)
    field = generator.uniform(0, 255, (11, 13, 3)).astype(np.float32)
    wanted = np.linalg.norm((colours - field.astype(np.float64)) * [100 / 255, 1, 1], axis=-1)
    np.testing.assert_allclose(distance(colours, field), wanted, rtol=1e-5)
