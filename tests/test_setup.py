"""A fixed set-up that was kept: other cards read without a chart, and refused when the light has changed."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from swatchread.correction.calibration import calibrate
from swatchread.correction.uncertainty import UncertainColours
from swatchread.errors import ChangedLightError, NewerSetupError, OtherSetupError, SetupFileError, UnfitSetupError
from swatchread.photo import load_photo
from swatchread.photo.camera_settings import Settings, changed
from swatchread.reading import read_card
from swatchread.sampling.card_sampling import sample_card
from swatchread.setup.light_check import Drift, ground_drift, require_same_light, widened
from swatchread.setup.setup_file import MAX_BYTES, keep_setup, load_setup, parse_setup
from swatchread.setup.setup_reading import read_in_setup
from tests.scene.spectra import delta_e_2000
from tests.setup_data import STAND, with_chart, without_chart

STEADY = Drift(brightness=0.0, L=0.0, a=0.0, b=0.0, fall=0.005, lightness=90.0, places=100)


@pytest.fixture(scope="module")
def stand(tmp_path_factory):
    """Return the folder, the reading with the chart, its scene, and the set-up as it came back from its file."""
    folder = tmp_path_factory.mktemp("stand")
    scene = with_chart(folder / "first.jpg")
    reading = read_card(folder / "first.jpg")
    keep_setup(reading).save(folder / "stand.setup.json")
    return folder, reading, scene, load_setup(folder / "stand.setup.json")


@pytest.fixture(scope="module")
def second(stand):
    """Return another card's path and scene: same light, the chart under a cloth."""
    path = stand[0] / "second.jpg"
    return path, without_chart(path, STAND)


def errors(note, scene):
    centres = np.array([s.centre_px for s in scene.truth.swatches])
    found = []
    for swatch in note.swatches:
        nearest = int(np.hypot(*(centres - np.mean(swatch.outline, axis=0)).T).argmin())
        found.append(float(delta_e_2000(swatch.lab, scene.truth.swatches[nearest].lab)))
    return np.array(found)


def codes(note):
    return [warning.code for warning in note.warnings]


def with_exif(source, target, iso):
    with Image.open(source) as image:
        exif = image.getexif()
        exif.get_ifd(0x8769)[34855] = iso
        image.save(target, exif=exif, icc_profile=image.info["icc_profile"], quality=95)
    return target


# --- the same light


def test_another_card_is_read_without_a_chart(stand, second):
    _, reading, scene, setup = stand
    path, other = second
    note = read_in_setup(path, setup).note
    assert len(note.swatches) == len(other.truth.swatches)
    with_its_chart, kept = errors(reading.note, scene), errors(note, other)
    assert np.median(kept) < np.median(with_its_chart) + 0.3
    assert kept.max() < 3.0


def test_the_note_says_so_and_its_uncertainty_is_wider(stand, second):
    _, reading, _, setup = stand
    note = read_in_setup(second[0], setup).note
    assert codes(note)[0] == "kept_setup"
    assert "first.jpg" in note.warnings[0].message
    assert re.search(r"the bare ground is \d\.\d % (brighter|darker), \d\.\d CIELAB", note.warnings[0].message)
    assert "setup_settings" not in codes(note)
    assert "kept_setup" not in codes(reading.note)
    # The very photo that was kept, read with and without its set-up: the light has not drifted, yet might have.
    again = read_in_setup(stand[0] / "first.jpg", setup).note
    assert [s.id for s in again.swatches] == [s.id for s in reading.note.swatches]
    for one, other in zip(again.swatches, reading.note.swatches, strict=True):
        assert delta_e_2000(one.lab, other.lab) < 0.2
        assert one.uncertainty.de00 > other.uncertainty.de00


def test_a_table_taken_for_ground_does_not_spoil_the_light(stand, second, monkeypatch):
    """Pieces of a table, a third brighter than the card, beyond where the kept card lay: read as without them."""
    setup, wanted = stand[3], read_in_setup(second[0], stand[3])
    middle = wanted.sample.places.mean(axis=0)
    table = middle + (setup.ground_points - middle) * 1.7
    apart = np.linalg.norm(table[:, None] - setup.ground_points[None], axis=-1).min(axis=1)
    table = table[apart > 150.0]
    assert len(table) > 30
    bright = np.tile(4.0 / 3.0 * np.median(wanted.sample.ground_linear, axis=0), (len(table), 1))

    def with_table(card):
        paint = sample_card(card)
        points = np.concatenate([paint.ground_points, table])
        return replace(paint, ground_points=points, ground_linear=np.concatenate([paint.ground_linear, bright]))

    monkeypatch.setattr("swatchread.setup.setup_reading.sample_card", with_table)
    told = read_in_setup(second[0], setup)
    assert len(told.sample.ground_points) > len(wanted.sample.ground_points)
    off = [np.subtract(a.lab, b.lab) for a, b in zip(told.note.swatches, wanted.note.swatches, strict=True)]
    assert np.abs(off).max() < 0.5


