"""What the chart tells of camera and light, against the simulator's cameras and paints, which no table knows."""

import json
from dataclasses import replace

import colour
import numpy as np
import pytest

from calibration.light_prior import kind_weights, photographs, write_light_prior
from swatchread.chart.definition import load_chart
from swatchread.colour.cielab import de00_metric, delta_e_2000, lab_to_xyz, xyz_to_lab
from swatchread.colour.shipped_data import calibration_folder
from swatchread.correction.camera_fit import Target, fit_model
from swatchread.correction.camera_model import Shape
from swatchread.correction.lamp import KINDS, grey_covariance, mixture_covariance, plain_residual, tell_lamp
from swatchread.note.card_warnings import card_warnings
from swatchread.note.model import parse_note
from swatchread.reading import read_card
from tests.scene import SceneSpec, camera, paints, pigments, spectra

CHART = load_chart()
RAW = Shape(3, 1)
SPEC = SceneSpec(seed=23, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36, white_balance="correct")


def fitted(linear):
    target = Target(linear, np.zeros(24), CHART.lab, np.ones(24))
    return target, fit_model(target, RAW)


def lamp_of(name, light, gains=(1.0, 1.0, 1.0)):
    """Tell the lamp by a chart without noise, white-balanced but for some gains."""
    seen = camera.responses(spectra.chart_reflectances(), name, light)
    linear = 0.8 * seen / seen[18] * gains
    return tell_lamp(*fitted(linear), CHART, np.zeros(2))


def test_a_camera_that_sees_as_the_eye_does_departs_from_it_by_nothing():
    """Luther's condition: the camera's values are a matrix of XYZ."""
    mixed = lab_to_xyz(CHART.lab) @ np.array([[0.8, 0.2, 0.1], [0.3, 0.7, 0.2], [0.0, 0.2, 0.9]])
    assert tell_lamp(*fitted(0.5 * mixed), CHART, np.zeros(2)).departure < 0.1
    assert lamp_of("sigma-sdmerill-npl", "A").departure > 2.0 * lamp_of("nikon-5100-npl", "D55").departure > 0.5


def test_a_white_balance_hides_no_lamp():
    plain, warm = lamp_of("invented-phone-a", "FL2"), lamp_of("invented-phone-a", "FL2", (1.2, 1.0, 0.6))
    assert warm.departure == pytest.approx(plain.departure, rel=0.02)
    np.testing.assert_allclose(warm.probability, plain.probability, atol=0.03)


def test_daylight_is_never_taken_for_a_lamp_and_most_lamps_are_told():
    """Five cameras. Tungsten may pass for daylight where a camera sees nearly as the eye does."""
    told = {light: [lamp_of(name, light).kind for name in spectra.CAMERAS] for light in ("D50", "D55", "D65", "A")}
    told |= {
        light: [lamp_of(name, light).kind for name in spectra.CAMERAS] for light in ("FL2", "FL11", "TL84", "LED-V1")
    }
    for light in ("D50", "D55", "D65"):
        assert set(told[light]) <= {"daylight", "unknown"}, (light, told[light])
    lamps = {light: sum(kind in KINDS[1:] for kind in told[light]) for light in told}
    assert lamps["A"] >= 3
    assert min(lamps["FL2"], lamps["FL11"], lamps["TL84"]) >= 4
    assert sum(kind == "fluorescent" for light in ("FL2", "FL11", "TL84") for kind in told[light]) >= 10


def test_lamps_that_no_table_knows_are_told():
    """Measured lamps that colour-science carries beside the CIE illuminants."""
    cool = colour.SDS_LIGHT_SOURCES["Cool White FL"]
    light = np.interp(spectra.GRID_NM, cool.domain, cool.values)
    told = []
    for name in spectra.CAMERAS:
        seen = spectra.chart_reflectances() @ (spectra.camera_sensitivity(name) * light[:, None])
        told.append(tell_lamp(*fitted(0.8 * seen / seen[18]), CHART, np.zeros(2)).kind)
    assert sum(kind in KINDS[1:] for kind in told) >= 4


