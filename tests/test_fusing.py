"""Several photos of one card fused: on invented readings of known truth, so that every case is quick and exact."""

import json

import jsonschema
import numpy as np
import pytest

from swatchread.archive.store import Archive
from swatchread.comparison.fusion import fuse
from swatchread.comparison.fusion_alignment import align_readings
from swatchread.errors import DifferentCardsError, UsageError
from swatchread.note.flags_and_warnings import WARNINGS
from swatchread.note.model import Note, note_schema, parse_note
from tests.comparing_data import beside_another_print, painted, photographed
from tests.notes import changed, sample_note


def shots(card, count=5, first=100, **factors):
    return [photographed(card, first + k, **factors) for k in range(count)]


def truth_of(card, note, columns=3):
    """Return the true colours in the order of the note's swatches; of a card that lies upright."""
    return np.array([card.lab[columns * (s.row - 1) + s.column - 1] for s in note.swatches])


def off(card, note):
    return np.array([s.lab for s in note.swatches]) - truth_of(card, note)


def codes(note):
    return [warning.code for warning in note.warnings]


def surest(note):
    """Return a note whose swatches are surer than those of any other."""
    swatches = [{**s, "uncertainty": {**s["uncertainty"], "de00": 0.5}} for s in note.model_dump()["swatches"]]
    return Note.model_validate({**note.model_dump(), "swatches": swatches})


@pytest.fixture(scope="module")
def card():
    return painted(3)


def test_the_mean_is_nearer_to_the_truth_than_one_photo():
    """Independent errors of five readings shrink to 1/sqrt(5) = 0.45; weights and the shared slope take a little."""
    single, fused = [], []
    for seed in range(4):
        card = painted(seed)
        photos = shots(card, first=1000 * seed)
        single += [off(card, note) for note in photos]
        fused.append(off(card, fuse(photos)))
    ratio = np.sqrt(np.mean(np.square(fused)) / np.mean(np.square(single)))
    assert 0.40 < ratio < 0.55


def test_photos_in_which_the_card_lies_turned_are_fused_as_well(card):
    photos = [photographed(card, 100 + k, turn=turn) for k, turn in enumerate((0, 3, 180, -4, 2))]
    note = fuse(photos)
    assert codes(note) == []
    assert note.photo.file != "shot-102.jpg"  # which is the surest is the same for all; the first of them then
    assert np.abs(off(card, note)).max() < 1.5


def test_the_note_names_its_photos_and_holds_by_its_schema(card):
    note = fuse(shots(card, 3))
    assert [photo.file for photo in note.photos] == ["shot-100.jpg", "shot-101.jpg", "shot-102.jpg"]
    assert all(photo.swatches == 15 and not photo.left_out for photo in note.photos)
    jsonschema.validate(json.loads(note.to_json()), note_schema())
    assert parse_note(note.to_json()) == note


def test_an_older_note_without_photos_loads_and_keeps_its_identity():
    data = sample_note().model_dump(mode="json")
    del data["photos"]
    note = Note.model_validate(data)
    assert note.photos == ()
    assert note.identity == note.photo.sha256


def test_a_fused_note_is_another_reading_than_its_best_photo(card):
    photos = shots(card, 3)
    note = fuse(photos)
    assert note.identity not in {photo.photo.sha256 for photo in photos}
    assert note.identity == fuse(photos[::-1]).identity


def test_an_archive_keeps_it_beside_its_photos_and_only_once(card, tmp_path):
    photos = shots(card, 3)
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        outcomes = [archive.add(note).outcome for note in (photos[0], fuse(photos), fuse(photos))]
        assert outcomes == ["new card", "new card", "unchanged"]
        assert archive.check() == ()


# --- what disagrees


def test_a_photo_that_disagrees_is_left_out_and_named(card):
    photos = [photographed(card, 100 + k, shift=(0, 8, 0) if k == 2 else 0) for k in range(5)]
    note = fuse(photos)
    assert codes(note) == ["photo_left_out"]
    assert "shot-102.jpg" in note.warnings[0].message
    assert [bool(photo.left_out) for photo in note.photos] == [False] * 4 + [True]
    assert np.abs(off(card, note)).max() < 1.5


def test_the_best_photo_itself_may_be_the_one_that_disagrees(card):
    photos = [photographed(card, 100 + k, shift=(6, 0, 6) if k == 0 else 0) for k in range(4)]
    photos[0] = surest(photos[0])
    assert align_readings(photos).base == 0
    note = fuse(photos)
    assert codes(note) == ["photo_left_out"]
    assert note.photo.file != "shot-100.jpg"
    assert np.abs(off(card, note)).max() < 1.8


