"""The correction of one photo: which patches speak, what is refused, and that brighter never reads darker."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.correction.calibration import TRUSTED_DE00, calibrate, require_trust
from swatchread.correction.camera_fit import fit_model
from swatchread.correction.camera_model import Shape
from swatchread.errors import PoorReadingError
from swatchread.photo import load_photo
from tests.scene import SceneSpec

from .test_correction import photographed, target

SHAPE = Shape(degree=3, tone=5)
SPEC = SceneSpec(seed=21, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


@pytest.fixture(scope="module")
def sample(photograph):
    path, _ = photograph(SPEC)
    return sample_chart(find_chart(load_photo(path), load_chart()))


def test_the_tone_curve_found_is_the_inverse_of_the_cameras():
    """For greys, undone is proportional to light: log-log slope 1 over the chart's range, to 6 per cent."""
    fitted = fit_model(target(photographed(load_chart().xyz)), SHAPE)
    light = np.geomspace(0.04, 0.8, 30)
    white = np.array([0.9642, 1.0, 0.8252])
    xyz = fitted.model.xyz(photographed(light[:, None] * white))
    np.testing.assert_allclose(np.gradient(np.log(xyz[:, 1]), np.log(light)), 1.0, atol=0.06)


def test_brighter_light_reads_brighter():
    """Undone values never fall as the photo gets brighter: a curve that turns over would swap steps of a run."""
    for curve in (0.7, 0.85, 1.0, 1.2):
        fitted = fit_model(target(photographed(load_chart().xyz, curve=curve)), SHAPE)
        ramp = np.linspace(0.002, 1.0, 400)[:, None] * np.ones(3)
        assert (np.diff(fitted.model.undone(ramp)[:, 1]) > 0).all(), curve


def test_a_photos_own_chart_comes_right(sample):
    """Left out in turn, patches of an ordinary phone photo are right to ΔE00 2.5; the fit itself is better."""
    calibration = calibrate(sample)
    assert calibration.used.all()
    assert calibration.mean_de00 < calibration.cross_validated_de00 < 2.5
    assert calibration.mean_de00 <= calibration.max_de00
    require_trust(calibration, accept_poor=False)


def test_clipped_patches_are_left_out(sample):
    clipped = np.isin(np.arange(24), [18, 19])
    calibration = calibrate(replace(sample, clipped=clipped))
    assert (calibration.used == ~clipped).all()


def test_burnt_out_patches_are_told(photograph):
    """More than a stop over, white and others reach the top of the range; those and only those are told."""
    path, scene = photograph(replace(SPEC, seed=22, exposure=1.2))
    over = sample_chart(find_chart(load_photo(path), load_chart()))
    cols, rows = np.rint(scene.truth.chart_patches_px).astype(int).T
    drawn = scene.rgb[rows, cols].max(axis=1)
    assert over.clipped[18]
    assert over.clipped[drawn == 255].all()
    assert not over.clipped[drawn < 245].any()
    assert (drawn < 245).sum() > 10


def test_a_stranger_on_the_chart_is_left_out(sample):
    """One patch covered by something red: it goes, the others stay."""
    linear = sample.linear.copy()
    linear[14] = [0.02, 0.3, 0.4]
    calibration = calibrate(replace(sample, linear=linear))
    assert np.flatnonzero(~calibration.used).tolist() == [14]


def test_too_few_patches_are_refused_whatever_is_asked(sample):
    """They are too few to fit anything to, so nothing that is asked later can help."""
    with pytest.raises(PoorReadingError, match="Only 8") as caught:
        calibrate(replace(sample, clipped=np.arange(24) < 16))
    assert "dark skin" in caught.value.why
    assert "darker" in caught.value.remedy
    assert caught.value.exit_status == 6


def test_a_poor_fit_is_refused_unless_asked_for(sample):
    """Every patch off by half in every channel, at random: no camera does that."""
    rng = np.random.default_rng(4)
    poor = calibrate(replace(sample, linear=sample.linear * np.exp(rng.normal(0, 0.6, (24, 3)))))
    assert poor.cross_validated_de00 > TRUSTED_DE00
    with pytest.raises(PoorReadingError, match="corrected well enough") as caught:
        require_trust(poor, accept_poor=False)
    assert "--accept-poor" in caught.value.remedy
    require_trust(poor, accept_poor=True)


def test_the_cast_is_measured_before_the_correction(photograph, sample):
    assert calibrate(sample).lamp.cast < 12
    path, _ = photograph(replace(SPEC, light="A", white_balance="none"))
    assert calibrate(sample_chart(find_chart(load_photo(path), load_chart()))).lamp.cast > 25
