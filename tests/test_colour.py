"""CIELAB, CIEDE2000 and Munsell value against published data and colour-science."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchread.colour.cielab import (
    D50_XYZ,
    de00_metric,
    delta_e_2000,
    lab_to_lch,
    lab_to_xyz,
    luminance_of_value,
    value_of_lab,
    value_of_luminance,
    xyz_to_lab,
    xyz_to_lab_slopes,
)

#: Sharma, Wu & Dalal (2005), "The CIEDE2000 color-difference formula: implementation notes, supplementary test data,
#: and mathematical observations", Color Research & Application 30(1), 21-30, table 1: L*, a*, b* of both, ΔE00.
SHARMA = (
    (50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425),
    (50.0000, 3.1571, -77.2803, 50.0000, 0.0000, -82.7485, 2.8615),
    (50.0000, 2.8361, -74.0200, 50.0000, 0.0000, -82.7485, 3.4412),
    (50.0000, -1.3802, -84.2814, 50.0000, 0.0000, -82.7485, 1.0000),
    (50.0000, -1.1848, -84.8006, 50.0000, 0.0000, -82.7485, 1.0000),
    (50.0000, -0.9009, -85.5211, 50.0000, 0.0000, -82.7485, 1.0000),
    (50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669),
    (50.0000, -1.0000, 2.0000, 50.0000, 0.0000, 0.0000, 2.3669),
    (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0009, 7.1792),
    (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0010, 7.1792),
    (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0011, 7.2195),
    (50.0000, 2.4900, -0.0010, 50.0000, -2.4900, 0.0012, 7.2195),
    (50.0000, -0.0010, 2.4900, 50.0000, 0.0009, -2.4900, 4.8045),
    (50.0000, -0.0010, 2.4900, 50.0000, 0.0010, -2.4900, 4.8045),
    (50.0000, -0.0010, 2.4900, 50.0000, 0.0011, -2.4900, 4.7461),
    (50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065),
    (50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492),
    (50.0000, 2.5000, 0.0000, 61.0000, -5.0000, 29.0000, 22.8977),
    (50.0000, 2.5000, 0.0000, 56.0000, -27.0000, -3.0000, 31.9030),
    (50.0000, 2.5000, 0.0000, 58.0000, 24.0000, 15.0000, 19.4535),
    (50.0000, 2.5000, 0.0000, 50.0000, 3.1736, 0.5854, 1.0000),
    (50.0000, 2.5000, 0.0000, 50.0000, 3.2972, 0.0000, 1.0000),
    (50.0000, 2.5000, 0.0000, 50.0000, 1.8634, 0.5757, 1.0000),
    (50.0000, 2.5000, 0.0000, 50.0000, 3.2592, 0.3350, 1.0000),
    (60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644),
    (63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630),
    (61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731),
    (35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645),
    (22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373),
    (36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146),
    (90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441),
    (90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381),
    (6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377),
    (2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082),
)

lightness, opponent = st.floats(0, 100), st.floats(-110, 110)
labs = st.tuples(lightness, opponent, opponent).map(np.array)


def test_published_pairs():
    """To the four decimals that are printed, both ways round."""
    table = np.array(SHARMA)
    assert table.shape == (34, 7)
    for one, two in ((table[:, :3], table[:, 3:6]), (table[:, 3:6], table[:, :3])):
        np.testing.assert_allclose(delta_e_2000(one, two), table[:, 6], atol=0.6e-4)
    # The comparer's known-bad pair: CIELAB 1976 is another formula.
    assert np.abs(np.linalg.norm(table[:, :3] - table[:, 3:6], axis=1) - table[:, 6]).max() > 1


def test_de00_broadcasts():
    rng = np.random.default_rng(4)
    lab = rng.uniform([0, -80, -80], [100, 80, 80], (5, 7, 3))
    reference = lab[2, 3]
    wanted = [[float(delta_e_2000(lab[i, j], reference)) for j in range(7)] for i in range(5)]
    np.testing.assert_allclose(delta_e_2000(lab, reference), wanted, atol=1e-12)


@settings(deadline=None)
@given(labs)
def test_metric_measures_small_differences(lab):
    """The quadratic form d · G · d is ΔE00² to second order: within 5 per cent at a distance of 0.1."""
    metric = de00_metric(lab)
    np.testing.assert_allclose(metric, metric.T, atol=1e-9)
    if np.hypot(lab[1], lab[2]) < 1.0:
        return  # at the grey axis hue turns within the step
    rng = np.random.default_rng(7)
    for direction in rng.standard_normal((5, 3)):
        step = 0.1 * direction / np.linalg.norm(direction)
        exact = float(delta_e_2000(lab - step / 2, lab + step / 2))
        assert np.sqrt(step @ metric @ step) == pytest.approx(exact, rel=0.05)


def test_metric_is_vectorised():
    lab = np.array([[50.0, 20, 30], [20, -30, 5], [80, 2, -40]])
    np.testing.assert_allclose(de00_metric(lab), [de00_metric(row) for row in lab], atol=1e-12)


def has_a_blue(lab):
    """Whether Z is not below zero: stronger yellows than that exist for no lightness."""
    return lab[2] <= (lab[0] + 16) * 200 / 116


@settings(deadline=None)
@given(labs.filter(has_a_blue))
def test_lab_round_trip(lab):
    """Within 0.001: the two parts of the library's curve meet to six decimals only."""
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(lab)), lab, atol=1e-3)