def test_one_bad_reading_is_left_out_and_named(card):
    photos = shots(card)
    mine = photos[3].swatch("r2c2").lab
    photos[3] = changed(photos[3], "r2c2", lab=(mine[0] + 9.0, mine[1], mine[2]))
    note = fuse(photos)
    assert codes(note) == ["reading_left_out"]
    assert "r2c2 in shot-103.jpg" in note.warnings[0].message
    assert note.photos[3].swatches == 14
    assert np.abs(off(card, note)).max() < 1.5


def test_two_that_disagree_are_kept_with_a_wider_uncertainty(card):
    photos = shots(card, 2)
    mine = photos[1].swatch("r2c2").lab
    torn = fuse([photos[0], changed(photos[1], "r2c2", lab=(mine[0] + 9.0, mine[1], mine[2]))])
    assert codes(torn) == ["photos_disagree"]
    assert "r2c2" in torn.warnings[0].message
    # The truth may be either reading, each 4.5 L* from their mean.
    assert torn.swatch("r2c2").uncertainty.L > 2.0
    assert torn.swatch("r2c2").uncertainty.L > 3.0 * fuse(photos).swatch("r2c2").uncertainty.L


def test_a_photo_beside_a_larger_or_smaller_print_of_the_chart_is_fused_as_well(card):
    photos = shots(card, 3)
    photos += [beside_another_print(photographed(card, 200 + k), size) for k, size in enumerate((0.6, 1.6))]
    note = fuse(photos)
    assert codes(note) == []
    assert all(photo.swatches == 15 for photo in note.photos)
    assert np.abs(off(card, note)).max() < 1.5


def test_a_photo_of_another_card_is_left_out_whatever_the_size_of_its_chart(card):
    stranger = beside_another_print(photographed(painted(57), 300), 0.6)
    note = fuse([*shots(card, 3), stranger])
    assert codes(note) == ["photo_left_out"]
    assert "shot-300.jpg" in note.warnings[0].message
    assert [photo.swatches for photo in note.photos] == [15, 15, 15, 0]


# --- what single photos miss


def test_swatches_that_the_best_photo_misses_come_from_the_others(card):
    photos = [photographed(card, 100 + k, missed=(k,)) for k in range(5)]
    note = fuse(photos)
    assert len(note.swatches) == 15
    assert sorted(photo.swatches for photo in note.photos) == [14] * 5
    assert np.abs(off(card, note)).max() < 1.5


def test_a_swatch_from_another_photo_is_outlined_where_it_lies(card):
    whole = photographed(card, 100)
    photos = [photographed(card, 100, missed=(7,)), photographed(card, 101, turn=5.0), photographed(card, 102)]
    photos[0] = surest(photos[0].model_copy(update={"photo": whole.photo}))
    note = fuse(photos)
    assert note.photo == whole.photo
    mine, wanted = (np.mean(n.swatch("r3c2").outline, axis=0) for n in (note, whole))
    assert np.hypot(*(mine - wanted)) < 15.0  # a swatch is some 80 pixels wide


def test_a_swatch_in_one_photo_only_keeps_its_uncertainty_and_is_named(card):
    photos = [photographed(card, 100 + k, missed=(14,) if k else ()) for k in range(3)]
    note = fuse(photos)
    assert codes(note) == ["seen_once"]
    assert "r5c3 in shot-100.jpg" in note.warnings[0].message
    assert note.swatch("r5c3").uncertainty.de00 >= photos[0].swatch("r5c3").uncertainty.de00 - 0.01
    assert note.swatch("r5c2").uncertainty.de00 < photos[0].swatch("r5c2").uncertainty.de00


def test_marks_that_one_photo_of_many_takes_for_swatches_are_left_out(card):
    photos = [photographed(card, 100 + k, extra=4 if k == 1 else 0) for k in range(5)]
    note = fuse(photos)
    assert len(note.swatches) == 15
    assert "marks_left_out" in codes(note)


# --- the uncertainty


def test_the_uncertainty_shrinks_but_not_below_what_photos_share():
    """Over six cards, their photos off by about as much as photos in other light are, over what they state."""

    def stated(count):
        photos = [
            [photographed(painted(seed), 100 + 50 * seed + k, noise=1.2) for k in range(count)] for seed in range(6)
        ]
        notes = [fuse(some) if count > 1 else some[0] for some in photos]
        return np.mean([s.uncertainty.de00 for note in notes for s in note.swatches])

    one, few, many = stated(1), stated(2), stated(8)
    assert many < 0.9 * few < 0.9 * one
    assert many > 0.36 * one  # eight independent readings would come to 0.35


