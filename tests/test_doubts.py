"""The pass over what is doubtful: its order, how long it takes, and what is decided in the terminal."""

import csv
import itertools
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from swatchread.archive.picture_archive import PictureArchive
from swatchread.archive.store import Archive
from swatchread.batch.batch_report import COLUMNS, REPORT_NAME
from swatchread.cli import doubts_command
from swatchread.errors import UsageError
from swatchread.note.doubts import FIRST_SECONDS, ORDER, Doubt, DoubtRound, doubts_of, in_order, settle, words_to_ask
from swatchread.note.entered_words import take_words
from swatchread.note.flags_and_warnings import WARNINGS, Warn
from swatchread.note.model import load_note
from tests.archive_data import build_note, sample_card, swatch_data
from tests.program import invoke

PAINT = (55.0, 15.0, 20.0)


def warned(note, *codes):
    warnings = [Warn(code=c, message=WARNINGS[c][0].format(detail="x"), remedy=WARNINGS[c][1]) for c in codes]
    return note.model_copy(update={"warnings": tuple(warnings)})


def full_card(*codes, seed=0, recipes="2 white + 1 ochre"):
    swatches = [swatch_data(row, column, PAINT, recipe=recipes) for row in (1, 2) for column in (1, 2)]
    return warned(build_note(swatches, seed=seed), *codes)


def kinds(note):
    return [doubt.kind for doubt in doubts_of(note)]


# --- what is doubtful


def test_a_card_without_doubts_has_none():
    assert kinds(full_card()) == []


@pytest.mark.parametrize(
    ("note", "found"),
    [
        (full_card("card_cut"), ["grid"]),
        (full_card("card_turned"), ["grid"]),
        (full_card("blurred", "off_grid"), ["grid", "warnings"]),
        (full_card("blurred"), ["warnings"]),
        (full_card(recipes=""), ["recipes"]),
        (full_card("second_card", "dark", recipes=" "), ["grid", "recipes", "warnings"]),
    ],
)
def test_warnings_and_missing_recipes_are_sorted_by_what_they_ask(note, found):
    assert kinds(note) == found


def test_many_empty_places_put_the_grid_in_doubt_and_a_single_one_in_many_does_not():
    places = [(row, column) for row in range(1, 7) for column in range(1, 4)]
    swatches = [swatch_data(*place, PAINT, recipe="1 white") for place in places]
    assert kinds(build_note(swatches[:17])) == []
    assert kinds(build_note([*swatches[:12], swatches[16]])) == ["grid"]


def test_what_was_settled_is_not_asked_again_and_survives_a_new_reading_of_the_words():
    note = settle(full_card("card_cut", "dark", recipes=""), "grid")
    assert kinds(note) == ["recipes", "warnings"]
    assert kinds(settle(note, "recipes")) == ["warnings"]
    assert kinds(take_words(full_card("card_cut", "dark", recipes=""), note)) == ["recipes", "warnings"]


# --- the order, and the time

some_doubts = st.lists(
    st.builds(
        lambda kind, number, count: Doubt(kind, f"{number}:{kind}", f"card {number}", ("x.",), (), count),
        st.sampled_from(ORDER), st.integers(0, 9), st.integers(1, 20),
    ),
    unique_by=lambda doubt: doubt.key,
)  # fmt: skip


@given(some_doubts)
def test_unread_photos_come_before_grids_before_recipes_before_warnings(doubts):
    ordered = in_order(doubts)
    assert sorted(ordered, key=lambda one: one.key) == sorted(doubts, key=lambda one: one.key)
    ranks = [ORDER.index(doubt.kind) for doubt in ordered]
    assert ranks == sorted(ranks)
    for one, other in itertools.pairwise(ordered):
        assert one.kind != other.kind or one.decisions >= other.decisions
    assert in_order(reversed(doubts)) == ordered


