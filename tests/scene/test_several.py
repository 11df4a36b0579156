"""Self-checks of photos with several cards: what is drawn is what the truth says, and nothing lies on anything else."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from . import several
from .layout import box
from .spectra import lab_of, xyz_of

SIZE = (900, 675)


def _polygon(points):
    return points.astype(np.float32)


@pytest.mark.parametrize("make", [several.several_spec, several.scan_spec])
@pytest.mark.parametrize("seed", range(4))
def test_cards_and_chart_lie_apart_and_in_the_photo(make, seed):
    spec = make(seed, SIZE)
    plans = several.make_plans(spec)
    lying = [plan.view.project(plan.card_mm) for plan in plans] + [plans[0].view.project(plans[0].chart_mm)]
    assert 2 <= len(plans) == len(spec.cards) <= 8
    for k, one in enumerate(lying):
        assert (one >= -1).all()
        assert (one <= np.array(SIZE)).all()
        for other in lying[:k]:
            shared, _ = cv2.intersectConvexConvex(_polygon(one), _polygon(other))
            assert shared == 0


def test_a_scan_shows_no_perspective():
    spec = several.scan_spec(3, SIZE)
    plan = several.make_plans(spec)[0]
    far = box(np.zeros(2), np.ones(2) * 40.0)
    sides = [np.linalg.norm(np.diff(plan.view.project(far + move), axis=0), axis=1) for move in ([0, 0], [300, 200])]
    np.testing.assert_allclose(sides[0], sides[1], rtol=1e-9)
    assert several.draw(spec).rgb.dtype == np.uint16


def test_each_swatch_is_painted_in_the_colour_that_its_cards_truth_tells():
    """On an even scan the ratio of two swatches' light is that of their reflectances, whichever card they lie on."""
    spec = several.scan_spec(3, SIZE)
    flat = {"brush": 0.0, "fall_off": 0.0, "iso": 1.0, "torn": False, "tape": False, "writing": "none"}
    spec = replace(spec, cards=tuple(replace(card, **flat) for card in spec.cards))
    spec = replace(spec, base=replace(spec.base, fall_off=0.0, iso=1.0))
    scene = several.draw(spec)
    swatches = [s for truth in scene.truths for s in truth.swatches if s.clipped == 0]
    seen = np.array([scene.rgb[round(s.centre_px[1]), round(s.centre_px[0]), 1] for s in swatches]) / 65535.0
    light = np.where(seen > 0.04045, ((seen + 0.055) / 1.055) ** 2.4, seen / 12.92)
    true = np.array([xyz_of(s.reflectance)[1] for s in swatches])
    assert len(swatches) > 10
    assert np.corrcoef(np.log(light), np.log(true))[0, 1] > 0.97
    assert all(np.allclose(lab_of(s.reflectance), s.lab) for s in swatches)


def test_a_seed_fixes_the_photo():
    first, again = (several.draw(several.several_spec(5, SIZE)) for _ in range(2))
    np.testing.assert_array_equal(first.rgb, again.rgb)
