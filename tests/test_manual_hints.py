"""What the painter points at: chart, card, rows and columns; each taken over, and each still checked."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from swatchread.chart.definition import load_chart
from swatchread.chart.from_corners import chart_from_corners
from swatchread.errors import (
    ChartNotThereError,
    CornersError,
    GridMismatchError,
    MirroredChartError,
    NoSwatchesError,
    UsageError,
)
from swatchread.hints.manual_hints import ManualHints, clockwise, parse_corners, parse_grid
from swatchread.photo import load_photo
from swatchread.reading import read_card
from tests.scene import SceneSpec

BASE = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
TALL = SceneSpec(seed=12, width=1200, height=900, rows=4, columns=3, chart_fraction=0.3, writing="none")
CLOSE = 0.12


def ids(reading):
    return {s.id for s in reading.note.swatches}


def rightly_placed(reading, scene, wanted=None):
    """Whether each id stands where the simulator painted the swatch of that id."""
    true = {s.id: s.centre_px for s in scene.truth.swatches}
    found = {s.id: np.mean(s.outline, axis=0) for s in reading.note.swatches}
    reach = 0.3 * reading.calibration.find.pitch
    assert set(found) == (wanted or set(true))
    return all(np.linalg.norm(found[i] - true[i]) < reach for i in found)


# --- words


@pytest.mark.parametrize(("text", "size"), [("6x3", (6, 3)), (" 12 × 1 ", (12, 1)), ("2X10", (2, 10))])
def test_sizes(text, size):
    assert parse_grid(text) == size


@pytest.mark.parametrize("text", ["", "6", "x3", "0x3", "6x41", "six x three", "6x3x2", "-1x3"])
def test_what_is_no_size(text):
    with pytest.raises(UsageError):
        parse_grid(text)


def test_corners_come_in_any_order():
    for words in (["0,0", "100,0", "100,80", "0,80"], ["100,80", "0,0", "0,80", "100,0"]):
        np.testing.assert_array_equal(parse_corners(words, "card"), [[0, 0], [100, 0], [100, 80], [0, 80]])


@pytest.mark.parametrize(
    "words",
    [
        ["0,0", "100,0", "100,80", "seven"],
        ["0,0", "100,0", "100,80", "1,2,3"],
        ["0,0", "100,0", "100,80", "nan,4"],
        ["0,0", "100,0", "200,0", "0,80"],  # three in one line
        ["0,0", "100,0", "50,90", "50,30"],  # one within the triangle of the others
        ["0,0", "0,0", "100,80", "0,80"],
        ["0,0", "9,0", "9,9", "0,9"],  # smaller than any card
    ],
)
def test_what_are_no_corners(words):
    with pytest.raises(CornersError):
        parse_corners(words, "card")


@pytest.mark.parametrize("thing", ["card", "chart"])
def test_corners_outside_the_photo_are_refused(photograph, thing):
    path, _ = photograph(BASE)
    corners = np.array([[10.0, 10], [1200, 10], [1200, 300], [10, 300]])
    with pytest.raises(CornersError, match="outside the photo"):
        read_card(path, pointed=ManualHints(**{thing: corners}))


# --- the chart


def pointed_chart(path, corners):
    return chart_from_corners(load_photo(path), load_chart(), clockwise(corners, "chart"))


@pytest.mark.parametrize("turn", [0, 37, 180])
def test_the_chart_is_refined_and_turned_by_its_colours(photograph, turn):
    """Set a sixth of a patch off, from any corner; the truth is the simulator's."""
    path, scene = photograph(replace(BASE, chart_turn=float(turn)))
    true = scene.truth.chart_corners_px
    find = pointed_chart(path, true)
    slip = np.array([[0.12, -0.1], [-0.1, 0.12], [0.1, 0.12], [-0.12, -0.1]]) * find.pitch
    for start in (0, 2):
        find = pointed_chart(path, np.roll(true + slip, start, axis=0))
        assert np.linalg.norm(find.corners - true, axis=1).max() < CLOSE * find.pitch


