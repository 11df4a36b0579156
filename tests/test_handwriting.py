"""Handwriting: its swatches, its crops, and the card's turn, against simulated cards whose truth is known."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from swatchread.card.card_detection import find_card
from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.ink.handwriting_regions import find_writing, picture_of, writing_boxes
from swatchread.ink.ink_strokes import InkView
from swatchread.ink.orientation import ink_sides, quarter_turn, stand_upright, turn_of_ink
from swatchread.note.model import load_note
from swatchread.page.note_keeper import Words, put_words
from swatchread.photo import load_photo
from swatchread.photo.derived_pictures import for_the_eye
from swatchread.plane.rectification import rectify
from swatchread.reading import read_card
from swatchread.report import reading_files
from swatchread.report.reading_files import write_outputs
from tests.scene import draw, easy_spec, save

SIZE = (1600, 1200)
SAMPLES = Path(__file__).parent.parent / "samples"


def card_in(path):
    return find_card(rectify(sample_chart(find_chart(load_photo(path), load_chart()))))


def spec_of(seed, writing, quarters=0):
    spec = easy_spec(seed, SIZE)
    return replace(
        spec, rows=3, columns=3, missing=1, writing=writing, ground="white", card_turn=spec.card_turn + 90 * quarters
    )


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """Draw a card with writing, turned by a quarter, once for all tests."""
    folder = tmp_path_factory.mktemp("photo")
    scene = draw(spec_of(11, "beside", 1))
    return save(scene, folder / "card.jpg"), scene.truth


@pytest.fixture(scope="module")
def reading(photo):
    return read_card(photo[0])


@pytest.fixture(scope="module")
def card(photo):
    return stand_upright(card_in(photo[0]))


def test_ids_follow_the_writing_of_a_card_turned_by_a_quarter(photo, card):
    truth = photo[1]
    assert np.pi / 4 < card.grid.angle < 3 * np.pi / 4
    assert quarter_turn(card) == 0, "it stands upright now"
    found = {f"r{c.row}c{c.column}": card.plane.photo_points(c.blob.centre) for c in card.grid.cells}
    assert set(found) == {s.id for s in truth.swatches}
    for swatch in truth.swatches:
        assert np.abs(found[swatch.id] - swatch.centre_px).max() < 15, swatch.id
    # The card's own top left comes first in its corners.
    assert np.abs(card.corners[0] - truth.card_corners_px[0]).max() < 40


def test_each_swatch_has_its_own_writing(photo, card):
    truth = photo[1]
    regions = find_writing(card)
    assert set(regions) == {(s.row, s.column) for s in truth.swatches}
    # By the simulator's plan, writing beside a swatch begins right of its paint and ends before the next cell.
    right = truth.card_corners_px[1] - truth.card_corners_px[0]
    right = right / np.hypot(*right)
    for swatch in truth.swatches:
        corners = regions[swatch.row, swatch.column]
        half = np.ptp(swatch.outline_px @ right) / 2
        beyond = (corners.mean(axis=0) - swatch.centre_px) @ right
        assert half < beyond < 6 * half, swatch.id
        along = corners[1] - corners[0]
        assert along @ right > 0.95 * np.hypot(*along), "a crop is read along the card's rows"


def test_a_crop_shows_ink_on_ground_upright(card):
    crops = {place: picture_of(card, corners) for place, corners in find_writing(card).items()}
    for place, crop in crops.items():
        grey = cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY).astype(float)
        ground = np.quantile(grey, 0.8)
        dark = grey < 0.75 * ground
        assert 0.01 < dark.mean() < 0.4, place
        assert crop.shape[0] >= 60
        rim = np.concatenate([dark[0], dark[-1], dark[:, 0], dark[:, -1]])
        assert rim.mean() < 0.1, "no letter is cut off, no paint in the picture"


def test_a_card_without_writing_has_no_crops_and_no_turn(tmp_path):
    path = save(draw(spec_of(12, "none")), tmp_path / "bare.jpg")
    card = card_in(path)
    assert quarter_turn(card) == 0
    assert find_writing(card) == {}


def test_writing_below(tmp_path):
    scene = draw(spec_of(13, "below", 2))
    path = save(scene, tmp_path / "below.jpg")
    card = card_in(path)
    assert quarter_turn(card) == 2
    assert set(find_writing(stand_upright(card))) == {(s.row, s.column) for s in scene.truth.swatches}


def test_outputs_name_the_crops_and_show_them(photo, reading, tmp_path):
    written = write_outputs(reading, tmp_path, "card")
    note = load_note(tmp_path / "card.note.json")
    assert note == written.note
    for swatch in note.swatches:
        assert swatch.writing == f"card.writing/{swatch.id}.jpg"
        assert (tmp_path / swatch.writing).read_bytes().startswith(b"\xff\xd8\xff")
    page = (tmp_path / "card.note.html").read_text(encoding="utf-8")
    assert page.count('<img alt="handwriting beside') == len(photo[1].swatches)


def test_reading_again_keeps_the_painters_words(reading, tmp_path):
    first = write_outputs(reading, tmp_path, "card").note
    worded = first.model_copy(
        update={
            "swatches": (first.swatches[0].model_copy(update={"recipe": "2 white"}), *first.swatches[1:]),
            "card_info": first.card_info.model_copy(update={"sitter": "K"}),
        }
    )
    worded.save(tmp_path / "card.note.json")
    written = write_outputs(reading, tmp_path, "card")
    again = written.note
    assert (written.aside, written.remark) == (None, "")
    assert (again.swatches[0].recipe, again.card_info.sitter) == ("2 white", "K")
    other = again.model_copy(update={"photo": again.photo.model_copy(update={"sha256": "0" * 64})})
    other.save(tmp_path / "card.note.json")
    written = write_outputs(reading, tmp_path, "card")
    fresh = written.note
    assert written.aside == tmp_path / "card.earlier-1.note.json"
    assert written.aside.name in written.remark
    assert fresh.swatches[0].recipe == ""
    assert load_note(tmp_path / "card.earlier-1.note.json") == other
    (tmp_path / "card.note.json").write_text("cut off {", encoding="utf-8")
    write_outputs(reading, tmp_path, "card")
    assert (tmp_path / "card.earlier-2.note.json").read_text(encoding="utf-8") == "cut off {"


def test_words_written_while_a_photo_is_read_again_are_kept(reading, tmp_path, monkeypatch):
    first = write_outputs(reading, tmp_path, "card").note
    real, pictures = reading_files.mark, []

    def filled_meanwhile(*words):
        if not pictures:
            put_words(first, Words({first.swatches[0].id: "2 white"})).save(tmp_path / "card.note.json")
        pictures.append(real(*words))
        return pictures[-1]

    monkeypatch.setattr(reading_files, "mark", filled_meanwhile)
    assert write_outputs(reading, tmp_path, "card").note.swatches[0].recipe == "2 white"
    assert len(pictures) == 1  # nothing has to be drawn again for that
    assert load_note(tmp_path / "card.note.json").swatches[0].recipe == "2 white"


def test_recipes_stay_with_their_paint_when_swatches_are_counted_otherwise(reading, tmp_path):
    first = write_outputs(reading, tmp_path, "card").note
    # As a reading counts them that takes the card to lie the other way up: every id means another swatch.
    turned = [
        s.model_copy(update={"id": o.id, "row": o.row, "column": o.column, "recipe": f"{number} white"})
        for number, (s, o) in enumerate(zip(first.swatches, reversed(first.swatches), strict=True), start=1)
    ]
    first.model_copy(update={"swatches": tuple(turned)}).save(tmp_path / "card.note.json")
    again = write_outputs(reading, tmp_path, "card").note
    assert [s.recipe for s in again.swatches] == [f"{k} white" for k in range(1, len(turned) + 1)]
    astray = turned[0].model_copy(update={"outline": ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))})
    other = first.model_copy(update={"swatches": (astray, *turned[1:])})
    other.save(tmp_path / "card.note.json")
    assert not any(s.recipe for s in write_outputs(reading, tmp_path, "card").note.swatches)
    assert load_note(tmp_path / "card.earlier-1.note.json") == other


# --- the judgement by itself, on drawn ink


def drawn(side, lines_along_x, *, rows=2, columns=3):
    """Ink of three short lines of strokes on one side of square swatches."""
    ink = np.zeros((220 * rows + 120, 220 * columns + 120), bool)
    boxes = []
    for row in range(rows):
        for column in range(columns):
            x, y = 100 + 220 * column, 100 + 220 * row
            boxes.append([x, y, x + 80, y + 80])
            dx, dy = ((70, 0), (0, 70), (-70, 0), (0, -70))[side]
            mid_x, mid_y = x + 40 + dx, y + 40 + dy
            for line in (-16, 0, 16):
                for letter in range(-20, 20, 8):
                    px, py = (mid_x + letter, mid_y + line) if lines_along_x else (mid_x + line, mid_y + letter)
                    ink[py - 3 : py + 3, px - 2 : px + 3] = True
    return InkView(ink, np.array(boxes, float), 80.0, np.eye(3))


@pytest.mark.parametrize(
    ("side", "along_x", "turn"),
    [
        (0, True, 0),
        (1, True, 0),
        (1, False, 1),
        (2, False, 1),
        (2, True, 2),
        (3, True, 2),
        (3, False, 3),
        (0, False, 3),
    ],
)
def test_side_and_lines_tell_the_turn(side, along_x, turn):
    view = drawn(side, along_x)
    assert int(np.argmax(ink_sides(view))) == side
    assert turn_of_ink(view) == (turn, True)
    assert len(writing_boxes(view)) == 6


@pytest.mark.parametrize(
    ("name", "blur", "width"), [("white-card", 6, 4032), ("white-card", 0, 700), ("toned-card", 0, 640)]
)
def test_writing_too_blurred_or_small_to_show_its_lines_turns_no_card(tmp_path, name, blur, width):
    """Letters run together to stains, whose lines may seem to run up and down."""
    picture = cv2.imread(str(SAMPLES / f"{name}.jpg"))
    picture = cv2.resize(picture, (width, width * 3 // 4), interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(tmp_path / "q.jpg"), cv2.GaussianBlur(picture, (0, 0), blur) if blur else picture)
    assert quarter_turn(card_in(tmp_path / "q.jpg")) == 0


def test_writing_whose_lines_are_too_small_to_see_or_that_stands_on_both_sides_leaves_the_turn_unsure():
    view = drawn(2, True)
    assert not turn_of_ink(replace(view, extent=40.0))[1]
    assert not turn_of_ink(replace(view, ink=np.zeros_like(view.ink)))[1]
    assert not turn_of_ink(replace(view, ink=view.ink | drawn(0, True).ink))[1]


def test_a_pattern_on_three_sides_is_no_writing():
    """A cloth beside a narrow card: right and left of the swatches alike, and above the first."""
    sides = {side: drawn(side, True, rows=9, columns=1) for side in (0, 2, 3)}
    for side, bare in ((0, slice(0, 3)), (2, slice(0, 2)), (3, slice(7, 9))):
        for _, top, _, bottom in sides[side].boxes[bare].astype(int):
            sides[side].ink[top - 90 : bottom + 30] = False
    view = replace(sides[2], ink=sides[0].ink | sides[2].ink | sides[3].ink)
    assert sorted(ink_sides(view) > 0.5) == [False, True, True, True]
    assert turn_of_ink(view) == (0, False)


def test_pencil_frames_are_no_writing():
    """Round each swatch of a narrow card, and fainter above the first."""
    view = drawn(0, False, rows=12, columns=1)
    for side in (1, 2):
        view = replace(view, ink=view.ink | drawn(side, False, rows=12, columns=1).ink)
    assert ink_sides(view)[:3].min() > 0.9
    assert turn_of_ink(view) == (0, False)


def test_linear_values_are_brightened_for_the_eye(photo):
    plain = load_photo(photo[0])
    assert (for_the_eye(plain, plain.pixels[:5, :5]) == plain.pixels[:5, :5]).all()
    dark = np.full((40, 40, 3), 6553, np.uint16)
    roots = np.full((40, 40, 3), round(255 * 0.1**0.5), np.uint8)
    linear = replace(plain, pixels=dark, small=roots, encoding=replace(plain.encoding, scene_linear=True))
    assert for_the_eye(linear, dark).mean() == pytest.approx(255, abs=3)


def test_a_crop_is_no_larger_than_asked(card):
    width, height = card.plane.sample.find.photo.width, card.plane.sample.find.photo.height
    whole = np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]], float)
    assert max(picture_of(card, whole).shape) == 1200
    assert picture_of(card, whole * 1.5 - 200).shape[2] == 3
