"""Recipes: the painter's words to parts and back; what is open stays open."""

from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from swatchread.recipes.amounts import Amount
from swatchread.recipes.recipe import Ingredient, Recipe, format_recipe, parse_recipe
from swatchread.recipes.tubes import load_tubes

TUBES = load_tubes()
TOUCH, UNSAID = Amount.TOUCH, Amount.UNSAID
HALF = Fraction(1, 2)
TW, YO, CR, VI = "titanium white", "yellow ochre", "cadmium red", "viridian"


def read(text):
    return parse_recipe(text, TUBES)


def parts(text):
    return [(i.name, i.parts) for i in read(text).ingredients]


CLEAR = [
    ("3 titanium white + 1 yellow ochre + touch cad red", [(TW, 3), (YO, 1), (CR, TOUCH)]),
    ("2:1 titanium white yellow ochre", [(TW, 2), (YO, 1)]),
    ("tw:yo 2:1", [(TW, 2), (YO, 1)]),
    ("tw/yo 2:1", [(TW, 2), (YO, 1)]),
    ("tw and yo 2:1", [(TW, 2), (YO, 1)]),
    ("2:1 tw and yo", [(TW, 2), (YO, 1)]),
    ("tw, yo 3:1, touch viridian", [(TW, 3), (YO, 1), (VI, TOUCH)]),
    ("2:1 red ochre, viridian", [("red ochre", 2), (VI, 1)]),
    ("4:2:1 tw, yo, viridian", [(TW, 4), (YO, 2), (VI, 1)]),
    ("½ tw, 1½ viridian", [(TW, HALF), (VI, 3 * HALF)]),
    ("1/2 tw + 1 1/2 viridian", [(TW, HALF), (VI, 3 * HALF)]),
    ("0.25 tw + .5 yo", [(TW, HALF / 2), (YO, HALF)]),
    ("60% tw, 40 percent yo", [(TW, 60), (YO, 40)]),
    ("5 ml tw + 2ml yo", [(TW, 5), (YO, 2)]),
    ("10g tw, 2.5 grams yo", [(TW, 10), (YO, Fraction(5, 2))]),
    ("2 g. tw + 1 gr yo", [(TW, 2), (YO, 1)]),
    ("tw 3 cm, yo 1/2 cm", [(TW, 3), (YO, Fraction(1, 2))]),
    ("three parts tw to one part yo", [(TW, 3), (YO, 1)]),
    ("half yo + a quarter tw", [(YO, HALF), (TW, HALF / 2)]),
    ("titanium white 3, yo x1, tiny touch of cad red", [(TW, 3), (YO, 1), (CR, TOUCH)]),
    ("3 titanium white 1 yo a touch viridian", [(TW, 3), (YO, 1), (VI, TOUCH)]),
    ("3tw 1yo", [(TW, 3), (YO, 1)]),
    ("equal parts yo and viridian", [(YO, 1), (VI, 1)]),
    ("2 PW6 + 1 PG18", [(TW, 2), (VI, 1)]),
    ("18 drops tw, 3 drops yo", [(TW, 18), (YO, 3)]),
    ("5 drops tw + a drop of yo", [(TW, 5), (YO, 1)]),
    ("3 tw + a drop of yo", [(TW, 3), (YO, TOUCH)]),
    ("viridian", [(VI, 1)]),
    ("pure viridian", [(VI, 1)]),
    ("viridian straight from the tube", [(VI, 1)]),
    ("half-light: 2 tw + 1 yo", [(TW, 2), (YO, 1)]),
    ("(2 tw + 1 yo)", [(TW, 2), (YO, 1)]),
    ("B) 2 tw + 1 yo", [(TW, 2), (YO, 1)]),
    ("viridian with a dot of cad red", [(VI, 1), (CR, TOUCH)]),
    ("a part of tw\n2 pts yo", [(TW, 1), (YO, 2)]),
    ("", []),
    (" + , ", []),
]


@pytest.mark.parametrize(("text", "expected"), CLEAR)
def test_clear_recipes_are_read_without_a_doubt(text, expected):
    assert parts(text) == expected
    assert read(text).doubts == ()


