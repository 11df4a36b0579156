"""The correction: a known camera is undone, the light is found, left-out errors are true, poor fits are refused."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.charts.definition import load_chart
from swatchread.charts.find import find_chart
from swatchread.charts.sample import sample_chart
from swatchread.colour import delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.correction.calibrate import TRUSTED_DE00, calibrate, require_trust
from swatchread.correction.fit import Target, fit_model
from swatchread.correction.light import Brightness, fit_light
from swatchread.correction.model import Shape, expand
from swatchread.errors import PoorReadingError
from swatchread.photo import load_photo
from swatchread.photo.profile import SRGB_TO_XYZ_D50
from tests.scene import SceneSpec

SHAPE = Shape(degree=2, tone=5)
#: XYZ to the camera's RGB: sRGB's matrix with 12 per cent of crosstalk between the channels.
CROSSTALK = np.array([[0.88, 0.08, 0.04], [0.06, 0.9, 0.04], [0.02, 0.1, 0.88]])
CAMERA = CROSSTALK @ np.linalg.inv(SRGB_TO_XYZ_D50)
SPEC = SceneSpec(seed=21, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


def rendered(xyz, gamma=0.85, gain=0.8):
    """Take XYZ through the camera, an exposure and a tone curve that lifts the darks."""
    return np.maximum(xyz @ CAMERA.T * gain, 1e-4) ** gamma


def target(linear, **changes):
    chart = load_chart()
    return replace(
        Target(linear, np.zeros(24), chart.lab, np.ones(24), SRGB_TO_XYZ_D50),
        **changes,
    )


@pytest.fixture(scope="module")
def sample(photograph):
    path, _ = photograph(SPEC)
    return sample_chart(find_chart(load_photo(path), load_chart()))


def paints():
    """CIELAB of colours that are not the chart's, in the reach of paint and of the chart."""
    rng = np.random.default_rng(9)
    return np.stack([rng.uniform(25, 85, 200), rng.uniform(-25, 35, 200), rng.uniform(-25, 45, 200)], axis=-1)


# --- the fit


def test_a_known_camera_is_undone():
    """Matrix, exposure and tone curve together: the chart to 0.3, colours it has not seen to 0.5 on average."""
    fitted = fit_model(target(rendered(load_chart().xyz)), SHAPE)
    assert fitted.de00.mean() < 0.3
    lab = paints()
    off = delta_e_2000(xyz_to_lab(fitted.model.xyz(rendered(lab_to_xyz(lab)))), lab)
    assert off.mean() < 0.5
    assert np.quantile(off, 0.95) < 1.5
    # The known-bad pair: without a tone curve and with a plain matrix it cannot be undone.
    plain = fit_model(target(rendered(load_chart().xyz)), Shape(degree=1, tone=0))
    assert plain.de00.mean() > 5 * fitted.de00.mean()


def test_the_tone_curve_found_is_the_inverse_of_the_cameras():
    """For greys, undone is proportional to light: log-log slope 1 over the chart's range, to 6 per cent."""
    fitted = fit_model(target(rendered(load_chart().xyz)), SHAPE)
    light = np.geomspace(0.04, 0.8, 30)
    white = np.array([0.9642, 1.0, 0.8252])
    xyz = fitted.model.xyz(rendered(light[:, None] * white))
    slope = np.gradient(np.log(xyz[:, 1]), np.log(light))
    np.testing.assert_allclose(slope, 1.0, atol=0.06)


def test_brighter_light_reads_brighter():
    """Undone values never fall as the photo gets brighter: a curve that turns over would swap steps of a run."""
    for gamma in (0.7, 0.85, 1.0, 1.2):
        fitted = fit_model(target(rendered(load_chart().xyz, gamma)), SHAPE)
        ramp = np.linspace(0.002, 1.0, 400)[:, None] * np.ones(3)
        assert (np.diff(fitted.model.undone(ramp)[:, 1]) > 0).all(), gamma


def test_root_polynomials_keep_their_meaning_when_the_exposure_changes():
    """Every term has degree 1 (Finlayson, Mackiewicz & Hurlbert 2015); colour-science has the same terms."""
    import colour

    rgb = np.random.default_rng(1).uniform(0.01, 1, (9, 3))
    for degree, terms in ((1, 3), (2, 6), (3, 13)):
        ours = expand(rgb, degree)
        theirs = colour.characterisation.polynomial_expansion_Finlayson2015(rgb, degree, root_polynomial_expansion=True)
        assert ours.shape == (9, terms)
        np.testing.assert_allclose(np.sort(ours), np.sort(theirs), atol=1e-12)
        np.testing.assert_allclose(expand(rgb * 0.37, degree), ours * 0.37, atol=1e-12)


