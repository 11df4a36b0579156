"""The painter's own words for tubes: said once, kept with the archive, printed everywhere, and asked about once."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import create_engine, inspect, text

from swatchread.archive.conditions import Query
from swatchread.archive.migrations.versions import words_for_tubes
from swatchread.archive.store import Archive
from swatchread.archive.tube_words import PAINTER_ENVIRONMENT
from swatchread.errors import UsageError
from swatchread.recipes.own_tubes import (
    MAX_TUBES,
    OwnTube,
    UsedWord,
    open_questions,
    painters_tubes,
    parse_own_tube,
    read_own_tubes,
)
from swatchread.recipes.recipe import format_recipe, parse_recipe, tube_words
from swatchread.recipes.tubes import load_tubes
from tests.archive_data import build_note, sample_card, swatch_data

LISTED = load_tubes()


def said(*lines):
    return [parse_own_tube(line, LISTED) for line in lines]


def card(seed, *recipes):
    swatches = [swatch_data(1, i + 1, (30 + 5 * i, 10, 15), recipe=recipe) for i, recipe in enumerate(recipes)]
    return build_note(swatches, seed=seed)


@pytest.fixture
def archive():
    with Archive.open(":memory:") as opened:
        yield opened


@pytest.mark.parametrize(
    ("line", "word", "tube", "pigments"),
    [
        ("white = titanium white PW6", "white", "titanium white", ("PW6",)),
        ("earth=my red earth", "earth", "my red earth", ()),
        ("  glow  =  PR108, PY35 ", "glow", "glow", ("PR108", "PY35")),
        ("umber = raw umber pbr7", "umber", "raw umber", ("PBr7",)),
        ("green = PG18", "green", "viridian", ("PG18",)),  # the Colour Index: PG18 is viridian
        ("blue = phthalo pb15:3", "blue", "phthalo", ("PB15:3",)),
    ],
)
def test_a_line_says_a_word_its_tube_and_its_pigments(line, word, tube, pigments):
    assert parse_own_tube(line, LISTED) == OwnTube(word, tube, pigments)


@pytest.mark.parametrize("line", ["", "white", "white =", "= white", "-- = ..", "a = " + "b" * 200])
def test_a_line_without_a_word_or_a_tube_is_refused(line):
    with pytest.raises(UsageError) as caught:
        parse_own_tube(line, LISTED)
    assert "titanium white" in caught.value.remedy


def test_every_output_prints_the_painters_word():
    known = painters_tubes(LISTED, said("white = titanium white PW6", "earth = my red earth"))
    recipe = parse_recipe("3 white + 1 earth + touch of viridian", known)
    assert recipe.doubts == ()
    assert format_recipe(recipe) == "3 white + 1 earth + touch of viridian"
    assert format_recipe(parse_recipe("3 titanium white + 1 red earth", known)) == "3 white + 1 earth"


def test_a_word_on_the_cards_is_not_renamed_by_the_list():
    known = painters_tubes(LISTED, (), [UsedWord("red earth", 3, 20), UsedWord("ultramarine", 1, 4)])
    assert format_recipe(parse_recipe("2 red earth + 1 ultramarine", known)) == "2 red earth + 1 ultramarine"
    assert known.kind_of("red earth") == "red ochre"


def test_of_two_words_for_one_tube_the_first_said_is_printed():
    known = painters_tubes(LISTED, said("white = titanium white", "tw = titanium white"))
    assert format_recipe(parse_recipe("2 tw + 1 yellow ochre", known)) == "2 white + 1 yellow ochre"


def test_pigments_carry_the_cautions_of_the_list():
    known = painters_tubes(LISTED, said("glow = my strongest red PR108", "mud = grandmother's mud"))
    assert "cadmium" in known.cautions(("glow",))[0]
    assert known.cautions(("mud",)) == ()


def test_a_word_taken_from_a_listed_tube_leaves_that_tube_its_other_names():
    known = painters_tubes(LISTED, said("ultramarine = my violet"))
    assert known.match("ultramarine").name == "ultramarine"
    assert known.kind_of("ultramarine") == "ultramarine"
    assert known.match("french ultramarine").name == "ultramarine blue"


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.sampled_from([t.name for t in LISTED.tubes]), st.integers(0, 9)), max_size=8))
def test_no_two_tubes_share_a_name_and_no_listed_tube_is_lost(chosen):
    own = [OwnTube(f"word {number}", tube) for tube, number in chosen]
    unique = {one.word: one for one in own}.values()
    known = painters_tubes(LISTED, list(unique))
    names = [tube.name for tube in known.tubes]
    assert len(names) == len(set(names))
    assert {tube.kind or tube.name for tube in known.tubes} >= {tube.name for tube in LISTED.tubes}
    for one in unique:
        assert known.kind_of(known.match(one.word).name) == one.tube


def test_a_part_of_a_name_is_asked_about_and_never_taken_for_it():
    """Common practice: red oxide is opaque, and no painter takes it for the transparent one."""
    recipe = parse_recipe("1 red oxide + 2 titanium white", LISTED)
    assert recipe.tubes == ("titanium white",)
    (asked,) = open_questions(LISTED, (), [UsedWord("red oxide", 2, 36)])
    assert asked.suggested == ("transparent red oxide",)
    assert "2 cards, 36 swatches" in asked.words


def test_a_doubt_names_the_tubes_that_stand_on_the_cards_first():
    used = [UsedWord("ochre", 2, 36), UsedWord("red ochre", 1, 5), UsedWord("ultramrine", 1, 1)]
    first, second = open_questions(LISTED, (), used)
    assert first.suggested == ("red ochre", "yellow ochre")
    assert second.suggested == ("ultramarine blue",)
    assert open_questions(LISTED, said("ochre = red ochre", "ultramrine = ultramarine"), used) == ()


@pytest.mark.parametrize(
    "written", ["ditto", "same as above", "same", "↑", "→", '" "', "Ditto + more white", "as r1c2", "same, but lighter"]
)
def test_a_recipe_that_points_at_another_is_not_taken_for_a_tube(written):
    recipe = parse_recipe(written, LISTED)
    assert recipe.ingredients == ()
    assert [doubt.code for doubt in recipe.doubts] == ["refers"]
    assert tube_words(written, LISTED) == ()


@pytest.mark.parametrize("written", ["same parts white, ochre", "→ 3 white + 1 ochre", "dottore blue"])
def test_a_recipe_that_only_begins_like_one_that_points_is_read(written):
    assert parse_recipe(written, LISTED).ingredients


def test_a_doubt_settled_once_holds_for_all_cards(archive):
    archive.add_all([(card(seed, "1 ochre + 1 white", "1 yellow ochre", "1 red ochre"), None) for seed in range(3)])
    ochre, _ = sorted(archive.tubes.questions(), key=lambda question: question.used.word)
    assert (ochre.used.cards, ochre.used.swatches) == (3, 3)
    assert len(archive.find(Query(with_tubes=("red ochre",), limit=None))) == 6  # it may be in three of them
    archive.tubes.say(said("ochre = yellow ochre"))
    assert [question.used.word for question in archive.tubes.questions()] == ["white"]
    assert len(archive.find(Query(with_tubes=("red ochre",), limit=None))) == 3
    assert len(archive.find(Query(with_tubes=("yellow ochre",), limit=None))) == 6
    assert len(archive.find(Query(with_tubes=("ochre",), limit=None))) == 6
    assert archive.tubes.forget("Ochre")
    assert not archive.tubes.forget("ochre")
    assert len(archive.find(Query(with_tubes=("red ochre",), limit=None))) == 6
    assert archive.check() == ()


def test_a_word_said_again_gets_its_new_meaning(archive):
    archive.tubes.say(said("white = titanium white PW6", "earth = red ochre"))
    archive.tubes.say(said("White = zinc white"))
    assert [str(one) for one in archive.tubes.said()] == ["earth = red ochre", "White = zinc white"]


def test_there_is_an_end_to_the_words(archive):
    with pytest.raises(UsageError, match="at most"):
        archive.tubes.say([OwnTube(f"word {number}", "titanium white") for number in range(MAX_TUBES + 1)])
    assert archive.tubes.said() == ()


def test_painters_who_share_an_archive_have_their_own_words(address, monkeypatch):
    with Archive.open(address) as archive:
        archive.add(card(1, "1 earth + 1 white"))
        monkeypatch.setenv(PAINTER_ENVIRONMENT, "K")
        archive.tubes.say(said("earth = red ochre"))
        monkeypatch.setenv(PAINTER_ENVIRONMENT, "M")
        assert archive.tubes.said() == ()
        archive.tubes.say(said("earth = green earth"))
        assert archive.find(Query(with_tubes=("red ochre",))) == ()
        monkeypatch.setenv(PAINTER_ENVIRONMENT, "K")
        assert len(archive.find(Query(with_tubes=("red ochre",)))) == 1


def test_a_table_of_tubes_is_taken():
    rows = read_own_tubes("Word;Tube;Pigments\nwhite;titanium white;PW6\n;;\nearth;my red earth;\n", LISTED)
    assert rows == (OwnTube("white", "titanium white", ("PW6",)), OwnTube("earth", "my red earth"))
    with pytest.raises(UsageError, match="columns"):
        read_own_tubes("name,paint\na,b\n", LISTED)


def test_the_command_says_shows_and_asks(address, typed, tmp_path):
    with Archive.open(address) as archive:
        archive.add(card(1, "3 white + 1 ochre", "1 cadmium red", "1 yellow ochre"))
    status, out, _ = typed("tubes", "white = titanium white PW6", "glow = cadmium red", "--archive", address)
    assert status == 0
    assert "titanium white" in out
    assert "cadmium compounds" in out
    assert 'say:  swatchread tubes "ochre = yellow ochre"' in out
    table = tmp_path / "mine.csv"
    table.write_text("word,tube\nochre,yellow ochre\n", encoding="utf-8")
    _, out, _ = typed("tubes", "--import", table, "--archive", address, "--json")
    facts = json.loads(out)
    assert facts["questions"] == []
    assert {one["word"]: one["tube"] for one in facts["words"]} == {
        "cadmium red": "glow",
        "ochre": "ochre",
        "white": "white",
        "yellow ochre": "ochre",
    }
    assert typed("tubes", "--forget", "ochre", "--archive", address)[0] == 0
    status, _, said_why = typed("tubes", "--forget", "ochre", "--archive", address)
    assert status == 2
    assert "Nothing was said" in said_why


def test_the_command_asks_in_the_terminal(address):
    from typer.testing import CliRunner

    from swatchread.cli.main import app

    with Archive.open(address) as archive:
        archive.add(card(1, "3 white + 1 ochre + 1 red oxide"))
    done = CliRunner().invoke(app, ["tubes", "--ask", "--archive", address], input="1\n0\n\n", catch_exceptions=False)
    assert done.exit_code == 0
    with Archive.open(address) as archive:
        assert len(archive.tubes.said()) == 2
        assert len(archive.tubes.questions()) == 1


def test_an_archive_from_before_keeps_its_recipes_searchable(tmp_path):
    """The swatch_tubes of the first release held the tubes that a word may mean; they are derived anew."""
    path = tmp_path / "archive.sqlite"
    with Archive.open(str(path)) as archive:
        archive.add(sample_card(1))
        before = {one.swatch for one in archive.find(Query(with_tubes=("viridian",), limit=None))}
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        connection.execute(text("DROP TABLE own_tubes"))
        connection.execute(text("DELETE FROM swatch_tubes"))
        connection.execute(
            text("UPDATE swatchread_revision SET version_num = :before"), {"before": words_for_tubes.down_revision}
        )
    with Archive.open(str(path)) as archive:
        assert {one.swatch for one in archive.find(Query(with_tubes=("viridian",), limit=None))} == before
        assert before
        assert archive.check() == ()
        archive.tubes.say(said("white = zinc white"))
    assert "own_tubes" in inspect(engine).get_table_names()
    engine.dispose()
