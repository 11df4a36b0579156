"""Painted areas on a ground, drawn by hand."""

import cv2
import numpy as np
import pytest

from swatchread.ground.ground_regions import Region, surface_of
from swatchread.ground.segmentation import find_blobs
from tests.drawn_cards import lab_image

PLACES = [(60, 60), (160, 60), (60, 160), (160, 160)]
RADIUS = 30


@pytest.fixture
def picture():
    """Return a pale card with four round swatches, across one of which run glints."""
    card = np.full((220, 220, 3), 205, np.uint8)
    for place in PLACES:
        cv2.circle(card, place, RADIUS, (120, 60, 40), -1)
    for k in (-16, 0, 16):
        cv2.line(card, (35, 60 + k), (85, 60 + k), (250, 245, 240), 4)
    return card


def test_a_round_mark_that_glints_cut_in_parts_is_tried_as_a_whole_too(picture):
    bare = np.ones(picture.shape[:2], bool)
    for place in PLACES:
        bare &= cv2.circle(np.zeros(bare.shape, np.uint8), place, RADIUS + 3, 1, -1) == 0
    image = lab_image(picture)
    surface = surface_of(Region(bare, (0, 0, 220, 220)), image)
    found = find_blobs(surface, image.lab)
    for x, y in PLACES:
        near = [blob for blob in found if np.hypot(*(blob.centre - [x, y])) < 4]
        assert max(blob.size.min() for blob in near) > 1.8 * RADIUS
