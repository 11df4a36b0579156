"""Several cards in one photo: each read by itself, named by a letter, and kept as a card of its own.

The truth is the simulator's (`tests/scene/several.py`).
"""

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest

from swatchread import __version__
from swatchread.archive.photo_cards import whole_photo
from swatchread.archive.store import Archive
from swatchread.batch.batch_run import notes_of
from swatchread.batch.jobs import find_jobs
from swatchread.errors import SeveralCardsError
from swatchread.hints.manual_hints import ManualHints, clockwise
from swatchread.note.model import load_note
from swatchread.reading import read_card, read_cards
from tests.scene import several
from tests.scene.spectra import delta_e_2000

from .program import invoke
from .several_data import owners, spec_of

#: Three cards, two of one stock: not looked at when the rules were made.
SEED = 51003


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    """Return the path of a photo of several cards, and its truth."""
    scene = several.draw(spec_of(SEED))
    return several.save(scene, tmp_path_factory.mktemp("several") / "box.jpg"), scene


@pytest.fixture(scope="module")
def readings(photo):
    return read_cards(photo[0])


def test_each_card_gets_a_note_of_its_own_with_all_of_its_swatches(photo, readings):
    truths = photo[1].truths
    assert len(readings) == len(truths) > 2
    for reading in readings:
        (card,) = set(owners(reading.note, truths))
        assert len(reading.note.swatches) == len(truths[card].swatches)


def test_letters_go_in_reading_order(readings):
    assert [reading.note.card.letter for reading in readings] == list("abcdefgh"[: len(readings)])
    assert {reading.note.card.cards for reading in readings} == {len(readings)}
    tops = [min(y for _, y in reading.note.card.corners) for reading in readings]
    bottoms = [max(y for _, y in reading.note.card.corners) for reading in readings]
    assert tops[0] < min(bottoms)  # nothing lies wholly above the first
    assert bottoms[-1] > max(tops)


def test_every_card_has_its_own_ground_and_its_own_colours(photo, readings):
    for reading in readings:
        truth = photo[1].truths[owners(reading.note, photo[1].truths)[0]]
        assert delta_e_2000(np.array(reading.note.card.ground.lab), truth.ground_lab) < 3
        places = np.array([swatch.centre_px for swatch in truth.swatches])
        centres = np.array([np.mean(swatch.outline, axis=0) for swatch in reading.note.swatches])
        nearest = np.linalg.norm(centres[:, None] - places, axis=-1).argmin(axis=1)
        labs = np.array([truth.swatches[k].lab for k in nearest])
        assert np.median(delta_e_2000(np.array([s.lab for s in reading.note.swatches]), labs)) < 2


def test_no_card_is_called_a_second_card(readings):
    assert "second_card" not in {w.code for reading in readings for w in reading.note.warnings}


def test_a_card_without_writing_may_be_turned_and_one_with_clear_writing_is_not_doubted(photo, readings):
    doubted = {}
    for reading in readings:
        card = photo[1].spec.cards[owners(reading.note, photo[1].truths)[0]]
        doubted[card.writing] = "card_turned" in {w.code for w in reading.note.warnings}
    assert doubted["none"]
    assert not doubted["below"]


def test_a_card_that_was_turned_by_hand_is_not_doubted(photo, readings):
    doubted = next(r.note for r in readings if "card_turned" in {w.code for w in r.note.warnings})
    hints = ManualHints(quarters=2, meant=np.array(doubted.card.corners))
    (turned,) = read_cards(photo[0], pointed=hints)
    assert "card_turned" not in {w.code for w in turned.note.warnings}


def test_the_one_card_that_is_asked_for_is_the_largest_and_the_others_are_told(photo, readings):
    note = read_card(photo[0]).note
    assert len(note.swatches) == max(len(reading.note.swatches) for reading in readings)
    assert note.card.letter == ""
    assert "second_card" in {w.code for w in note.warnings}


def test_rows_and_columns_without_a_card_are_refused_with_the_letters(photo, readings):
    with pytest.raises(SeveralCardsError) as refused:
        read_cards(photo[0], pointed=ManualHints(grid=(3, 3)))
    assert all(f"{reading.note.card.letter}: " in refused.value.why for reading in readings)


