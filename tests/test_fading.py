"""What age does: pigments that fade are told by the words of a recipe, and a yellowed ground by its colour.

The sources of the pigments stand in `swatchread/recipes/fading.py`.
"""

import pytest

from swatchread.note.model import Ground
from swatchread.note.phrases import ground_words
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


@pytest.mark.parametrize(
    ("lab", "said"),
    [
        ((94.0, 0.2, 2.5), False),  # a white paper
        ((88.0, 0.8, 12.0), True),
        ((75.0, 5.0, 22.0), True),
        ((56.0, 0.5, 0.5), False),  # grey card
        ((52.0, 12.0, 24.0), False),  # kraft paper
        ((80.0, -20.0, 10.0), False),  # green paper
    ],
)
def test_a_yellowed_ground_is_told_and_not_called_white(lab, said):
    assert bool(ground_words(Ground(lab=lab, value=9.0))) == said
