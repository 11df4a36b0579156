"""CIELAB, CIEDE2000 and Munsell value against published data and colour-science."""

from pathlib import Path

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

lightness, opponent = st.floats(0, 100), st.floats(-110, 110)
labs = st.tuples(lightness, opponent, opponent).map(np.array)


def test_published_pairs():
    """The 34 pairs of Sharma, Wu & Dalal (2005), to the four decimals that are printed, both ways round."""
    table = np.loadtxt(Path(__file__).parent / "data" / "ciede2000_pairs.csv", delimiter=",")
    assert table.shape == (34, 7)
    for one, two in ((table[:, :3], table[:, 3:6]), (table[:, 3:6], table[:, :3])):
        np.testing.assert_allclose(delta_e_2000(one, two), table[:, 6], atol=0.6e-4)


def test_differences_agree_with_colour_science():
    """Of colours as far apart as anything and of near ones, each against its own partner or against a single one."""
    import colour

    rng = np.random.default_rng(4)
    lab = rng.uniform([0, -80, -80], [100, 80, 80], (200, 3))
    for other in (lab[::-1], lab + rng.normal(0, 1.0, lab.shape), lab[3]):
        wanted = colour.delta_E(lab, np.broadcast_to(other, lab.shape), method="CIE 2000")
        np.testing.assert_allclose(delta_e_2000(lab, other), wanted, atol=1e-6)
    # The comparer's known-bad pair: CIELAB 1976 is another formula.
    assert np.abs(np.linalg.norm(lab - lab[3], axis=1) - wanted).max() > 1


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


def test_impossible_yellows_become_the_strongest_possible():
    """Without a warning, which would stop a reading; lightness and a* stay."""
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz([30.0, 5.0, 109.0])), [30, 5, 46 * 200 / 116], atol=1e-3)


@settings(deadline=None)
@given(st.tuples(*[st.floats(0, 1.2)] * 3).map(np.array))
def test_lab_agrees_with_colour_science(xyz):
    """CIE 015:2018 at the same white; constants are decimal fractions in one library, rational in the other."""
    import colour

    lab = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(D50_XYZ))
    np.testing.assert_allclose(xyz_to_lab(xyz), lab, atol=1e-3)
    np.testing.assert_allclose(lab_to_xyz(lab), xyz, atol=1e-4)


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
    # L* of the luminances that the standard gives for 1, 5 and 9; what hue and chroma there are says nothing.
    np.testing.assert_allclose(value_of_lab([[10.41, 0, 0], [51.0, 20, 5], [90.18, 0, 0]]), [1, 5, 9], atol=2e-3)


def test_value_keeps_to_its_scale():
    """A photo may give a Y below 0 or above 1; the scale ends at 0 and 10, and rises without a break."""
    np.testing.assert_allclose(value_of_luminance([-0.3, 0.0, 1.5]), [0, 0, 10], atol=1e-9)
    assert (np.diff(value_of_luminance(np.linspace(0, 1, 2001))) > 0).all()