def test_another_chart_tells_the_departure_but_no_lamp():
    names = tuple(f"patch {k}" for k in range(24))
    seen = camera.responses(spectra.chart_reflectances(), "nikon-5100-npl", "FL2")
    other = tell_lamp(*fitted(0.8 * seen / seen[18]), replace(CHART, patch_names=names), np.zeros(2))
    assert other.kind == "unknown"
    assert other.departure > 0.5


def near_greys(count):
    """Mixtures of two or three of the simulator's tubes with white, less chroma than 12."""
    rng, tubes, made = np.random.default_rng(3), list(paints.tubes())[1:], []
    while len(made) < count:
        chosen = rng.choice(tubes, rng.integers(2, 4), replace=False)
        parts = {str(name): float(np.exp(rng.normal())) for name in chosen}
        mixture = paints.mix(parts | {"titanium white": float(np.exp(rng.normal(1.5, 1.0)))})
        if np.hypot(*spectra.lab_of(mixture)[1:]) < 12.0:
            made.append(mixture)
    return np.array(made)


@pytest.mark.parametrize("light", ["D55", "A", "FL11", "LED-B3"])
def test_the_table_holds_for_other_paints_and_other_cameras(light):
    """Near-greys of the simulator without noise: most within twice what the table says, and not all within half."""
    mixtures, inside, far = near_greys(60), [], []
    truth = spectra.lab_of(mixtures)
    for name in spectra.CAMERAS:
        seen = camera.responses(spectra.chart_reflectances(), name, light)
        target, fit = fitted(0.8 * seen / seen[18])
        departure = tell_lamp(target, fit, CHART, np.zeros(2)).departure
        read = xyz_to_lab(fit.model.xyz(0.8 * camera.responses(mixtures, name, light) / seen[18]))
        stated = departure * np.sqrt(np.einsum("nij,nji->n", de00_metric(truth), mixture_covariance(truth)))
        error = delta_e_2000(read, truth)
        inside.append((error < 2.0 * stated).mean())
        far.append((error > 0.5 * stated).mean())
    assert np.mean(inside) > 0.9
    assert np.mean(far) > 0.2


@pytest.mark.parametrize("light", ["D55", "A", "LED-B3"])
def test_greys_of_complements_lie_within_what_their_table_states(light):
    """The simulator's pigments, which no table knows, mixed to near-greys: what other mixtures leave does not do."""
    rng, made = np.random.default_rng(6), []
    while len(made) < 60:
        parts = pigments.grey_parts(rng, rng.random())
        made.append(pigments.mixed(tuple(parts), list(parts.values())))
    mixtures, inside, by_others = np.array(made), [], []
    truth = spectra.lab_of(mixtures)
    for name in spectra.CAMERAS:
        seen = camera.responses(spectra.chart_reflectances(), name, light)
        target, fit = fitted(0.8 * seen / seen[18])
        departure = tell_lamp(target, fit, CHART, np.zeros(2)).departure
        read = xyz_to_lab(fit.model.xyz(0.8 * camera.responses(mixtures, name, light) / seen[18]))
        error, metric = delta_e_2000(read, truth), de00_metric(truth)
        greys, others = grey_covariance(truth), mixture_covariance(truth)
        stated = [departure * np.sqrt(np.einsum("nij,nji->n", metric, c)) for c in (greys + others, others)]
        inside.append((error < 2.0 * stated[0]).mean())
        by_others.append((error < 2.0 * stated[1]).mean())
    assert np.mean(inside) > 0.88
    assert np.mean(by_others) < np.mean(inside) - 0.04


def test_only_near_greys_may_be_mixed_of_complements():
    lab = np.array([[50.0, 0.0, 0.0], [50.0, 8.0, 8.0], [60.0, 18.0, 20.0]])
    stated = np.sqrt(np.einsum("nij,nji->n", de00_metric(lab), grey_covariance(lab)))
    assert stated[0] > 2.0 * stated[1] > 0.0
    assert stated[2] < 0.01


