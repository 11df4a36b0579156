"""Pictures drawn by hand, as the card's finder takes them."""

import cv2
import numpy as np

from swatchread.plane.lab_image import LabImage


def lab_image(picture):
    """Return a picture, RGB, as the finder sees it."""
    lab = cv2.cvtColor(picture, cv2.COLOR_RGB2LAB)
    return LabImage(lab, np.zeros(lab.shape[:2], bool), lab[..., 0].copy())


def grey_image(levels):
    """Return levels of lightness, 0 to 255, as the finder sees them."""
    lab = np.full((*levels.shape, 3), 128, np.uint8)
    lab[..., 0] = np.clip(np.rint(levels), 0, 255)
    return LabImage(lab, np.zeros(levels.shape, bool), lab[..., 0].copy())
