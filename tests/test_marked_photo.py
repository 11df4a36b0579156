"""The marked photo: what is drawn, where, and what must stay bare."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from swatchread.report.marked_photo import LeftOut, mark, save_jpeg
from swatchread.report.ruled_frame import framed
from tests.notes import PHOTO_SIZE, sample_note

SKEW = ((300.0, 620.0), (1500.0, 560.0), (1240.0, 1680.0), (430.0, 1420.0))


def _photo(scale, colour=(120, 120, 120)):
    width, height = (round(side * scale) for side in PHOTO_SIZE)
    return np.full((height, width, 3), colour, np.uint8)


def _inside(note, scale):
    """Return a mask of the swatches' inner parts, clear of the outline strokes."""
    width, height = (round(side * scale) for side in PHOTO_SIZE)
    inner = np.zeros((height, width), np.uint8)
    for swatch in note.swatches:
        polygon = (np.array(swatch.outline) + 0.5) * scale - 0.5
        cv2.fillPoly(inner, [np.rint(polygon).astype(np.int32)], 1)
    return cv2.erode(inner, np.ones((13, 13), np.uint8)).astype(bool)


@pytest.fixture(scope="module")
def note():
    return sample_note()


@pytest.mark.parametrize("grid", [(6, 2), (3, 1)])
@pytest.mark.parametrize("grey", [20, 128, 235])
def test_nothing_is_written_over_the_paint_where_there_is_room_beside_it(grid, grey):
    note = sample_note(*grid)
    photo = _photo(0.3, (grey, grey, grey))
    changed = (mark(photo, note) != photo).any(axis=2)
    inner = _inside(note, 0.3)
    assert inner.sum() > 1000
    assert not changed[inner].any()
    assert changed.any()


def test_every_swatch_gets_its_outline_and_an_id_nearby(note):
    photo = _photo(0.3)
    drawn = (mark(photo, note) != photo).any(axis=2)
    for swatch in note.swatches:
        outline = np.rint((np.array(swatch.outline) + 0.5) * 0.3 - 0.5).astype(int)
        assert drawn[outline[:, 1], outline[:, 0]].mean() > 0.95
        (left, top), (right, bottom) = outline.min(axis=0), outline.max(axis=0)
        around = drawn[top - 30 : bottom + 30, left - 70 : right + 70].copy()
        around[20:-20, 60:-60] = False
        assert around.sum() > 60, f"no id near {swatch.id}"


@pytest.mark.parametrize("grid", [(6, 2), (9, 5), (3, 1), (8, 6)])
def test_each_id_is_at_least_twice_as_far_from_every_other_swatch_as_from_its_own(grid, monkeypatch):
    """Distances are OpenCV's, from the rectangle in which an id is written to the outlines."""
    note, written = sample_note(*grid), {}
    monkeypatch.setattr("swatchread.report.id_labels._write", lambda _image, name, box, *_: written.update({name: box}))
    mark(_photo(0.3), note)
    outlines = {s.id: ((np.array(s.outline) + 0.5) * 0.3 - 0.5).astype(np.float32) for s in note.swatches}
    assert written.keys() == outlines.keys()
    for name, box in written.items():
        x, y = np.meshgrid(np.linspace(box.left, box.right, 15), np.linspace(box.top, box.bottom, 7))
        places = [(float(px), float(py)) for px, py in zip(x.ravel(), y.ravel(), strict=True)]
        far = {
            other: max(0.0, min(-cv2.pointPolygonTest(outline, place, True) for place in places))
            for other, outline in outlines.items()
        }
        own = far.pop(name)
        assert min(far.values()) > 1.9 * own, name


@pytest.mark.parametrize(("free", "odd"), [((1, 0), (-1, 0)), ((-1, 0), (1, 0))])
def test_ids_stand_where_nothing_is_written(free, odd, monkeypatch):
    """All is written on but the paint and one side of each swatch, of one swatch another side than of the others."""
    note, photo = sample_note(3, 2), _photo(0.4, (225, 225, 220))
    page = photo.copy()
    for x in range(0, page.shape[1], 12):
        cv2.line(page, (x, 0), (x + 300, page.shape[0]), (70, 70, 90), 2, cv2.LINE_AA)
    for k, swatch in enumerate(note.swatches):
        outline = (np.array(swatch.outline) + 0.5) * 0.4 - 0.5
        half = np.ptp(outline, axis=0) / 2
        room = outline.mean(axis=0) + np.array(odd if k == 3 else free) * (half + (80, 55))
        for middle, reach in ((outline.mean(axis=0), half + 10), (room, (60, 32))):
            (left, top), (right, bottom) = (np.rint(middle + np.array(reach) * side).astype(int) for side in (-1, 1))
            page[top:bottom, left:right] = photo[top:bottom, left:right]
    ink = (page != photo).any(axis=2)
    monkeypatch.setattr("swatchread.report.id_labels._join", lambda *_: None)
    whole = mark(page, note)
    monkeypatch.setattr("swatchread.report.marked_photo.write_ids", lambda image, *_: image)
    ids = (whole != mark(page, note)).any(axis=2)
    assert ids.sum() > 2000
    assert (ids & ink).sum() < 0.01 * ids.sum()


@pytest.mark.parametrize("grey", [0, 255])
def test_lines_show_on_black_and_on_white(note, grey):
    out = mark(_photo(0.3, (grey, grey, grey)), note).astype(int)
    assert (np.abs(out - grey).max(axis=2) > 200).mean() > 0.005