def test_uncertainty_grows_with_the_drift():
    lab = np.array([[70.0, 15.0, 20.0], [30.0, 5.0, 8.0]])
    covariance, none = np.tile(np.eye(3) * 0.25, (2, 1, 1)), np.zeros(2)
    plain = UncertainColours(lab, covariance, np.full(2, 0.5), np.full(2, 0.1), none, none, none)
    steady, drifted = widened(plain, STEADY), widened(plain, replace(STEADY, brightness=0.03, b=1.0))
    assert (plain.de00 < steady.de00).all()
    assert (steady.de00 < drifted.de00).all()
    # 3 % more light is 1 % more of L* + 16 (CIE 15: L* + 16 goes with the cube root of Y).
    grown = drifted.covariance[:, 0, 0] - plain.covariance[:, 0, 0]
    assert np.sqrt(grown) == pytest.approx((lab[:, 0] + 16.0) / 3.0 * np.hypot(0.03, 0.01))


# --- another light


def test_a_tenth_less_light_is_refused(stand):
    path = stand[0] / "darker.jpg"
    without_chart(path, STAND, exposure=STAND.exposure + float(np.log2(0.9)))
    with pytest.raises(ChangedLightError, match=r"darker\.jpg is not the one") as caught:
        read_in_setup(path, stand[3])
    assert "% darker" in caught.value.why
    assert "--keep-setup" in caught.value.remedy
    assert caught.value.exit_status == 6


def test_a_warmer_light_is_refused(stand):
    """From daylight (D55) a little toward noon sun (D50), with the camera's white balance fixed."""
    path = stand[0] / "warmer.jpg"
    without_chart(path, STAND, light="D50")
    with pytest.raises(ChangedLightError) as caught:
        read_in_setup(path, stand[3])
    assert "yellower by" in caught.value.why


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"brightness": 0.045}, "brighter"),
        ({"a": 1.7}, "redder"),
        ({"a": -1.7}, "greener"),
        ({"b": -1.7}, "bluer"),
        ({"fall": 0.035}, "unevenly"),
    ],
)
def test_each_change_of_the_ground_is_refused_by_name(change, word):
    with pytest.raises(ChangedLightError, match=word):
        require_same_light(replace(STEADY, **change), "card.jpg", ())


def test_small_changes_of_the_ground_pass():
    require_same_light(replace(STEADY, brightness=0.03, a=0.8, b=-0.8, fall=0.02), "card.jpg", ("ISO 100, now 200",))


def test_changed_settings_stand_in_the_reason():
    with pytest.raises(ChangedLightError, match="ISO 100, now 200"):
        require_same_light(replace(STEADY, brightness=0.6), "card.jpg", ("ISO 100, now 200",))


def test_without_ground_in_the_same_place_nothing_proves_the_light(stand):
    _, reading, _, setup = stand
    elsewhere = setup.ground_points + 5000.0
    for linear, points in ((np.zeros((0, 3)), np.zeros((0, 2))), (setup.ground_linear, elsewhere)):
        drift = ground_drift(reading.calibration, setup, linear, points)
        with pytest.raises(ChangedLightError, match="Nothing in"):
            require_same_light(drift, "card.jpg", ())


# --- another camera


def test_another_size_is_refused(stand, second, tmp_path):
    with Image.open(second[0]) as image:
        image.resize((1200, 900)).save(tmp_path / "small.jpg", icc_profile=image.info["icc_profile"])
    with pytest.raises(OtherSetupError, match="1200 × 900 pixels"):
        read_in_setup(tmp_path / "small.jpg", stand[3])


def test_another_colour_space_is_refused(stand, second, tmp_path):
    with Image.open(second[0]) as image:
        image.save(tmp_path / "plain.jpg")
    with pytest.raises(OtherSetupError, match="colour space"):
        read_in_setup(tmp_path / "plain.jpg", stand[3])


def test_changed_settings_are_named_in_the_note(stand, second, tmp_path):
    note = read_in_setup(with_exif(second[0], tmp_path / "iso.jpg", 400), stand[3]).note
    assert codes(note)[:2] == ["kept_setup", "setup_settings"]
    assert "ISO 100, now 400" in note.warnings[1].message


def test_settings_are_read_by_exif(tmp_path):
    """Tags by Exif 3.0 (CIPA DC-008): exposure 0x829A, f-number 0x829D, ISO 0x8827, bias 0x9204, balance 0xA403."""
    exif = Image.Exif()
    details = exif.get_ifd(0x8769)
    details.update({0x829A: (1, 60), 0x829D: 2.8, 0x8827: 200, 0x9204: -0.5, 0xA403: 1})
    details[0x829A] = 1 / 60
    Image.new("RGB", (300, 300), "red").save(tmp_path / "a.jpg", exif=exif)
    seen = load_photo(tmp_path / "a.jpg").settings
    assert seen.exposure == pytest.approx(1 / 60, rel=1e-3)
    assert (seen.aperture, seen.iso, seen.bias, seen.balance, seen.focal) == (
        pytest.approx(2.8),
        200,
        pytest.approx(-0.5),
        1,
        None,
    )
    told = changed(seen, replace(seen, exposure=1 / 30, balance=0.0))
    assert told == ("exposure time 1/60 s, now 1/30 s", "white balance manual, now automatic")
    assert changed(seen, Settings()) == ()


