"""Sampling one swatch: the noise of a raw file leaves its mean alone, and a glint is left out of it."""

from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from swatchread.photo.icc_profile import linear_encoding
from swatchread.sampling.swatch_sampling import sample_swatch

SIDE, RADIUS = 240, 100
TOP = 65535


def sampled(levels, noise, spot=None, radius=RADIUS):
    """Sample a round swatch of a raw file: linear `levels` with noise in each pixel, clipped at zero as in files.

    `spot` is a white disc (x, y, radius) on it.
    """
    rng = np.random.default_rng(4)
    linear = np.ones((SIDE, SIDE, 3)) * levels
    if spot is not None:
        linear[cv2.circle(np.zeros((SIDE, SIDE), np.uint8), spot[:2], spot[2], 1, -1) > 0] = 0.9
    pixels = np.clip(np.rint(TOP * (linear + noise * rng.standard_normal(linear.shape))), 0, TOP).astype(np.uint16)
    photo = SimpleNamespace(pixels=pixels, width=SIDE, height=SIDE, top=TOP, encoding=linear_encoding(tagged=True))
    plane = SimpleNamespace(sample=SimpleNamespace(find=SimpleNamespace(photo=photo)), photo_points=np.asarray)
    mask = cv2.circle(np.zeros((2 * radius + 1, 2 * radius + 1), np.uint8), (radius, radius), radius, 1, -1) > 0
    corner = (SIDE // 2 - radius, SIDE // 2 - radius)
    cell = SimpleNamespace(blob=SimpleNamespace(mask=mask, radius=float(radius), corner=corner))
    return sample_swatch(SimpleNamespace(plane=plane), cell)


def test_noise_leaves_the_mean_of_a_dark_channel_alone():
    """Noise of 40 % of the blue: judged pixel by pixel on a log scale, its lower half would be dropped, 8 % of it."""
    levels = np.array([0.15, 0.05, 0.015])
    sample = sampled(levels, noise=0.006)
    assert sample.linear == pytest.approx(levels, rel=0.005)
    assert sample.clipped == pytest.approx(0.0)


def test_noise_of_single_pixels_is_no_unevenness_of_the_paint():
    sample = sampled(np.array([0.2, 0.2, 0.2]), noise=0.04)
    assert np.std(sample.pixels / sample.linear) < 0.06  # a fifth, pixel by pixel


def test_a_glint_in_a_raw_file_is_left_out_and_marked():
    levels = np.array([0.2, 0.1, 0.05])
    sample = sampled(levels, noise=0.005, spot=(130, 120, 24))
    assert sample.linear == pytest.approx(levels, rel=0.005)
    assert sample.glint == pytest.approx(24**2 / (0.78 * RADIUS) ** 2, rel=0.5)  # with the blocks at its rim
    x, y = np.array([130, 120]) - sample.corner
    assert sample.left_out[y, x]
    assert sample.left_out.mean() < 0.2


def test_a_swatch_of_a_few_pixels_is_sampled_pixel_by_pixel():
    sample = sampled(np.array([0.2, 0.1, 0.05]), noise=0.0, radius=6)
    assert sample.linear == pytest.approx([0.2, 0.1, 0.05], rel=1e-3)


def test_over_exposed_blocks_count_as_clipped():
    sample = sampled(np.array([0.999, 0.5, 0.2]), noise=0.0)
    assert sample.clipped == pytest.approx(1.0)
