"""A colour named in words: one reader, so that every command that asks for one understands the same things."""

from types import SimpleNamespace

import pytest

from swatchread import reading
from swatchread.archive.colour_reference import find_colour
from swatchread.archive.store import Archive
from swatchread.errors import NoteError, UsageError
from tests.archive_data import sample_card
from tests.program import invoke

NOTE = sample_card(1)
TAKEN = NOTE.swatch("r2c2")


def no_archive(number):
    raise AssertionError(f"card {number} was asked for")


@pytest.fixture
def note_file(tmp_path):
    path = tmp_path / "card.note.json"
    NOTE.save(path)
    return path


@pytest.fixture
def photo(tmp_path, monkeypatch):
    """Give a photo of the card in NOTE, and in `lone` how each reading of it was asked for."""
    path, asked = tmp_path / "card.jpg", []
    path.write_bytes(b"invented")

    def read(lone):
        asked.append(lone)
        return SimpleNamespace(note=NOTE.model_copy(update={"swatches": NOTE.swatches[:1]}) if lone else NOTE)

    monkeypatch.setattr(reading, "read_card", lambda _: read(False))
    monkeypatch.setattr(reading, "read_lone_swatch", lambda _: read(True))
    return SimpleNamespace(path=path, lone=asked)


@pytest.mark.parametrize("text", ["52,-3.5,-10", "52, -3.5,−10", " 52 ,-3.5, -10.0"])
def test_three_numbers_with_either_minus(text):
    named = find_colour(text, no_archive)
    assert named.lab.tolist() == [52.0, -3.5, -10.0]
    assert (named.uncertainty_de00, named.swatch) == (0.0, None)


@pytest.mark.parametrize("text", ["520,0,0", "50,0,201", "nan,0,0", "50,inf,0", "1,2", "nowhere.jpg", "a:b", "", "\0"])
def test_what_is_no_colour_is_refused_with_all_the_ways_to_name_one(text, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(UsageError) as refused:
        find_colour(text, no_archive)
    for way in ("60,15,20", "card.note.json:r2c3", "12:r2c3", "card.jpg:r2c3", "lone swatch"):
        assert way in refused.value.remedy


def test_a_notes_swatch_brings_what_is_known_of_it(note_file):
    named = find_colour(f"{note_file}:r2c2", no_archive)
    assert named.lab.tolist() == list(TAKEN.lab)
    assert named.recipe == TAKEN.recipe
    assert named.swatch == (NOTE.identity, "r2c2")
    assert (named.uncertainty_de00, named.own_de00) == (TAKEN.uncertainty.de00, TAKEN.uncertainty.own_de00)


def test_an_archived_cards_swatch_is_asked_of_the_archive():
    named = find_colour("12:r2c2", {12: NOTE}.__getitem__)
    assert named.lab.tolist() == list(TAKEN.lab)


def test_a_photos_swatch_is_read_as_one_of_a_card(photo):
    named = find_colour(f"{photo.path}:r2c2", no_archive)
    assert named.lab.tolist() == list(TAKEN.lab)
    assert photo.lone == [False]


def test_a_photo_without_a_swatch_is_read_as_one_of_a_lone_swatch(photo):
    """Reading so refuses the photo of a whole card: tests/test_batch.py."""
    assert find_colour(str(photo.path), no_archive).lab.tolist() == list(NOTE.swatches[0].lab)
    assert photo.lone == [True]


def test_a_note_of_several_swatches_is_not_guessed_at(note_file):
    with pytest.raises(UsageError, match="shows 12 swatches") as refused:
        find_colour(str(note_file), no_archive)
    assert refused.value.remedy == f"Name one: {note_file}:{NOTE.swatches[0].id}"


def test_a_note_of_one_swatch_names_it(tmp_path):
    path = tmp_path / "one.note.json"
    NOTE.model_copy(update={"swatches": (TAKEN,)}).save(path)
    assert find_colour(str(path), no_archive).lab.tolist() == list(TAKEN.lab)


def test_a_swatch_that_is_not_there_is_said_to_be_missing(note_file):
    with pytest.raises(NoteError, match="r9c9"):
        find_colour(f"{note_file}:r9c9", no_archive)


COMMANDS = (
    ("archive", "find", "--near"),
    ("mix", "match"),
    ("mix", "nudge", "60,1,2"),
)


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    address = str(tmp_path_factory.mktemp("nearby") / "archive.sqlite")
    with Archive.open(address) as archive:
        archive.add_all([(NOTE, None), (sample_card(2), None)])
    return address


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_command_takes_each_way(command, store, note_file, photo):
    for colour in ("52,-3.5,−10", f"{note_file}:r2c2", "1:r2c2", f"{photo.path}:r2c2", str(photo.path)):
        assert invoke(*command, colour, "--archive", store).exit_code == 0


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_command_refuses_alike(command, store, note_file):
    """The other texts that are no colour are refused where these are: see above."""
    with pytest.raises(UsageError, match="shows 12 swatches"):
        invoke(*command, note_file, "--archive", store)


@pytest.mark.parametrize("command", ["archive find", "mix match", "mix nudge"])
def test_every_help_names_each_way(command):
    told = " ".join(invoke(*command.split(), "--help").stdout.split())
    for way in ("60,15,20", "5YR 6/4", "card.note.json:r2c1", "12:r2c1", "card.jpg:r2c1", "the photo of a lone swatch"):
        assert way in told


@pytest.mark.parametrize("text", ["x" * 5000, "card\0.note.json"], ids=["too long", "zero byte"])
def test_what_no_file_can_be_called_is_refused_as_no_colour(text):
    with pytest.raises(UsageError):
        find_colour(text, no_archive)
