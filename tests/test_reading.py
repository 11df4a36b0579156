"""The whole pipeline on the four sample photos and on real photographs of charts, against known truth.

The samples' truth comes from the scene simulator, which shares no code with the reader.
"""

import json
from functools import cache
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
from PIL import Image

from swatchread.colour.cielab import delta_e_2000, value_of_lab
from swatchread.note.model import note_schema, parse_note
from swatchread.reading import read_card, read_photo

SAMPLES = Path(__file__).parent.parent / "samples"
NAMES = ("white-card", "grey-card", "toned-card", "tungsten-light")


@cache
def reading(name):
    return read_card(SAMPLES / f"{name}.jpg")


@cache
def truth(name):
    return json.loads((SAMPLES / f"{name}.truth.json").read_text("utf-8"))


def matched(name):
    """Yield (swatch of the note, true swatch) by place."""
    true = {t["id"]: t for t in truth(name)["swatches"]}
    for swatch in reading(name).note.swatches:
        centre = np.array(swatch.outline).mean(axis=0)
        nearest = min(true.values(), key=lambda t: np.hypot(*(centre - t["centre_px"])))
        outline = np.array(nearest["outline_px"], np.float32).reshape(-1, 1, 2)
        inside = cv2.pointPolygonTest(outline, tuple(map(float, centre)), False) >= 0
        yield swatch, nearest if inside else None


@pytest.mark.parametrize("name", NAMES)
def test_every_swatch_of_a_sample_is_found_in_its_place_and_nothing_else(name):
    pairs = list(matched(name))
    assert [s.id for s, t in pairs if t is None] == []
    assert {t["id"] for _, t in pairs} == {t["id"] for t in truth(name)["swatches"]}
    assert [(s.id, t["id"]) for s, t in pairs if s.id != t["id"]] == []


@pytest.mark.parametrize("name", NAMES)
def test_colours_of_a_sample_are_near_the_truth(name):
    """Limits of the issue that founded the reader (median 2.0), and tighter for daylight."""
    pairs = list(matched(name))
    error = delta_e_2000([s.lab for s, _ in pairs], [t["lab"] for _, t in pairs])
    assert np.median(error) <= (2.0 if name == "tungsten-light" else 1.2)
    assert np.percentile(error, 95) <= 5.0
    value = np.abs([s.value for s, _ in pairs] - value_of_lab([t["lab"] for _, t in pairs]))
    assert np.percentile(value, 90) <= 0.25


def test_the_stated_uncertainty_is_not_too_small_on_the_samples():
    """Four photos are four fits, too few to tell whether u is too wide: the bench judges that on many."""
    pairs = [pair for name in NAMES for pair in matched(name)]
    error = delta_e_2000([s.lab for s, _ in pairs], [t["lab"] for _, t in pairs])
    share = error / np.array([s.uncertainty.de00 for s, _ in pairs])
    assert np.mean(share < 1.0) >= 0.6
    assert np.mean(share < 2.0) >= 0.9


@pytest.mark.parametrize("name", NAMES)
def test_the_chart_is_found_to_a_fraction_of_a_patch(name):
    found = np.array(reading(name).note.chart.corners)
    true = np.array(truth(name)["chart_corners_px"])
    pitch = np.hypot(*(true[1] - true[0])) / 6
    assert np.abs(found - true).max() < 0.15 * pitch


@pytest.mark.parametrize("name", NAMES)
def test_a_note_keeps_its_own_schema_and_reads_back(name):
    note = reading(name).note
    text = note.to_json()
    jsonschema.validate(json.loads(text), note_schema())
    assert parse_note(text) == note


@pytest.mark.parametrize("quarter", [1, 2, 3])
def test_ids_and_colours_stay_when_the_photo_is_turned(tmp_path, quarter):
    """Turned by its pixels, the card is the same card: the chart's reading direction numbers it."""
    with Image.open(SAMPLES / "grey-card.jpg") as photo:
        turned = photo.resize((2016, 1512)).rotate(90 * quarter, expand=True)
        turned.save(tmp_path / "turned.png", icc_profile=photo.info.get("icc_profile"), compress_level=1)
    note = read_photo(tmp_path / "turned.png")
    plain = {s.id: s.lab for s in reading("grey-card").note.swatches}
    assert [s.id for s in note.swatches] == list(plain)
    assert np.median(delta_e_2000([s.lab for s in note.swatches], list(plain.values()))) < 0.8


def test_the_same_photo_gives_the_same_reading():
    first, second = reading("white-card").note, read_photo(SAMPLES / "white-card.jpg")
    assert [s.id for s in second.swatches] == [s.id for s in first.swatches]
    for name in ("lab", "outline"):
        for one, other in zip(first.swatches, second.swatches, strict=True):
            np.testing.assert_allclose(getattr(one, name), getattr(other, name), atol=0.005)
