"""A shadow over card and chart, photo to note: value holds to a quarter of a Munsell step on both sides of its edge."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.sampling.card_sampling import ground_in_other_light
from tests.bench.matching import match
from tests.scene import SceneSpec

#: Seeds whose edge lies as said. L* of 2.5 is a quarter of a Munsell value (ASTM D1535: about ten L* to a step).
EDGES = {
    "across chart and card": ("card", 77),
    "the chart in the shade, most of the card in the light": ("card", 78),
    "the chart and a strip of the card that holds no swatch in the shade": ("card", 63),
    "across the chart, the card in the light": ("chart", 68),
    "across the chart, the card in the shade": ("chart", 70),
}


SIZE = {"width": 1000, "height": 750, "rows": 4, "columns": 3, "chart_fraction": 0.36}


@pytest.mark.parametrize(("over", "seed"), EDGES.values(), ids=EDGES)
def test_value_holds_on_both_sides_of_a_shadow(reading, over, seed):
    """Before the edge was looked for, on the ground and on the chart, these were 11, 7, 20, 9 and 9 off."""
    read, scene = reading(SceneSpec(seed=seed, shadow=over, shadow_depth=0.5, **SIZE))
    note, truth = read.note, scene.truth.swatches
    assert np.ptp(np.log(scene.light.at_px(np.concatenate([read.calibration.sample.points, read.sample.places])))) > 0.6
    pairs = match(np.array([np.mean(s.outline, axis=0) for s in note.swatches]), truth)
    assert len(pairs) == len(truth)
    off = np.array([note.swatches[i].lab[0] - truth[j].lab[0] for i, j in pairs])
    assert np.abs(off).max() < 2.5
    stated = np.array([note.swatches[i].uncertainty.L for i, _ in pairs])
    assert np.mean(np.abs(off) < 2.0 * stated) >= 0.9
    assert "shadow_edge" in {w.code for w in note.warnings}


def test_paint_in_more_light_than_the_chart_is_less_sure(reading):
    """The chart's white is the lightest it shows; how much lighter the lit part of the card is, the fit must guess."""
    spec = SceneSpec(seed=EDGES["the chart in the shade, most of the card in the light"][1], **SIZE)
    (read, scene), (even, _) = (reading(replace(spec, shadow=kind)) for kind in ("card", "none"))
    lit, shaded = ([s.uncertainty.L for s in note.swatches] for note in (read.note, even.note))
    light = np.log(scene.light.at_px(read.sample.places))
    more = np.array(lit) / np.array(shaded)
    assert np.median(more[light > -0.1]) > 1.5
    assert np.median(more[light < -0.5]) < 1.3


def test_no_shadow_is_seen_where_there_is_none(reading):
    for seed in (63, 77, 78):
        assert reading(SceneSpec(seed=seed, fall_off=0.3, **SIZE))[0].calibration.light.edge is None


def test_grey_paint_and_the_chart_beside_the_card_are_not_card_in_the_shade(reading):
    """Both have the tint of white paper. The card's corner comes near the chart, and a surface may reach to it."""
    read, _ = reading(SceneSpec(seed=77, **SIZE))
    card = read.sample.card
    x, y, width, height = card.surface.box
    picture = card.plane.picture.copy()
    for cell in card.grid.cells[::2]:
        low = np.array(cell.blob.corner)
        high = low + cell.blob.mask.shape[::-1]
        tint = np.median(picture[y : y + height, x : x + width][card.surface.bare], axis=0)
        picture[low[1] : high[1], low[0] : high[0]] = tint / 2
    grey = replace(card, plane=replace(card.plane, picture=picture))
    elsewhere = ground_in_other_light(grey)
    assert (elsewhere.share, elsewhere.ratio) == pytest.approx((0.0, 1.0))
    assert not elsewhere.places.any()