def test_impossible_yellows_become_the_strongest_possible():
    """Without a warning, which would stop a reading; lightness and a* stay."""
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz([30.0, 5.0, 109.0])), [30, 5, 46 * 200 / 116], atol=1e-3)


@settings(deadline=None)
@given(st.tuples(*[st.floats(0, 1.2)] * 3).map(np.array))
def test_lab_agrees_with_colour_science(xyz):
    """CIE 015:2018 at the same white; constants are decimal fractions in one library, rational in the other."""
    import colour

    white = colour.XYZ_to_xy(D50_XYZ)
    np.testing.assert_allclose(xyz_to_lab(xyz), colour.XYZ_to_Lab(xyz, white), atol=1e-3)


def test_another_white_scales():
    """A white is white under its own light, and a colour is what colour-science says."""
    import colour

    c = colour.xy_to_XYZ(colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"])
    np.testing.assert_allclose(xyz_to_lab(c, c), [100, 0, 0], atol=1e-9)
    xyz = np.array([0.3, 0.4, 0.2])
    np.testing.assert_allclose(xyz_to_lab(xyz, c), colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(c)), atol=1e-3)


def test_white_is_the_published_d50():
    """CIE 15: D50 under the 2 degree observer is x = 0.3457, y = 0.3585 (as carried by colour-science)."""
    import colour

    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    np.testing.assert_allclose(D50_XYZ[:2] / D50_XYZ.sum(), published, atol=1e-4)
    np.testing.assert_allclose(xyz_to_lab(D50_XYZ), [100, 0, 0], atol=1e-9)


def test_slopes_of_cielab_are_those_of_small_steps_on_both_parts_of_the_curve():
    """Against central differences by colour-science."""
    import colour

    xyz = np.random.default_rng(9).uniform(0.0, 1.0, (40, 3)) ** 3
    xyz = xyz[(np.abs(xyz / D50_XYZ - 216 / 24389) > 1e-4).all(axis=1)]  # the slope jumps there
    white = colour.XYZ_to_xy(D50_XYZ)
    assert ((xyz / D50_XYZ) < 216 / 24389).any()
    for k, step in enumerate(1e-6 * np.eye(3)):
        up, down = (colour.XYZ_to_Lab(xyz + sign * step, white) for sign in (1, -1))
        np.testing.assert_allclose(xyz_to_lab_slopes(xyz)[..., k], (up - down) / 2e-6, rtol=1e-4, atol=1e-3)


def test_lch_agrees_with_colour_science():
    import colour

    lab = np.random.default_rng(3).uniform([0, -80, -80], [100, 80, 80], (50, 3))
    np.testing.assert_allclose(lab_to_lch(lab), colour.models.Lab_to_LCHab(lab), atol=1e-9)
    assert (lab_to_lch(lab)[:, 2] >= 0).all()
    assert (lab_to_lch(lab)[:, 2] < 360).all()


#: ASTM D1535: value, Y (perfect diffuser = 100), and L* of that Y, computed from the standard's polynomial.
D1535 = (
    (1, 1.180, 10.41),
    (2, 3.048, 20.24),
    (3, 6.391, 30.38),
    (4, 11.701, 40.74),
    (5, 19.272, 51.00),
    (6, 29.301, 61.05),
    (7, 41.985, 70.86),
    (8, 57.620, 80.53),
    (9, 76.696, 90.18),
)


@pytest.mark.parametrize(("value", "luminance", "lightness_of_it"), D1535)
def test_munsell_value(value, luminance, lightness_of_it):
    assert float(luminance_of_value(value)) * 100 == pytest.approx(luminance, abs=6e-4)
    assert float(value_of_luminance(luminance / 100)) == pytest.approx(value, abs=3e-4)
    assert float(value_of_lab([lightness_of_it, 0, 0])) == pytest.approx(value, abs=2e-3)


def test_munsell_value_agrees_with_colour_science():
    import colour

    luminance = np.linspace(0.001, 1.0, 60)
    wanted = colour.notation.munsell_value_ASTMD1535(100 * luminance)
    np.testing.assert_allclose(value_of_luminance(luminance), wanted, atol=2e-3)  # it interpolates a table
    np.testing.assert_allclose(
        100 * luminance_of_value(np.linspace(0, 10, 41)),
        colour.colorimetry.luminance_ASTMD1535(np.linspace(0, 10, 41)),
        atol=1e-6,
    )


@settings(deadline=None)
@given(st.floats(0, 10))
def test_value_round_trip(value):
    assert float(value_of_luminance(luminance_of_value(value))) == pytest.approx(value, abs=1e-6)


def test_value_keeps_to_its_scale():
    """A photo may give a Y below 0 or above 1; the scale ends at 0 and 10, and rises without a break."""
    np.testing.assert_allclose(value_of_luminance([-0.3, 0.0, 1.5]), [0, 0, 10], atol=1e-9)
    assert (np.diff(value_of_luminance(np.linspace(0, 1, 2001))) > 0).all()