@pytest.mark.slow
def test_the_tables_are_what_the_script_makes(tmp_path):
    """168 photos drawn anew: the same size of errors, and the shipped weights tell most of the lights."""
    write_light_prior(tmp_path, 28)
    for name in ("mixture-errors.csv", "grey-errors.csv"):
        fresh, shipped = (
            np.loadtxt(folder / name, delimiter=",", skiprows=1) for folder in (tmp_path, calibration_folder())
        )
        np.testing.assert_allclose(fresh[:, :3], shipped[:, :3], atol=1e-3)
        ratio = fresh[:, [3, 6, 8]].sum(axis=1) / shipped[:, [3, 6, 8]].sum(axis=1)
        assert 0.75 < np.median(ratio) < 1.3
    weights = np.loadtxt(calibration_folder() / "light-kinds.csv", delimiter=",", skiprows=1, usecols=range(1, 5))
    told, _, _ = photographs(160, 77)
    right = (np.column_stack([np.ones(160), told]) @ weights).argmax(axis=1) == np.arange(160) % 4
    assert right.mean() > 0.6
    assert kind_weights(told).shape == weights.shape


@pytest.fixture(scope="module")
def by_day(photograph):
    return read_card(photograph(SPEC)[0])


@pytest.fixture(scope="module")
def by_lamp(photograph):
    return read_card(photograph(replace(SPEC, light="FL11"))[0])


def codes(reading):
    return {warning.code for warning in reading.note.warnings}


def test_a_white_balanced_lamp_is_warned_of_and_daylight_is_not(by_day, by_lamp):
    assert "odd_light" in codes(by_lamp)
    assert not {"odd_light", "blue_lost"} & codes(by_day)


def test_the_note_says_which_light_and_what_it_adds(by_day, by_lamp):
    assert by_lamp.note.chart.fit.light == "fluorescent"
    assert by_day.note.chart.fit.light in ("daylight", "unknown")
    assert by_lamp.note.chart.fit.daylight < 0.2 < by_day.note.chart.fit.daylight
    for swatch in by_lamp.note.swatches:
        assert 0.0 < swatch.uncertainty.mixture_de00 < swatch.uncertainty.de00


def test_notes_from_before_say_nothing_of_the_light(by_day):
    old = json.loads(by_day.note.to_json())
    for field in ("departure_de00", "light", "daylight"):
        del old["chart"]["fit"][field]
    for swatch in old["swatches"]:
        del swatch["uncertainty"]["mixture_de00"]
    note = parse_note(json.dumps(old))
    assert note.chart.fit.light == "unknown"
    assert note.swatches[0].uncertainty.mixture_de00 == 0.0


def test_a_larger_departure_makes_greys_less_sure(by_day):
    lab = np.array([[50.0, 1.0, 0.0], [60.0, 18.0, 20.0]])
    grey, flesh = np.sqrt(np.einsum("nij,nji->n", de00_metric(lab), mixture_covariance(lab)))
    assert grey > 1.3 * flesh
    target = Target(by_day.calibration.sample.linear, np.zeros(24), CHART.lab, np.ones(24))
    assert plain_residual(target, by_day.calibration.fitted).shape == (24, 3)


def test_blue_that_a_picture_cut_off_is_said_by_lamps_alone(by_day, by_lamp):
    """Half of a swatch's pixels without blue, in a mixture inside the chart's colours."""
    for reading, expected in ((by_lamp, True), (by_day, False)):
        first, *others = reading.sample.swatches
        pixels = first.pixels * [1.0, 1.0, 0.0]
        sample = replace(reading.sample, swatches=(replace(first, pixels=pixels), *others))
        colours = replace_outside(reading)
        lamp = reading.calibration.lamp
        calibration = replace(reading.calibration, lamp=lamp if expected else replace(lamp, probability=np.eye(4)[0]))
        found = {warning.code: warning for warning in card_warnings(sample, calibration, colours)}
        assert ("blue_lost" in found) is expected
        if expected:
            assert f"1 of {len(sample.swatches)} swatches: {first.cell.id}" in found["blue_lost"].message


def replace_outside(reading):
    from swatchread.correction.uncertainty import estimate_uncertainty

    paint = reading.sample
    colours = estimate_uncertainty(reading.calibration, paint.linear, paint.error, paint.places)
    return replace(colours, outside=np.full(len(colours.outside), -0.4))