def test_corners_choose_one_card_under_its_letter(photo, readings):
    wanted = readings[-1].note
    corners = clockwise(np.array(wanted.card.corners), "card")
    (chosen,) = read_cards(photo[0], pointed=ManualHints(card=corners))
    assert chosen.note.card.letter == wanted.card.letter
    assert {s.id for s in chosen.note.swatches} == {s.id for s in wanted.swatches}


def test_what_is_pointed_at_concerns_the_card_that_is_meant(photo, readings):
    wanted = readings[-1].note
    removed = np.mean(wanted.swatches[0].outline, axis=0)[None]
    hints = ManualHints(removed=removed, meant=np.array(wanted.card.corners))
    (corrected,) = read_cards(photo[0], pointed=hints)
    assert corrected.note.card.letter == wanted.card.letter
    assert len(corrected.note.swatches) == len(wanted.swatches) - 1


def test_a_single_card_keeps_its_plain_name(reading):
    read, _ = reading(replace(several.sampling.easy_spec(51101, (1200, 900)), tubes=0))
    assert (read.note.card.letter, read.note.card.cards) == ("", 1)
    assert read.note.identity == read.note.photo.sha256
    assert "card_turned" not in {w.code for w in read.note.warnings}


def test_each_note_is_identified_by_the_photo_and_its_letter(readings):
    identities = {reading.note.identity for reading in readings}
    assert len(identities) == len(readings)
    assert readings[0].note.photo.sha256 not in identities


# --- the command line


def test_the_files_of_each_card_carry_its_letter(photo, readings, tmp_path):
    done = invoke("read", photo[0], "--into", tmp_path, "--json")
    printed = json.loads(done.stdout)
    letters = [reading.note.card.letter for reading in readings]
    assert [note["card"]["letter"] for note in printed] == letters
    for letter, reading in zip(letters, readings, strict=True):
        note = load_note(tmp_path / f"box.{letter}.note.json")
        assert len(note.swatches) == len(reading.note.swatches)
        assert (tmp_path / f"box.{letter}.marked.jpg").is_file()
        assert all(s.writing is None or s.writing.startswith(f"box.{letter}.writing/r") for s in note.swatches)
    assert not (tmp_path / "box.note.json").exists()


def test_a_batch_keeps_every_card_once_and_knows_it_again(photo, readings, tmp_path):
    address = tmp_path / "archive.sqlite"
    words = [
        "read",
        photo[0],
        tmp_path / "missing.jpg",
        "--into",
        tmp_path,
        "--archive",
        address,
        "--jobs",
        1,
        "--json",
    ]
    first, again = (json.loads(invoke(*words).stdout) for _ in range(2))
    cards = [line["card"] for line in first if line["state"] == "read"]
    assert cards == list(range(1, len(readings) + 1))
    assert [line["card"] for line in again if line["state"] == "read before"] == cards
    with Archive.open(str(address)) as archive:
        sha256 = readings[0].note.photo.sha256
        assert list(whole_photo(archive, sha256, __version__)) == cards
        archive.remove(cards[0])
        assert whole_photo(archive, sha256, __version__) == ()


def test_a_photo_whose_cards_are_not_all_noted_is_read_anew(photo, readings, tmp_path):
    for reading in readings:
        reading.note.save(tmp_path / f"box.{reading.note.card.letter}.note.json")
    (job,) = find_jobs([photo[0]], tmp_path)
    sha256, chart = readings[0].note.photo.sha256, readings[0].note.chart.name
    assert len(notes_of(job, sha256, chart)) == len(readings)
    (tmp_path / f"box.{readings[-1].note.card.letter}.note.json").unlink()
    assert notes_of(job, sha256, chart) == {}


def test_a_photo_that_is_called_like_another_photos_card_gets_a_name_of_its_own(tmp_path):
    for name in ("box.jpg", "box.b.jpg"):
        (tmp_path / name).touch()
    stems = {job.photo.name: job.stem for job in find_jobs([tmp_path])}
    assert stems["box.b.jpg"] != "box.b"


def test_the_marked_photo_shows_the_other_cards_too(photo, readings):
    from swatchread.report.marked_photo import mark

    image = cv2.imread(str(photo[0]))[..., ::-1].copy()
    first, others = readings[0].note, readings[0].others
    changed = (mark(image, first, others=others) != mark(image, first)).any(axis=2)
    assert len(others) == len(readings) - 1
    for other in others:
        x, y = np.rint(other.corners).astype(int).T
        near = changed[max(0, y.min() - 9) : y.max() + 9, max(0, x.min() - 9) : x.max() + 9]
        assert near.any()