def test_photos_that_agree_too_well_say_less_than_photos_that_differ(card):
    """A burst in one light repeats one error; its copies must not be taken for independent readings."""
    photos = shots(card, 5)
    burst = [
        p.model_copy(update={"swatches": photos[0].swatches, "chart": photos[0].chart, "card": photos[0].card})
        for p in photos
    ]
    alike, apart = (np.mean([s.uncertainty.L for s in fuse(p).swatches]) for p in (burst, shots(card, 5, noise=0.9)))
    assert alike > apart


def standardised(light, own):
    """Root mean square of errors of L*, a*, b* over their stated uncertainty, and the median of the latter over one's.

    Six cards of five photos; the photos share an error as of one light (drawn once a card, as `photographed` draws
    one a photo, in offset and slope) and have errors of their own, both in the size given.
    """
    ratios, stated = [], []
    for seed in range(6):
        card, rng = painted(seed), np.random.default_rng([seed, 5])
        slope = (card.lab[:, :1] - 50) / 50 * rng.normal(0, [0.15, 0.25, 0.3])
        shared = light * (rng.normal(0, [0.25, 0.4, 0.45]) + slope)
        photos = [photographed(card, 1000 * seed + k, shift=shared, noise=own) for k in range(5)]
        note = fuse(photos)
        sigma = np.array([(s.uncertainty.L, s.uncertainty.a, s.uncertainty.b) for s in note.swatches])
        ratios.append(off(card, note) / sigma)
        stated.append(np.mean([s.uncertainty.de00 for s in note.swatches]) / photos[0].swatches[0].uncertainty.de00)
    return np.sqrt(np.mean(np.square(ratios))), float(np.median(stated))


def test_what_photos_in_one_light_share_stays_in_the_uncertainty():
    """Errors half as large as stated, all of one light: five photos say little more than one, and must not claim more.

    Photos whose errors are their own may claim it: there the same readings come nearer the truth.
    """
    alike, wide = standardised(light=1.0, own=0.3)
    apart, narrow = standardised(light=0.0, own=1.6)
    assert 0.3 < alike < 0.8
    assert wide > 0.9
    assert narrow < 0.85 * wide
    assert apart < 0.7


def test_a_shared_error_as_large_as_stated_is_still_covered(monkeypatch):
    """The known-bad pair of it: photos in one light, taken to differ as photos in other light do."""
    true, _ = standardised(light=1.4, own=0.4)
    monkeypatch.setattr("swatchread.comparison.fusion_weights._pooled", lambda *_: np.ones(3))
    taken_for_others, _ = standardised(light=1.4, own=0.4)
    assert 0.75 < true < 1.1
    assert taken_for_others > 1.3


# --- what is refused


def test_photos_of_two_cards_are_refused_with_the_reason(card):
    with pytest.raises(DifferentCardsError, match=r"shot-100\.jpg and shot-101\.jpg") as caught:
        fuse([photographed(card, 100), photographed(painted(5), 101)])
    assert "CIELAB units" in caught.value.why


def test_one_of_another_card_among_many_is_left_out_with_the_reason(card):
    note = fuse([photographed(card, 100), photographed(painted(5), 101), photographed(card, 102)])
    assert codes(note) == ["photo_left_out"]
    assert "shot-101.jpg (the places and colours of the swatches differ" in note.warnings[0].message


def test_no_majority_is_refused(card):
    other = painted(5)
    with pytest.raises(DifferentCardsError):
        fuse([photographed(card, 1), photographed(card, 2), photographed(other, 3), photographed(other, 4)])


def test_one_photo_and_the_same_photo_twice_are_refused(card):
    with pytest.raises(UsageError, match="One photo"):
        fuse([photographed(card, 100)])
    with pytest.raises(UsageError, match="with itself"):
        fuse([photographed(card, 100), photographed(card, 100), photographed(card, 101)])


# --- what the photos themselves warn of


def test_warnings_of_photos_are_kept_with_their_names(card):
    photos = shots(card, 3)
    message, remedy = WARNINGS["untagged"]
    warning = {"code": "untagged", "message": message, "remedy": remedy}
    photos[1] = Note.model_validate({**photos[1].model_dump(), "warnings": [warning]})
    note = fuse(photos, [("gone.jpg", "it is empty")])
    assert codes(note) == ["photo_left_out", "untagged"]
    assert "gone.jpg (it is empty)" in note.warnings[0].message
    assert note.warnings[1].message.startswith("shot-101.jpg: ")