# --- keeping


def with_ground(reading, linear, points):
    """Return a reading as if that had been its ground."""
    return replace(reading, calibration=replace(reading.calibration, ground_linear=linear, ground_points=points))


def test_a_burnt_out_ground_cannot_be_kept(stand):
    ground = stand[1].calibration
    with pytest.raises(UnfitSetupError, match="burnt out"):
        keep_setup(with_ground(stand[1], np.ones_like(ground.ground_linear), ground.ground_points))


def test_a_card_without_ground_cannot_be_kept(stand):
    ground = stand[1].calibration
    with pytest.raises(UnfitSetupError, match="5 places"):
        keep_setup(with_ground(stand[1], ground.ground_linear[:5], ground.ground_points[:5]))


def test_a_table_beyond_the_kept_card_is_not_kept_as_its_ground(stand):
    """As another card may lie there the next day: pieces a third brighter, all round the card."""
    reading = stand[1]
    paint, before = reading.sample, reading.calibration
    middle = paint.places.mean(axis=0)
    table = middle + (paint.ground_points - middle) * 1.7
    table = table[np.linalg.norm(table[:, None] - paint.ground_points[None], axis=-1).min(axis=1) > 150.0]
    bright = np.tile(4.0 / 3.0 * np.median(paint.ground_linear, axis=0), (len(table), 1))
    linear, points = np.concatenate([paint.ground_linear, bright]), np.concatenate([paint.ground_points, table])
    kept = keep_setup(replace(reading, calibration=calibrate(before.sample, linear, points, paint.places)))
    assert len(table) > 30
    apart = np.linalg.norm(kept.ground_points[:, None] - table[None], axis=-1).min(axis=1)
    assert apart.min() > 1.0
    assert len(kept.ground_points) > 0.8 * len(paint.ground_points)


# --- the file, which is not trusted


def test_the_file_comes_back_as_it_was(stand, tmp_path):
    """The numbers kept, to the last digit: nothing is worked out anew between."""
    kept = keep_setup(stand[1])
    kept.save(tmp_path / "kept.setup.json")
    assert load_setup(tmp_path / "kept.setup.json") == kept


@pytest.mark.parametrize(
    "text",
    ["", "3 white, 1 ochre", "[]", '{"format": "swatchread-note"}', '{"format": "swatchread-setup", "version": 1}'],
)
def test_a_foreign_file_is_refused(text, tmp_path):
    (tmp_path / "x.json").write_text(text, "utf-8")
    with pytest.raises(SetupFileError, match=r"x\.json") as caught:
        load_setup(tmp_path / "x.json")
    assert caught.value.exit_status == 2
    assert "--keep-setup" in caught.value.remedy


def test_a_newer_file_is_refused_kindly(stand):
    data = stand[3].model_dump(mode="json") | {"version": 2, "something": "new"}
    with pytest.raises(NewerSetupError, match="newer") as caught:
        parse_setup(json.dumps(data))
    assert "Update" in caught.value.remedy


def test_a_missing_and_a_huge_file_are_refused(tmp_path):
    with pytest.raises(SetupFileError, match="cannot be read"):
        load_setup(tmp_path / "none.json")
    (tmp_path / "huge.json").write_bytes(b" " * (MAX_BYTES + 1))
    with pytest.raises(SetupFileError, match="too large"):
        load_setup(tmp_path / "huge.json")


SPOILT = {
    "an infinite number": ("patches", lambda patches: [patches[0] | {"linear": [float("inf"), 0, 0]}, *patches[1:]]),
    "a field that nobody knows": ("run", lambda _: "anything"),
    "a patch too few": ("patches", lambda patches: patches[:-1]),
    "a flat view": ("view", lambda view: [*view[:2], [0.0, 0.0, 0.0]]),
    "a view far beside the photo": ("view", lambda view: [[*view[0][:2], 9e5], *view[1:]]),
    "ground far beside the photo": ("ground", lambda ground: [ground[0] | {"at": [-9e5, 0.0]}, *ground[1:]]),
    "a chart from elsewhere": ("chart", lambda _: {"name": "../x"}),
    "too much ground": ("ground", lambda ground: ground * 10),
}


@pytest.mark.parametrize(("field", "spoil"), SPOILT.values(), ids=SPOILT)
def test_a_file_that_does_not_hold_together_is_refused(stand, field, spoil):
    data = stand[3].model_dump(mode="json")
    parse_setup(json.dumps(data))
    data[field] = spoil(data.get(field))
    with pytest.raises(SetupFileError, match="does not hold together"):
        parse_setup(json.dumps(data))
