"""Judging a chart says of the light what a reading of the card would say, and works without a card."""

from dataclasses import replace

import pytest

from swatchread.reading import judge_chart
from tests.scene import SceneSpec

SIZE = {"width": 1200, "height": 900, "rows": 4, "columns": 3, "chart_fraction": 0.3, "tubes": 0, "brushes": 0}
PLAIN = SceneSpec(seed=5, **SIZE)
FAULTS = {
    "other_light": replace(PLAIN, shadow="whole-card", shadow_depth=0.4, shadow_width=0.03),
    "local_tone": replace(PLAIN, local_tone_kind="bilateral", local_tone=0.4, tone="phone-contrast"),
    "odd_light": replace(PLAIN, light="FL11"),
    "chart_doubtful": replace(PLAIN, chart_make="copy", chart_off=4.5),
}


def codes(warnings):
    return {w.code for w in warnings}


@pytest.mark.parametrize("code", FAULTS)
def test_the_chart_is_judged_as_in_a_reading(photograph, reading, code):
    _, told = judge_chart(photograph(FAULTS[code])[0])
    assert code in codes(told)
    assert codes(told) <= codes(reading(FAULTS[code])[0].note.warnings)
    assert code not in codes(judge_chart(photograph(PLAIN)[0])[1])


@pytest.mark.parametrize("code", ["local_tone", "odd_light", "chart_doubtful"])
def test_a_chart_alone_is_judged_too(photograph, code):
    alone = replace(FAULTS[code], card_present=False)
    calibration, told = judge_chart(photograph(alone)[0])
    assert len(calibration.ground_linear) == 0
    assert code in codes(told)
