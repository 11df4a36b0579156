"""The card, its grid and its samples, against the truth of the simulator."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from swatchread.card.card_detection import find_card
from swatchread.plane.rectification import Plane
from tests.scene import SceneSpec

#: 3 × 3 round swatches on white paper, on wood, light falling off, at the size of a preview: quick to draw and to read.
CARD = SceneSpec(seed=33, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36, fall_off=0.3)


def inside(outline, points, margin=0.0):
    """Tell which points lie in a true outline, at least `margin` pixels within."""
    shape = np.asarray(outline, np.float32).reshape(-1, 1, 2)
    return np.array([cv2.pointPolygonTest(shape, (float(x), float(y)), True) > margin for x, y in points])


@pytest.mark.parametrize(
    "spec",
    [
        CARD,
        replace(CARD, seed=31, fall_off=0.08),
        replace(CARD, ground="grey", shape="square", card_turn=12.0, pencil_frames=True, tape=True),
        replace(CARD, ground="toned", rows=4, columns=4, missing=4, writing="below", shape="smeared", chart_turn=180.0),
        replace(CARD, rows=1, columns=4, torn=True, tilt=25.0, chart_side="top"),
        replace(CARD, ground="canvas", shape="square", rows=4, columns=5, margin=0.02, fill=0.98, table="busy"),
    ],
    ids=["plain", "other grain", "grey, turned, framed", "toned, gaps, upside down", "one torn row", "brim-full"],
)
def test_every_swatch_in_its_place_and_nothing_else(reading, spec):
    """Ids, outlines within the true paint, and the card's corners."""
    done, scene = reading(spec)
    true = {s.id: s for s in scene.truth.swatches}
    assert [s.id for s in done.note.swatches] == sorted(true)
    for swatch in done.note.swatches:
        assert inside(true[swatch.id].outline_px, swatch.outline).mean() > 0.95, swatch.id
    if not spec.torn:
        corners = np.array(done.note.card.corners)
        width = np.linalg.norm(np.subtract(*scene.truth.card_corners_px[:2]))
        assert np.linalg.norm(corners - scene.truth.card_corners_px, axis=1).max() < 0.06 * width


def test_the_paint_sampled_is_the_paint_there(reading):
    """With rendering and light undone by the simulator, each swatch has its true camera values, to 6 per cent."""
    done, scene = reading(CARD)
    table = done.calibration.find.photo.encoding.table
    paint = done.sample
    stored = np.stack([np.interp(paint.linear[:, k], table[k], np.linspace(0, 1, 256)) for k in range(3)], axis=-1)
    seen = scene.undo_rendering(stored, paint.places) / scene.light_at(paint.places)[:, None]
    true = {s.id: s.camera for s in scene.truth.swatches}
    wanted = np.array([true[f"r{s.cell.row}c{s.cell.column}"] for s in paint.swatches])
    bright = (stored > 0.15) & (stored < 0.97)
    assert bright.mean() > 0.7
    np.testing.assert_allclose((seen / wanted)[bright], 1.0, atol=0.06)


def test_the_bare_ground_is_bare(reading):
    """No sample of the ground lies on paint; its colour is the paper's."""
    done, scene = reading(CARD)
    points = done.sample.ground_points
    assert len(points) > 20
    on_paint = np.zeros(len(points), dtype=bool)
    for swatch in scene.truth.swatches:
        on_paint |= inside(swatch.outline_px, points)
    assert not on_paint.any()
    from skimage.color import deltaE_ciede2000

    assert deltaE_ciede2000(np.array(done.note.card.ground.lab), scene.truth.ground_lab) < 3


def test_a_glint_is_left_out(reading):
    """Three swatches shine: these only are flagged, and their lightness is as true as that of the others."""
    done, scene = reading(replace(CARD, seed=34, glints=3))
    true = {s.id: s for s in scene.truth.swatches}
    shining = {s.id for s in scene.truth.swatches if s.glint}
    assert len(shining) == 3
    flagged = {s.id for s in done.note.swatches if "glint" in s.flags}
    assert len(flagged & shining) >= 2
    assert len(flagged - shining) <= 1
    for swatch in done.note.swatches:
        assert swatch.lab[0] == pytest.approx(true[swatch.id].lab[0], abs=2.5), swatch.id


def test_the_light_is_evened_out(reading):
    """The light found at the swatches is the true one, up to one factor, to 2 per cent."""
    done, scene = reading(CARD)
    light = scene.light_at(done.sample.places)
    assert light.min() / light.max() < 0.93
    found = np.exp(done.calibration.log_light(done.sample.places))
    ratio = found / light
    np.testing.assert_allclose(ratio / np.median(ratio), 1.0, atol=0.02)


def slanted_far_off():
    """Return a plane with a card of swatches of a few blurred pixels; drawn by hand."""
    picture = np.full((900, 700, 3), (214, 206, 204), np.uint8)
    rng = np.random.default_rng(11)
    ground, middle = (112, 106, 104), (350, 450)
    cv2.fillPoly(picture, [np.rint(cv2.boxPoints((middle, (120, 290), 14.0))).astype(np.int32)], ground)
    cos, sin = np.cos(np.radians(14.0)), np.sin(np.radians(14.0))
    for row in range(11):
        for column in range(2):
            x, y = (column - 0.5) * 50, (row - 5) * 23
            place = (middle[0] + cos * x - sin * y, middle[1] + sin * x + cos * y)
            hue = tuple(int(v) for v in (60 + 15 * row, 45 + 9 * row, 40 + 6 * row) + rng.normal(0, 4, 3))
            cv2.fillPoly(picture, [np.rint(cv2.boxPoints((place, (8, 8), 14.0))).astype(np.int32)], hue)
    picture = cv2.GaussianBlur(picture, (0, 0), 1.5)
    picture = np.clip(picture + rng.normal(0, 1.5, picture.shape), 0, 255).astype(np.uint8)
    chart = SimpleNamespace(columns=6, rows=4)  # its black frame lies beyond the picture
    off = SimpleNamespace(photo=SimpleNamespace(path=Path("far.jpg")), chart=chart, to_photo=lambda places: places)
    off.pitch, off.homography = 45.0, np.diag([45.0, 45.0, 1.0])  # the photo holds no more than this
    photo = SimpleNamespace(find=off)
    return Plane(photo, picture, np.eye(3), 45.0, np.zeros(picture.shape[:2], bool))


def test_swatches_of_a_few_pixels_are_found_at_full_size():
    grid = find_card(slanted_far_off()).grid
    assert len(grid.cells) == 22
    assert {(c.row, c.column) for c in grid.cells} == {(row, column) for row in range(1, 12) for column in (1, 2)}
