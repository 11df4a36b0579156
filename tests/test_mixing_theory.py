"""Kubelka-Munk, Saunderson and the spectra against handbooks, differential equations and colour-science."""

import colour
import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from swatchread.colour.cielab import delta_e_2000
from swatchread.palette.kubelka_munk import (
    BANDS,
    K1,
    K2,
    add_surface,
    lab_of_reflectance,
    mix,
    ratio_of_reflectance,
    reflectance_of_ratio,
    weights,
)

INDEX = 1.48


@pytest.mark.parametrize(("R", "ratio"), [(0.1, 4.05), (0.2, 1.6), (0.5, 0.25), (0.8, 0.025), (1.0, 0.0)])
def test_ratio_has_the_tabulated_values(R, ratio):
    # Kubelka-Munk function, as tabulated in Judd & Wyszecki (1975), Color in Business, Science and Industry, 3rd ed.
    assert ratio_of_reflectance(R) == pytest.approx(ratio)


def test_ratio_and_reflectance_undo_each_other():
    ratio = np.geomspace(1e-9, 1e4, 200)
    assert ratio_of_reflectance(reflectance_of_ratio(ratio)) == pytest.approx(ratio, rel=1e-6)


@pytest.mark.parametrize(("K", "S"), [(0.02, 1.0), (0.5, 0.8), (3.0, 0.4)])
def test_a_thick_layer_solves_the_two_flux_equation(K, S):
    # Kubelka & Munk (1931): dR/dX = S - 2(K + S)R + S R², here solved from black ground to a thick layer.
    grown = solve_ivp(lambda _, R: S - 2 * (K + S) * R + S * R**2, (0, 60), [0.0], rtol=1e-9, atol=1e-12)
    assert reflectance_of_ratio(K / S) == pytest.approx(grown.y[0, -1], rel=1e-6)


def _fresnel(angle, n1, n2):
    sine = np.sin(angle) * n1 / n2
    if sine >= 1.0:
        return 1.0
    c1, c2 = np.cos(angle), np.sqrt(1 - sine**2)
    s, p = (n1 * c1 - n2 * c2) / (n1 * c1 + n2 * c2), (n1 * c2 - n2 * c1) / (n1 * c2 + n2 * c1)
    return (s**2 + p**2) / 2


def test_surface_constants_are_fresnels():
    # Fresnel's equations at a refractive index of 1.48: at right angles from outside, diffuse from inside.
    assert pytest.approx(_fresnel(0.0, 1.0, INDEX), abs=5e-5) == K1
    # Nothing leaves beyond the critical angle, where the integrand has its corner.
    corner = np.arcsin(1 / INDEX)
    inside = quad(lambda t: _fresnel(t, INDEX, 1.0) * np.sin(2 * t), 0, np.pi / 2, points=[corner])[0]
    assert pytest.approx(inside, abs=2e-3) == K2


def test_surface_keeps_energy():
    # Saunderson (1942), JOSA 32, 727: a perfect reflector stays one, a perfect absorber shows the surface alone.
    assert add_surface(1.0) == pytest.approx(1.0)
    assert add_surface(0.0) == pytest.approx(K1)


def test_mixing_depends_on_proportions_alone():
    rng = np.random.default_rng(1)
    K, S = rng.uniform(0.1, 2, (3, 16)), rng.uniform(0.1, 2, (3, 16))
    parts = np.array([[1.0, 2.0, 3.0]])
    assert mix(K, S, parts) == pytest.approx(mix(K, S, 7 * parts))
    assert mix(K, S, np.eye(3)) == pytest.approx(K / S)


def test_weights_see_the_perfect_diffuser_as_white():
    # White point of D50, 2 degree: ASTM E308-01, table 5.
    assert weights().sum(axis=0) == pytest.approx([0.96422, 1.0, 0.82521], abs=2e-4)
    assert lab_of_reflectance(np.ones(16)) == pytest.approx([100, 0, 0], abs=1e-9)


def test_sixteen_bands_see_the_chart_as_the_whole_spectrum_does():
    # Measured reflectances of the 24 patches and ASTM E308 at 1 nm, both in colour-science.
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    shape = colour.SpectralShape(380, 780, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape)
    white = np.array([0.96422, 1.0, 0.82521])
    for sd in patches.values():
        fine = sd.copy().align(shape)
        xyz = colour.sd_to_XYZ(fine, observer, light, method="Integration") / 100
        expected = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(white))
        ours = lab_of_reflectance(np.array([sd[w] for w in BANDS]))
        assert delta_e_2000(ours, expected) < 0.5