def test_the_lattice_crosses_where_projective_geometry_says():
    # Under any perspective the middle of a plane rectangle is where its diagonals meet, which is also where
    # the 3rd of 6 columns and the 2nd of 4 rows end.
    note = sample_note(chart=sample_note().chart.model_copy(update={"corners": SKEW}))
    photo = _photo(0.4)
    out = mark(photo, note)
    a, b, c, d = (np.array(p) for p in SKEW)
    along = np.linalg.solve(np.column_stack([c - a, b - d]), b - a)[0]
    x, y = (a + along * (c - a) + 0.5) * 0.4 - 0.5
    assert (out[round(y), round(x)] > 200).all()
    # A cell's middle stays bare: just off the crossing, toward a corner of the chart, nothing is drawn.
    off = (a + (along + 0.08) * (c - a) + 0.5) * 0.4 - 0.5
    assert (out[round(off[1]), round(off[0])] == 120).all()


@pytest.mark.parametrize("grid", [(6, 4), (8, 1), (3, 2)])
def test_the_chart_is_marked_with_its_own_columns(grid):
    note = sample_note()
    out = mark(_photo(0.5), note, chart_grid=grid)
    first, second, third, fourth = ((np.array(corner) + 0.5) * 0.5 - 0.5 for corner in note.chart.corners)
    along = np.linspace(first + 0.4 * (fourth - first), second + 0.4 * (third - second), 3000)
    along = np.vstack([along[0] - (8, 0), along, along[-1] + (8, 0)])
    x, y = np.rint(along).astype(int).T
    light = out[y, x].min(axis=1) > 200
    assert np.count_nonzero(light[1:] & ~light[:-1]) == grid[0] + 1


@pytest.mark.parametrize("scale", [0.7, 0.37])
def test_what_was_left_out_is_hatched_in_its_place(note, scale):
    swatch = note.swatches[4]
    x, y = (int(v) for v in np.array(swatch.outline).mean(axis=0))
    mask = np.zeros((60, 90), bool)
    mask[10:40, 20:80] = True
    photo = _photo(scale)
    left_out = [LeftOut(x - 45, y - 30, mask)]
    out = mark(photo, note, left_out)
    shrink = out.shape[1] / PHOTO_SIZE[0]
    left, top, right, bottom = (round(v * shrink) for v in (x - 30, y - 25, x + 40, y + 15))
    place = np.argwhere((out[top:bottom, left:right] != 120).all(axis=2)) + (top, left)
    low, high = place.min(axis=0) / shrink, place.max(axis=0) / shrink
    np.testing.assert_allclose(low, (y - 20, x - 25), atol=1.5 / shrink)
    np.testing.assert_allclose(high, (y + 9, x + 34), atol=1.5 / shrink)
    found = out[tuple(place.T)]
    assert (found == 255).all(axis=1).any()
    assert (found == 0).all(axis=1).any()


def test_a_mask_over_the_rim_or_outside_the_photo_does_no_harm(note):
    photo = _photo(0.3)
    masks = [LeftOut(-20, -10, np.ones((30, 40), bool)), LeftOut(4020, 3010, np.ones((50, 50), bool))]
    masks += [LeftOut(9000, 9000, np.ones((5, 5), bool)), LeftOut(50, 50, np.zeros((5, 5), bool))]
    out = mark(photo, note, masks)
    assert (out[0, 0] != 120).all()
    assert (out[15, 15] == 120).all()


def test_the_photo_is_left_as_it_was(note):
    photo = _photo(0.5)
    before = photo.copy()
    assert mark(photo, note).shape == photo.shape
    np.testing.assert_array_equal(photo, before)


@pytest.mark.parametrize("scale", [0.3, 0.5])
def test_the_rim_counts_the_photos_own_pixels(note, scale):
    """The long ticks of the upper rim stand over the pixels whose numbers are round, the photo itself is untouched."""
    photo = _photo(scale, (0, 0, 250))
    out = framed(photo, note)
    y, x = np.argwhere((out == (0, 0, 250)).all(axis=2)).min(axis=0)
    np.testing.assert_array_equal(out[y : y + photo.shape[0], x : x + photo.shape[1]], photo)
    letter = x // 4
    dark = np.flatnonzero(out[y - round(0.7 * letter), x - 3 : x + photo.shape[1]].max(axis=1) < 100) - 3
    ticks = dark[np.diff(dark, prepend=-9) > 1]
    middles = [dark[(dark >= tick) & (dark < tick + 6)].mean() for tick in ticks]
    np.testing.assert_allclose((np.array(middles) + 0.5) / scale - 0.5, 500 * np.arange(len(ticks)), atol=1.5 / scale)
    assert len(ticks) == -(-PHOTO_SIZE[0] // 500)


def test_a_profile_too_large_for_a_jpeg_is_left_out(tmp_path):
    """255 segments are the most (ICC.1:2022, annex B.4)."""
    save_jpeg(_photo(0.05), tmp_path / "card.jpg", bytes(256 * 65_519))
    with Image.open(tmp_path / "card.jpg") as saved:
        assert "icc_profile" not in saved.info


def test_the_jpeg_keeps_the_picture_and_its_profile(tmp_path, note):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    out = mark(_photo(0.3), note)
    save_jpeg(out, tmp_path / "new" / "card.marked.jpg", profile)
    with Image.open(io.BytesIO((tmp_path / "new" / "card.marked.jpg").read_bytes())) as saved:
        assert saved.size == out.shape[1::-1]
        assert saved.info["icc_profile"] == profile
        assert np.abs(np.asarray(saved).astype(int) - out).mean() < 3
