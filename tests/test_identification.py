"""Which chart it is, and which way round, told by colours alone: on the chart's own values, under any light."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchread.chart.chart_detection import accepted
from swatchread.chart.colour_misfit import misfit
from swatchread.chart.definition import load_chart
from swatchread.chart.identification import turns_apart
from swatchread.photo.icc_profile import SRGB_TO_XYZ_D50

CHART = load_chart()
LINEAR = np.maximum(CHART.xyz @ np.linalg.inv(SRGB_TO_XYZ_D50).T, 0.0)


def score(linear):
    """Misfit of one trial."""
    return float(misfit(linear[None], np.ones((1, len(linear)), bool), CHART.xyz)[0])


@given(
    st.tuples(*[st.floats(0.12, 1.0)] * 3),
    st.lists(st.floats(0.2, 1.0), min_size=24, max_size=24),
    st.integers(0, 3),
)
def test_neither_the_colour_of_the_light_nor_shadows_nor_a_covered_row_hide_the_chart(gains, shades, row):
    """A tungsten lamp without white balance takes blue to an eighth; something red lies over four patches."""
    seen = LINEAR * gains * np.array(shades)[:, None]
    seen[6 * row + 1 : 6 * row + 5] = np.array([0.35, 0.04, 0.01]) * gains
    assert score(seen) < 0.5 * accepted(CHART)


@pytest.mark.parametrize("light", ["D65", "A", "FL2", "FL11", "LED-B1"])
@pytest.mark.parametrize("camera", ["Nikon 5100 (NPL)", "Sigma SDMerill (NPL)"])
def test_the_chart_is_told_in_raw_files_of_sensors_in_layers_too(camera, light):
    """In layers all is nearly grey.

    Measured sensitivities (National Physical Laboratory), the chart's measured spectra (BabelColor, average of 30
    charts) and the lights of CIE 15, all as colour-science hands them on.
    """
    import colour

    shape = colour.SpectralShape(400, 700, 10)
    sensitivity = colour.MSDS_CAMERA_SENSITIVITIES[camera].copy().align(shape).values
    power = colour.SDS_ILLUMINANTS[light].copy().align(shape).values
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"].values()
    seen = np.stack([sd.copy().align(shape).values for sd in patches]) * power @ sensitivity
    assert score(seen / seen.max()) < 0.7 * accepted(CHART)


@pytest.mark.parametrize("gains", [(1.0, 1.0, 1.0), (1.0, 0.5, 0.12)])
def test_a_chart_the_wrong_way_round_misfits(gains):
    grid = np.arange(24).reshape(4, 6)
    for order in (grid[::-1, ::-1], grid[::-1], grid[:, ::-1]):
        assert score((LINEAR * gains)[order.ravel()]) > accepted(CHART) + 0.2
    assert turns_apart(CHART) > accepted(CHART) + 0.2


@given(st.integers(0, 10_000))
def test_colours_at_random_are_not_the_chart(seed):
    assert score(np.random.default_rng(seed).uniform(0.01, 0.8, (24, 3))) > accepted(CHART)