@given(some_doubts, st.data())
def test_what_was_put_off_comes_last_in_the_order_in_which_it_was_put_off(doubts, data):
    off = data.draw(st.permutations(doubts))[: len(doubts) // 2]
    round_ = DoubtRound()
    for doubt in off:
        round_.put_off(doubt)
    ahead = round_.ahead(doubts)
    assert ahead[len(doubts) - len(off) :] == list(off)
    assert ahead[: len(doubts) - len(off)] == in_order(doubt for doubt in doubts if doubt not in off)


def test_the_time_left_follows_the_painters_own_pace():
    eighteen = [Doubt("recipes", f"{k}", "card", (), (), 18) for k in range(10)]
    round_ = DoubtRound()
    assert round_.time_left(eighteen) == f"about {round(180 * FIRST_SECONDS['recipes'] / 60)} minutes"
    for doubt in eighteen[:7]:
        round_.took(doubt, 18 * 2.0)
    # The mean of the first estimate, three times, and seven cards of 2 s a swatch.
    assert (
        round_.time_left(eighteen[7:])
        == f"about {round(54 * (3 * FIRST_SECONDS['recipes'] + 7 * 2) / 10 / 60)} minutes"
    )
    assert round_.time_left([]) == "less than a minute"


def test_a_pause_at_the_telephone_does_not_count_as_work():
    round_ = DoubtRound()
    one = Doubt("grid", "1", "card", ())
    round_.took(one, 3 * 3600.0)
    assert round_.time_left([one]) == "less than a minute"


# --- an archive


def test_an_archive_tells_the_doubts_of_each_card_and_looks_again_when_a_note_changes(tmp_path):
    with PictureArchive.open(str(tmp_path / "archive.sqlite")) as archive:
        numbers = [archive.add(note).card for note in (full_card(seed=1), full_card("card_cut", seed=2, recipes=""))]
        doubts = archive.open_doubts()
        assert {card: [one.kind for one in found] for card, found in doubts.by_card().items()} == {
            numbers[1]: ["grid", "recipes"]
        }
        archive.change(numbers[1], lambda note: settle(note, "recipes"))
        assert [one.kind for one in doubts.by_card()[numbers[1]]] == ["grid"]
        archive.remove(numbers[1])
        assert doubts.by_card() == {}


# --- the terminal


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Lay out a folder that was read: two cards, one of them cut off and blurred, and a photo without a chart."""
    monkeypatch.setenv("SWATCHREAD_ARCHIVE", str(tmp_path / "archive.sqlite"))
    place = tmp_path / "cards"
    place.mkdir()
    sample_card(0, rows=1, columns=2).save(place / "a.note.json")
    full_card("card_cut", "blurred", seed=1).save(place / "b.note.json")
    (place / "b.marked.jpg").write_bytes(b"x")
    (place / "a.earlier-1.note.json").write_bytes((place / "a.note.json").read_bytes())
    rows = [{"photo": "c.jpg", "state": "failed", "what": "No chart was found", "remedy": "Show the whole chart"}]
    with (place / REPORT_NAME).open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(COLUMNS))
        writer.writeheader()
        writer.writerows(rows)
    return place


def without_recipe(folder, name="a"):
    note = load_note(folder / f"{name}.note.json")
    emptied = [swatch.model_copy(update={"recipe": ""}) for swatch in note.swatches]
    note.model_copy(update={"swatches": tuple(emptied)}).save(folder / f"{name}.note.json")


def test_where_nobody_can_answer_the_list_is_printed_and_the_status_tells_unread_photos(folder):
    without_recipe(folder)
    told = invoke("doubts", folder)
    assert told.exit_code == 1
    for words in ("c.jpg No chart was found. Show the whole chart.", "4 in doubt", "b.note.json"):
        assert words in " ".join(told.stdout.split())
    listed = json.loads(invoke("doubts", folder, "--json").stdout)
    assert [one["kind"] for one in listed["doubts"]] == ["unread", "grid", "recipes", "warnings"]
    assert listed["doubts"][1]["marked"].endswith("b.marked.jpg")
    assert "minute" in listed["time"]


def test_answers_in_the_terminal_are_kept_and_not_asked_again(folder, monkeypatch):
    without_recipe(folder)
    monkeypatch.setattr(doubts_command, "can_answer", lambda: True)
    told = invoke("doubts", folder, input="\n\n2 white + 1 ochre\n-\n\n")
    assert told.exit_code == 1
    assert f"marked photo: {folder / 'b.marked.jpg'}\n" in told.stdout
    first, second = load_note(folder / "a.note.json").swatches
    assert (first.recipe, second.recipe) == ("2 white + 1 ochre", "")
    assert load_note(folder / "b.note.json").settled == ("grid", "warnings")
    left = json.loads(invoke("doubts", folder, "--json").stdout)["doubts"]
    assert [(one["kind"], one["swatches"]) for one in left] == [("unread", []), ("recipes", ["r1c2"])]


def test_what_is_put_off_in_the_terminal_stays(folder, monkeypatch):
    before = (folder / "b.note.json").read_bytes()
    monkeypatch.setattr(doubts_command, "can_answer", lambda: True)
    assert "--grid" in invoke("doubts", folder, input="\nn\nl\n").stdout
    assert (folder / "b.note.json").read_bytes() == before


def test_the_archive_s_doubts_are_told_without_a_folder(tmp_path, monkeypatch):
    address = tmp_path / "archive.sqlite"
    with Archive.open(str(address)) as archive:
        archive.add(full_card("card_cut", recipes="3 white + 1 red"))
    listed = json.loads(invoke("doubts", "--archive", address, "--json").stdout)["doubts"]
    assert [(one["kind"], one["where"]) for one in listed] == [
        ("grid", "card 1"),
        ("recipes", "swatchread tubes --ask"),
    ]
    assert words_to_ask(2).decisions == 2
    monkeypatch.setattr(doubts_command, "can_answer", lambda: True)
    assert invoke("doubts", "--archive", address, input="\n\n").exit_code == 0
    with Archive.open(str(address)) as archive:
        assert archive.card(1).note.settled == ("grid",)
        archive.tubes.say([])
    assert invoke("doubts", "--archive", tmp_path / "none.sqlite").stdout == "Nothing is in doubt.\n"


def test_a_folder_in_which_nothing_was_read_is_told_so(tmp_path):
    with pytest.raises(UsageError, match="was read yet"):
        invoke("doubts", tmp_path)
    with pytest.raises(UsageError, match="is not a folder"):
        invoke("doubts", tmp_path / "none")