def test_corners_set_at_the_frame_will_do(photograph):
    path, scene = photograph(BASE)
    true = scene.truth.chart_corners_px
    find = pointed_chart(path, true.mean(axis=0) + 1.1 * (true - true.mean(axis=0)))
    assert np.linalg.norm(find.corners - true, axis=1).max() < CLOSE * find.pitch


def test_a_chart_that_is_not_there(photograph):
    """Pointed at: the card, and a part of the chart."""
    path, scene = photograph(BASE)
    with pytest.raises(ChartNotThereError):
        pointed_chart(path, scene.truth.card_corners_px)
    true = scene.truth.chart_corners_px
    with pytest.raises(ChartNotThereError):
        pointed_chart(path, true[0] + 0.5 * (true - true[0]))


def test_a_mirrored_chart_stays_refused(photograph):
    path, scene = photograph(replace(BASE, mirrored=True))
    with pytest.raises(MirroredChartError):
        pointed_chart(path, scene.truth.chart_corners_px)


# --- the card


def test_the_card_where_it_is_pointed_at(photograph):
    """On a printed cloth, where a search may well take the cloth's checks for swatches."""
    path, scene = photograph(replace(BASE, table="busy"))
    reading = read_card(path, pointed=ManualHints(card=clockwise(scene.truth.card_corners_px, "card")))
    assert rightly_placed(reading, scene)
    off = np.linalg.norm(np.array(reading.note.card.corners) - scene.truth.card_corners_px, axis=1)
    assert off.max() < 0.15 * reading.calibration.find.pitch


def test_no_card_where_it_is_pointed_at(photograph):
    path, scene = photograph(BASE)
    with pytest.raises(NoSwatchesError, match="hold no card"):
        read_card(path, pointed=ManualHints(card=clockwise(scene.truth.chart_corners_px, "card")))
    card = scene.truth.card_corners_px
    corner = card[0] + 0.14 * (card - card[0]) + [2, 2]  # the card's bare corner
    with pytest.raises(NoSwatchesError, match="Nothing is painted"):
        read_card(path, pointed=ManualHints(card=clockwise(corner, "card")))


def off_the_card(scene, share):
    """Move the card's corners away from the chart and up by shares of its size, within the photo."""
    card = np.asarray(scene.truth.card_corners_px)
    away = np.sign(card.mean(axis=0) - np.mean(scene.truth.chart_corners_px, axis=0)) * [1.0, 0.0] - [0.0, 1.0]
    height, width = scene.rgb.shape[:2]
    return np.clip(card + share * away * np.ptp(card, axis=0), 0.0, [width - 1.0, height - 1.0])


@pytest.mark.parametrize("off", [0.0, 0.008, 0.25])
def test_corners_beside_the_card_are_doubted(photograph, off):
    """The table between them passes for ground; on the card's own corners there is nothing to doubt."""
    path, scene = photograph(BASE)
    note = read_card(path, pointed=ManualHints(card=clockwise(off_the_card(scene, off), "card"))).note
    assert ("card_corners" in {w.code for w in note.warnings}) == (off > 0.1)
    assert "card_corners" not in {w.code for w in read_card(path).note.warnings}


def test_corners_counted_in_a_smaller_picture_are_refused(photograph):
    """The same card, its corners read off the photo at 0.6 of its size."""
    path, scene = photograph(BASE)
    smaller = 0.6 * np.asarray(scene.truth.card_corners_px)
    with pytest.raises(CornersError, match=r"do not lie on a card") as told:
        read_card(path, pointed=ManualHints(card=clockwise(smaller, "card")))
    assert "about 1.7 times smaller" in told.value.why


# --- rows and columns


