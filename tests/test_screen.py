"""CIELAB to the screen, against colour-science's own conversions."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from swatchread.colour.screen import hex_colours, lab_to_srgb

D50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]


@pytest.fixture(scope="module")
def labs():
    return np.random.default_rng(5).uniform((2, -60, -60), (98, 60, 60), (400, 3))


def test_srgb_agrees_with_colour_science_inside_the_gamut(labs):
    rgb, inside = lab_to_srgb(labs)
    reference = colour.XYZ_to_sRGB(colour.Lab_to_XYZ(labs, D50), D50, "Bradford")
    assert 0.3 < inside.mean() < 0.95, "the sample must hold colours of both kinds"
    # The colour library's published sRGB matrix is rounded to four digits, hence half an 8-bit step.
    np.testing.assert_allclose(rgb[inside], np.clip(reference[inside], 0, 1), atol=0.5 / 255)
    beyond = np.any((reference < 0) | (reference > 1), axis=-1)
    assert beyond[~inside].all()


def test_outside_the_gamut_value_and_hue_hold_while_chroma_gives_way(labs):
    rgb, inside = lab_to_srgb(labs)
    wanted = labs[~inside]
    shown = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb[~inside], D50, "Bradford"), D50)
    np.testing.assert_allclose(shown[:, 0], wanted[:, 0], atol=0.3)
    chroma_wanted, chroma_shown = np.hypot(*wanted[:, 1:].T), np.hypot(*shown[:, 1:].T)
    assert np.all(chroma_shown < chroma_wanted + 0.3)
    across = np.abs(wanted[:, 1] * shown[:, 2] - wanted[:, 2] * shown[:, 1]) / chroma_wanted
    assert across.max() < 0.3, "the hue must not turn"


def test_hexadecimal_codes_and_the_neutral_axis():
    codes, inside = hex_colours([(0, 0, 0), (100, 0, 0), (53.585, 0, 0), (50, 90, 70)])
    # L* 53.585 is the 8-bit grey 128, by hand from IEC 61966-2-1: ((128/255 + 0.055)/1.055)^2.4 = 0.21586.
    assert codes[:3] == ["#000000", "#ffffff", "#808080"]
    assert inside == [True, True, True, False]


def test_lightness_beyond_the_scale_is_shown_as_white_and_said():
    rgb, inside = lab_to_srgb((104.0, 3.0, -2.0))
    assert not inside
    np.testing.assert_allclose(rgb, 1, atol=0.01)
