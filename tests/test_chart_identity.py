"""What passes for the chart, or for over-exposure, and is not."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.correction.calibration import calibrate
from swatchread.note.card_warnings import chart_warnings
from swatchread.photo import load_photo
from tests.scene import SceneSpec

SPEC = SceneSpec(seed=62, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
DARK_SKIN = 0


def painted_white(path, scene, patch, share):
    """Paint a white bar over a share of one patch, as a label laid over a picture does."""
    picture = np.asarray(Image.open(path).convert("RGB")).copy()
    low, high = scene.truth.chart_outlines_px[patch].min(axis=0), scene.truth.chart_outlines_px[patch].max(axis=0)
    wide = high - low
    top, left = np.rint(low).astype(int)[::-1]
    picture[top : top + round(wide[1]), left : left + round(share * wide[0])] = 255
    return picture


@pytest.mark.parametrize("share", [0.4, 1.0])
def test_something_white_on_a_dark_patch_is_not_called_over_exposure(photograph, tmp_path, share):
    path, scene = photograph(SPEC)
    Image.fromarray(painted_white(path, scene, DARK_SKIN, share)).save(tmp_path / "label.png", compress_level=1)
    calibration = calibrate(sample_chart(find_chart(load_photo(tmp_path / "label.png"), load_chart())))
    told = {w.code: w.message for w in chart_warnings(calibration)}
    assert "chart_clipped" not in told
    assert "dark skin" in told["chart_covered"]
    assert not calibration.used[DARK_SKIN]


def test_an_over_exposed_chart_is_called_that(photograph):
    path, _ = photograph(replace(SPEC, exposure=1.0))
    sample = sample_chart(find_chart(load_photo(path), load_chart()))
    assert sample.clipped.any()
    assert not sample.overlaid.any()
