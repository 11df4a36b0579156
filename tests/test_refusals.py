"""What a photo that went wrong gets: the README's table, row by row, on simulated photos."""

import re
from dataclasses import replace
from pathlib import Path

import colour
import cv2
import numpy as np
import pytest
from PIL import Image

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import edge_blur
from swatchread.colour.screen import hex_colours
from swatchread.errors import SwatchreadError
from swatchread.note.card_warnings import colour_drift
from swatchread.photo import load_photo
from swatchread.reading import read_card
from tests.scene import SceneSpec

BASE = SceneSpec(seed=43, width=1200, height=900, rows=4, columns=3, chart_fraction=0.36)
#: What went wrong -> factors of the scene, and the code of the refusal or of the warning.
ROWS = {
    "a little out of focus": ({"defocus": 18.0}, "blurred"),
    "shaken": ({"motion": 45.0}, "blurred"),
    "badly out of focus": ({"defocus": 45.0}, "no_chart"),
    "a stop too light": ({"exposure": 1.0}, "chart_clipped"),
    "far too dark": ({"exposure": -5.0}, "dark"),
    "far too light": ({"exposure": 2.0}, "too_poor"),
    "cut off by the frame": ({"chart_cut": 0.15}, "no_chart"),
    "glare": ({"chart_glare": 0.8}, "too_poor"),
    "a window and a lamp": ({"second_light": "A"}, "mixed_light"),
    "a window and a tube": ({"second_light": "FL2", "second_share": 0.7}, "mixed_light"),
    "a shadow between": ({"shadow": "whole-card", "shadow_depth": 0.4}, "other_light"),
    "local tone mapping": (
        {"local_tone_kind": "bilateral", "local_tone": 0.4, "tone": "phone-contrast", "width": 1600, "height": 1200},
        "local_tone",
    ),
    "mirrored": ({"mirrored": True}, "chart_mirrored"),
    "far away": ({"chart_fraction": 0.09}, "chart_small"),
    "very far away": ({"chart_fraction": 0.05}, "no_chart"),
    "no card": ({"card_present": False}, "no_swatches"),
    "nothing painted": ({"missing": 12}, "no_swatches"),
    "half in shadow": ({"shadow": "card"}, "shadow_edge"),
    "half in deep shadow": ({"shadow": "card", "shadow_depth": 0.7}, "shadow_edge"),
}


def answer(path):
    """Return the codes of a photo's refusal or of its warnings, its remedies, and the note if there is one."""
    try:
        note = read_card(path).note
    except SwatchreadError as error:
        return {error.code}, [error.remedy], None
    return {warning.code for warning in note.warnings}, [warning.remedy for warning in note.warnings], note


def test_an_ordinary_photo_is_read_without_a_word(photograph):
    codes, _, note = answer(photograph(BASE)[0])
    assert codes == set()
    assert len(note.swatches) == 12
    assert not {flag for swatch in note.swatches for flag in swatch.flags} & {"shadow", "clipped", "glint", "uneven"}


@pytest.mark.parametrize("row", ROWS)
def test_what_a_photo_that_went_wrong_gets(photograph, row):
    factors, expected = ROWS[row]
    codes, remedies, note = answer(photograph(replace(BASE, **factors))[0])
    assert expected in codes
    assert all(remedies)
    if expected == "chart_clipped":
        assert any("clipped" in swatch.flags for swatch in note.swatches)
    if expected == "shadow_edge":
        assert any("shadow" in swatch.flags for swatch in note.swatches)


def test_every_row_stands_in_the_readme():
    readme = (Path(__file__).parent.parent / "README.md").read_text("utf-8")
    table = readme.split("What a photo that went wrong gets")[1].split("\n\n")[1]
    told = set(re.findall(r"`([a-z_]+)`", table))
    assert {code for _, code in ROWS.values()} | {"photo_grey", "drawn"} <= told


@pytest.mark.parametrize("suffix", ["png", "jpg"])
def test_a_drawn_chart(photograph, tmp_path, suffix):
    """The chart's place is painted over with flat colours, as a screen would show them."""
    photo, scene = photograph(BASE)
    chart = load_chart()
    codes, _ = hex_colours(chart.lab)
    picture = Image.open(photo).convert("RGB")
    flat = np.zeros((4 * 60, 6 * 60, 3), np.uint8)
    for number, code in enumerate(codes):
        row, column = divmod(number, 6)
        flat[row * 60 + 4 : row * 60 + 56, column * 60 + 4 : column * 60 + 56] = tuple(bytes.fromhex(code[1:]))
    own = np.array([[4, 4], [356, 4], [356, 236], [4, 236]], np.float32)
    warp = cv2.getPerspectiveTransform(own, scene.truth.chart_corners_px.astype(np.float32))
    size = picture.size
    over = cv2.warpPerspective(flat, warp, size, flags=cv2.INTER_NEAREST)
    where = cv2.warpPerspective(np.full(flat.shape[:2], 255, np.uint8), warp, size, flags=cv2.INTER_NEAREST) > 0
    drawn = np.asarray(picture).copy()
    drawn[where] = over[where]
    path = tmp_path / f"drawn.{suffix}"
    Image.fromarray(drawn).save(path, quality=92)
    assert "drawn" in answer(path)[0]


def test_blur_is_measured_in_pixels(photograph, tmp_path):
    """A Gaussian of known width, laid over linear light, adds to the photo's own in squares."""
    photo, _ = photograph(BASE)
    stored = np.asarray(Image.open(photo).convert("RGB")).astype(np.float32) / 255
    linear = colour.cctf_decoding(stored, function="sRGB")
    own = edge_blur(find_chart(load_photo(photo), load_chart()))
    assert 0.3 < own < 1.2
    for sigma in (1.5, 2.5):
        code = colour.cctf_encoding(cv2.GaussianBlur(linear, (0, 0), sigma), function="sRGB")
        path = tmp_path / f"{sigma}.png"
        Image.fromarray(np.rint(np.clip(code, 0, 1) * 255).astype(np.uint8)).save(path)
        found = edge_blur(find_chart(load_photo(path), load_chart()))
        # The frame between two patches is hardly wider than the blur, which shortens the rise: 15 %.
        assert found == pytest.approx(np.hypot(own, sigma), rel=0.15)


def test_a_stain_is_no_drift_of_the_light():
    rng = np.random.default_rng(3)
    place = rng.uniform(-1, 1, (150, 2))
    lab = np.array([80.0, 1.0, 6.0]) + rng.normal(0, 0.4, (150, 3))
    lab[place[:, 0] > 0.75, 2] += 15.0  # a strip of tape along one edge
    assert colour_drift(lab, place) < 2.5
    lab[:, 2] += 5.0 * place[:, 0]  # from end to end 10 units
    assert colour_drift(lab, place) == pytest.approx(10.0, abs=2.5)
    assert colour_drift(lab[:5], place[:5]) == pytest.approx(0.0)