def test_errors_left_out_are_those_of_real_refits():
    """To first order, from the hat matrix, against fits that really leave each patch out."""
    rng = np.random.default_rng(3)
    linear = rendered(load_chart().xyz) * np.exp(rng.normal(0, 0.03, (24, 3)))
    fitted = fit_model(target(linear), SHAPE)
    real = np.empty(24)
    for k in range(24):
        weight = np.ones(24)
        weight[k] = 0.0
        real[k] = fit_model(target(linear, weight=weight), SHAPE).de00[k]
    assert fitted.left_out_de00.mean() == pytest.approx(real.mean(), rel=0.2)
    assert np.corrcoef(fitted.left_out_de00, real)[0, 1] > 0.9
    assert fitted.left_out_de00.mean() > 1.3 * fitted.de00.mean()  # quoting the fit's own residual would flatter


def test_a_patch_without_weight_does_not_pull():
    linear = rendered(load_chart().xyz)
    wrong = linear.copy()
    wrong[7] = [0.9, 0.1, 0.1]
    weight = np.where(np.arange(24) == 7, 0.0, 1.0)
    with_it = fit_model(target(wrong, weight=weight), SHAPE)
    without = fit_model(target(linear, weight=weight), SHAPE)
    np.testing.assert_allclose(with_it.model.vector, without.model.vector, rtol=1e-6, atol=1e-8)


# --- the light


def lit(noise=0.004, writing=0.0):
    """Return a light, and ground and chart seen under it."""
    rng = np.random.default_rng(5)
    ground, chart = rng.uniform(-1, 1, (120, 2)), rng.uniform(-0.4, 0.4, (24, 2))

    def light(place):
        return 0.22 * place[:, 0] - 0.1 * place[:, 1] ** 2 + 0.06 * place[:, 0] * place[:, 1]

    true = rng.uniform(0.05, 0.9, 24)
    seen = 0.7 * np.exp(light(ground) + rng.normal(0, noise, 120))
    seen[: int(120 * writing)] *= 0.6
    return light, Brightness(chart, true * np.exp(light(chart)), true, ground, seen)


@pytest.mark.parametrize("writing", [0.0, 0.15])
def test_the_light_is_found(writing):
    """A known fall-off of 40 per cent to about one per cent, writing on the ground or not."""
    light, seen = lit(writing=writing)
    field = fit_light(seen, 3)
    at = np.random.default_rng(6).uniform(-0.8, 0.8, (60, 2))
    off = field.smooth(at) - light(at)
    assert np.abs(off - np.median(off)).max() < 0.02
    assert np.abs(off).max() < 0.03
    assert np.ptp(light(at)) > 0.3


def test_a_shadows_edge_shows_as_unevenness():
    _, seen = lit()
    assert fit_light(seen, 3).unevenness < 0.02
    dark = np.where(seen.ground_place[:, 0] > 0.4, 0.6, 1.0)
    assert fit_light(replace(seen, ground_seen=seen.ground_seen * dark), 3).unevenness > 0.04


# --- a photo


def test_the_sample_is_what_the_camera_saw(photograph, sample):
    """Rendering undone by the simulator, patch by patch: true camera values under their light, to 3 per cent."""
    _, scene = photograph(SPEC)
    table = sample.find.photo.encoding.table
    stored = np.stack([np.interp(sample.linear[:, k], table[k], np.linspace(0, 1, 256)) for k in range(3)], axis=-1)
    undone = scene.undo_rendering(stored, sample.points)
    wanted = scene.truth.chart_camera * scene.truth.chart_light[:, None]
    bright = (wanted > 0.06) & (stored < 0.97) & (stored > 0.05)
    assert bright.sum() > 40
    np.testing.assert_allclose((undone / wanted)[bright], 1.0, atol=0.05)
    assert np.abs(np.median((undone / wanted)[bright]) - 1) < 0.01


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
    clipped = np.arange(24) < 16
    calibration = calibrate(replace(sample, clipped=clipped))
    for accept in (False, True):
        with pytest.raises(PoorReadingError, match="Only 8") as caught:
            require_trust(calibration, accept_poor=accept)
        assert "dark skin" in caught.value.why
        assert "darker" in caught.value.remedy
        assert caught.value.exit_status == 6


def test_a_poor_fit_is_refused_unless_asked_for(sample):
    """Every patch off by half in every channel, at random: no camera does that."""
    rng = np.random.default_rng(4)
    poor = calibrate(replace(sample, linear=sample.linear * np.exp(rng.normal(0, 0.6, (24, 3)))))
    assert poor.cross_validated_de00 > TRUSTED_DE00
    with pytest.raises(PoorReadingError, match="brought right") as caught:
        require_trust(poor, accept_poor=False)
    assert "--accept-poor" in caught.value.remedy
    require_trust(poor, accept_poor=True)


def test_the_cast_is_measured_before_the_correction(photograph, sample):
    assert calibrate(sample).cast < 12
    path, _ = photograph(replace(SPEC, light="A", white_balance="none"))
    assert calibrate(sample_chart(find_chart(load_photo(path), load_chart()))).cast > 25
