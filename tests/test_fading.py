"""Pigments that fade are told by the words of a recipe; the sources stand in `swatchread/recipes/fading.py`."""

import pytest

from swatchread.recipes.fading import fading_pigments
from swatchread.report.cautions import cautions_of


@pytest.mark.parametrize(
    ("recipe", "named"),
    [
        ("2 white, 1 alizarin crimson", ("alizarin crimson (PR83)",)),
        ("1 PR83 + 3 PW6", ("alizarin crimson (PR83)",)),
        ("1 rose madder, 1/2 carmine", ("madder lake (NR9)", "cochineal lake (NR4)")),
        ("1 Stil de grain", ("buckthorn yellow",)),
        ("2 permanent white, 1 alizarin", ("alizarin crimson (PR83)",)),
        ("1 permanent alizarin crimson", ()),
        ("1 alizarin crimson hue, 2 white", ()),
        ("2 white, 1 ultramarine", ()),
        ("welding", ()),
    ],
)
def test_pigments_that_fade_are_known_by_their_names(recipe, named):
    assert fading_pigments([recipe]) == named


def test_a_recipe_that_fades_gets_one_line_and_no_care_for_the_lungs():
    (line,) = cautions_of(["2 titanium white, 1 alizarin crimson", "1 alizarin crimson"])
    assert line.endswith("than the mixture was: alizarin crimson (PR83).")


def test_a_recipe_that_hurts_and_fades_says_both():
    said = cautions_of(["1 cadmium red, 1 alizarin crimson"])
    assert any("admium" in line for line in said)
    assert "fade in light" in said[-1]
    assert cautions_of(["2 titanium white, 1 ultramarine"]) == ()