def painted_over(scene, wanted, path, add=()):
    """Cover swatches with the ground's colour, and add discs (x, y, radius) of a brown."""
    picture = scene.rgb.copy()
    for swatch in scene.truth.swatches:
        if swatch.id in wanted:
            outline = swatch.outline_px + 0.2 * (swatch.outline_px - swatch.centre_px)
            x, y = np.rint(swatch.centre_px + 1.3 * (swatch.outline_px - swatch.centre_px)).astype(int).T
            ground = np.median(picture[y, x], axis=0).tolist()
            cv2.fillPoly(picture, [np.rint(outline).astype(np.int32)], ground, cv2.LINE_AA)
    for x, y, radius in add:
        cv2.circle(picture, (round(x), round(y)), round(radius), (120, 80, 60), -1, cv2.LINE_AA)
    Image.fromarray(picture).save(path, quality=95)
    return path


def test_a_grid_that_fits_changes_nothing(photograph, reading):
    path, scene = photograph(TALL)
    told = read_card(path, pointed=ManualHints(grid=(4, 3)))
    assert rightly_placed(told, scene)
    usual = reading(TALL)[0].note
    np.testing.assert_allclose([s.lab for s in told.note.swatches], [s.lab for s in usual.swatches], atol=0.005)


@pytest.mark.parametrize("row", [1, 2, 4])
def test_an_empty_row_keeps_its_number(photograph, tmp_path, row):
    """Left to itself the reading would number the rows that it sees."""
    _, scene = photograph(TALL)
    gone = {f"r{row}c{column}" for column in (1, 2, 3)}
    path = painted_over(scene, gone, tmp_path / "gap.jpg")
    assert ids(read_card(path)) == {f"r{r}c{c}" for r in (1, 2, 3) for c in (1, 2, 3)}
    told = read_card(path, pointed=ManualHints(grid=(4, 3)))
    assert rightly_placed(told, scene, {s.id for s in scene.truth.swatches} - gone)


def test_paint_without_a_place_is_named(photograph, tmp_path):
    _, scene = photograph(TALL)
    at = {s.id: s.centre_px for s in scene.truth.swatches}
    size = np.ptp(scene.truth.swatches[0].outline_px[:, 0])
    x, y = (at["r1c1"] + at["r2c1"] + at["r1c2"] + at["r2c2"]) / 4
    path = painted_over(scene, set(), tmp_path / "stain.jpg", [(x, y, 0.36 * size)])
    told = read_card(path, pointed=ManualHints(grid=(4, 3)))
    assert rightly_placed(told, scene)
    (warning,) = (w for w in told.note.warnings if w.code == "off_grid")
    named = np.array([float(part) for part in warning.message.rsplit(" ", 1)[1].split(",")])
    assert np.linalg.norm(named - [x, y]) < 0.3 * size


@pytest.mark.parametrize("size", [(7, 3), (4, 6), (2, 2), (3, 4), (1, 1)])
def test_a_grid_that_does_not_fit(photograph, size):
    path, _ = photograph(TALL)
    with pytest.raises(GridMismatchError, match="4 rows and 3 columns") as refused:
        read_card(path, pointed=ManualHints(grid=size))
    assert ("4x3" in refused.value.remedy) == (size == (3, 4))


# --- the commands


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (("--grid", "3by3"), 2),
        (("--chart-at", "0,0", "400,0", "400,400", "0,400"), 4),
        (("--grid", "8x8"), 5),
    ],
)
def test_statuses(photograph, tmp_path, typed, words, status):
    path, _ = photograph(BASE)
    left, _, err = typed("read", path, "--into", tmp_path, *words)
    assert left == status
    assert "Traceback" not in err
    assert "do:" in err
    assert list(tmp_path.iterdir()) == []


def test_only_for_one_photo(photograph, tmp_path, typed):
    path, _ = photograph(BASE)
    for photos in ((path, path), (tmp_path,)):
        left, _, err = typed("read", *photos, "--into", tmp_path / "notes", "--grid", "3x3")
        assert left == 2
        assert "one photo" in err