DOUBTFUL = [
    ("2:1 white ochre", [("white", 2), ("ochre", 1)], {"ambiguous_tube"}),
    ("white:ochre 2:1", [("white", 2), ("ochre", 1)], {"ambiguous_tube"}),
    ("tw + yo", [(TW, UNSAID), (YO, UNSAID)], {"amount_unsaid"}),
    ("2-3 tw + 1 yo", [(TW, UNSAID), (YO, 1)], {"amount_unsaid"}),
    ("1/0 tw + 1 yo", [(TW, UNSAID), (YO, 1)], {"amount_unsaid"}),
    ("some tw + 1 yo", [(TW, UNSAID), (YO, 1)], {"amount_unsaid"}),
    ("about 3 tw + 1 yo", [(TW, 3), (YO, 1)], {"amount"}),
    ("1,5 tw + 1 yo", [(TW, 3 * HALF), (YO, 1)], {"amount"}),
    ("0 tw + 1 yo", [(TW, 0), (YO, 1)], {"amount"}),
    ("2 touches of cad red + tw", [(CR, TOUCH), (TW, 1)], {"amount"}),
    ("3 grandmother's mud + 1 yo", [("grandmother's mud", 3), (YO, 1)], {"unknown_tube"}),
    ("2 tw + 1 viridan", [(TW, 2), ("viridan", 1)], {"unknown_tube"}),
    ("60% tw + 30% yo", [(TW, 60), (YO, 30)], {"percentages"}),
    ("60% tw + 1 yo", [(TW, UNSAID), (YO, 1)], {"percentages"}),
    ("5 ml tw + 1 g yo", [(TW, UNSAID), (YO, UNSAID)], {"measures"}),
    ("2 drops tw + 3 yo", [(TW, UNSAID), (YO, UNSAID)], {"measures"}),
    ("yo?", [(YO, UNSAID)], {"amount_unsaid"}),
    ("3 tw + 1 yo ??", [(TW, 3), (YO, UNSAID)], {"amount_unsaid"}),
    ("3 tw + 1 yo (?)", [(TW, 3), (YO, UNSAID)], {"amount_unsaid"}),
    ("3 tw + 1 yo?", [(TW, 3), (YO, UNSAID)], {"amount_unsaid"}),
    ("3 tw + 1 (2 yo + 1 viridian)", [], {"nested"}),
    ("+1 tw", [], {"refers"}),
    ("touch of mud: 2 tw", [("mud", TOUCH), (TW, 2)], {"unknown_tube"}),
    ("yo: 2 tw", [("yo: 2 tw", UNSAID)], {"unknown_tube", "amount_unsaid"}),
    ("5 ml tw + 1 yo", [(TW, UNSAID), (YO, UNSAID)], {"measures"}),
    ("3:1 tw", [(TW, UNSAID)], {"ratio"}),
    ("2:1 red ochre", [("red ochre", UNSAID)], {"ratio"}),
    ("1 tw + 2 tw", [(TW, 1), (TW, 2)], {"twice"}),
    ("2 arylide + 1 tw", [("arylide", 2), (TW, 1)], {"ambiguous_tube"}),
]


@pytest.mark.parametrize(("text", "expected", "codes"), DOUBTFUL)
def test_what_is_open_is_shown(text, expected, codes):
    assert parts(text) == expected
    assert {doubt.code for doubt in read(text).doubts} == codes


def test_an_ambiguous_word_names_what_it_could_be():
    recipe = read("1 umber + 2 tw")
    assert recipe.ingredients[0].possible == ("raw umber", "burnt umber")
    assert recipe.ingredients[0].tube is None
    assert "raw umber, burnt umber" in recipe.doubts[0].message


def test_a_misspelling_is_not_put_right_but_a_hint_is_given():
    recipe = read("viridan")
    assert recipe.tubes == ()
    assert "viridian" in recipe.doubts[0].message


def test_the_words_as_written_are_kept():
    recipe = read("  3 Tit. White,  touch of CAD red ")
    assert recipe.written == "  3 Tit. White,  touch of CAD red "
    assert [i.written for i in recipe.ingredients] == ["3 Tit. White", "touch of CAD red"]


def test_a_novel_is_not_read_as_a_recipe():
    recipe = read("tw " * 1000)
    assert recipe.ingredients == ()
    assert recipe.doubts[0].code == "too_long"


amounts = st.one_of(st.fractions(min_value=0, max_value=9999, max_denominator=64), st.sampled_from([TOUCH, UNSAID]))


@given(st.lists(st.tuples(st.sampled_from([t.name for t in TUBES.tubes]), amounts), min_size=1, max_size=6))
def test_writing_and_reading_a_recipe_gives_it_back(pairs):
    recipe = Recipe(tuple(Ingredient(name, name, parts) for name, parts in pairs))
    assert read(format_recipe(recipe)) == recipe


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("5.7 tw + 1.2 yo", "5.7 titanium white + 1.2 yellow ochre"),
        ("6.3 tw + 0.5 yo + 1/3 viridian", "6.3 titanium white + 0.5 yellow ochre + 1/3 viridian"),
        ("0.25 tw + 2,5 yo", "0.25 titanium white + 2.5 yellow ochre"),
        ("3.5 tw + 1/2 yo", "3.5 titanium white + 0.5 yellow ochre"),
        ("1/4 tw + 2½ yo", "1/4 titanium white + 2 1/2 yellow ochre"),
        ("1/3 tw + 5/3 yo", "1/3 titanium white + 1 2/3 yellow ochre"),
        ("1/7 tw + 1.001 yo", "1/7 titanium white + 1.001 yellow ochre"),
        ("12 tw + 0.05 yo", "12 titanium white + 0.05 yellow ochre"),
    ],
)
def test_amounts_are_told_as_a_painter_says_them(written, told):
    assert format_recipe(read(written)) == told


SCRAPS = (
    "3 1/2 ½ 2:1 1:1:1 60% a touch dot of part parts half x × white ochre cad red tw yo viridian mud ? some "
    "about + , ; : / and with to 2-3 1,5 0 ( ) . - PB29 PB15:3 equal one umber "
    "pure neat alone shadow: A) drop drops mud? !"
)
scraps = st.sampled_from(SCRAPS.split())


@settings(max_examples=400)
@example("3 parts 1/2 white")
@example("? 3 parts 1/2 white")
@example("of of 3 3")
@example("of ( of 1:1:1")
@example("white (ochre 2:1")
@example(", a : 3 3")
@example("pure pure mud alone")
@example("a pure : pure")
@example("3 3 ( of 3 A) 3")
@example("3 3 ( of 2 c) d")
@given(st.one_of(st.lists(scraps, max_size=12).map(" ".join), st.text(max_size=60)))
def test_any_words_survive_being_written_and_read_again(text):
    once = read(text)
    assert read(format_recipe(once)) == once
    assert all(isinstance(i.parts, Amount) or i.parts >= 0 for i in once.ingredients)
