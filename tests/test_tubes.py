"""The list of tubes: words to tubes, the painter's own file, hazards, and where the data lies."""

import json
import runpy
import shutil

import pytest

from swatchread.colour import shipped_data
from swatchread.errors import TubeListError
from swatchread.recipes.tubes import TUBES_ENVIRONMENT, load_tubes, tokens


@pytest.fixture(scope="module")
def tubes():
    return load_tubes()


@pytest.fixture
def own(tmp_path):
    def write(*tubes, hazards=None):
        path = tmp_path / "own.json"
        data = {"format": "swatchread-tubes", "version": 1, "tubes": tubes, "hazards": hazards or {}}
        path.write_text(json.dumps(data), encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("Yellow Ochre", "yellow ochre"),
        ("cad red", "cadmium red"),
        ("tit. white", "titanium white"),
        ("PW4", "zinc white"),
        ("PY43", "yellow ochre"),
        ("PG18", "viridian"),
        ("PBk9", "ivory black"),
        ("PB28", "cobalt blue"),
        ("cadmium red PR108", "cadmium red"),
        ("Terre-Verte", "green earth"),
    ],
)
def test_usual_words_find_their_tube(tubes, words, name):
    assert tubes.match(words).name == name


@pytest.mark.parametrize("words", ["white", "ochre", "umber", "PBr7", "cadmium yellow PR108", "mud", ""])
def test_words_that_fit_several_tubes_or_none_choose_no_tube(tubes, words):
    assert tubes.match(words).name is None


def test_a_letter_or_two_only_suggest_a_tube(tubes):
    for words, suggested in (
        ("Y. Ochre", "yellow ochre"),
        ("titanium wh.", "titanium white"),
        ("c. red", "cadmium red"),
    ):
        assert suggested in tubes.match(words).names
        assert tubes.match(words).name is None


def test_white_names_each_white(tubes):
    assert {"titanium white", "zinc white", "lead white"} <= set(tubes.match("white").names)


def test_cadmium_lead_and_cobalt_carry_a_caution(tubes):
    for name in ("cadmium red", "lead white", "cobalt blue"):
        (line,) = tubes.cautions((name,))
        assert name.split()[0] in line
    assert tubes.cautions(("yellow ochre", "a tube nobody listed")) == ()
    assert len(tubes.cautions(("cadmium red", "cadmium orange"))) == 1


def test_a_word_that_may_mean_a_dangerous_pigment_is_named(tubes):
    (line,) = tubes.possible_cautions(("red", "yellow ochre", "white"))
    assert line.startswith("“red” may be cadmium red light, “white” may be lead white: take care accordingly")
    assert tubes.cautions(("red", "yellow ochre", "white")) == ()
    assert tubes.possible_cautions(("cadmium red",)) == ()
    assert not any("cadmium" in line for line in tubes.possible_cautions(("cadmium red", "red")))  # said already


def test_what_all_tubes_share_that_a_word_may_mean_is_certain(tubes):
    """Common practice: umbers hold manganese."""
    assert len(tubes.cautions(("umber",))) == 1
    assert tubes.possible_cautions(("umber",)) == ()


def test_a_painters_file_takes_words_over(own):
    path = own({"name": "titanium white", "pigments": ["PW6"], "words": ["white"]}, {"name": "bog earth"})
    tubes = load_tubes(path)
    assert tubes.match("white").name == "titanium white"
    assert tubes.match("bog earth").name == "bog earth"
    assert tubes.match("yellow ochre").name == "yellow ochre"


def test_a_painters_file_is_found_by_the_environment(own, monkeypatch):
    monkeypatch.setenv(TUBES_ENVIRONMENT, str(own({"name": "bog earth"})))
    assert load_tubes().tube("bog earth")


@pytest.mark.parametrize(
    "tubes",
    [
        [{"name": "a", "pigments": ["XX1"]}],
        [{"name": "a", "words": ["w"]}, {"name": "b", "words": ["W"]}],
        [{"name": "..."}],
        [{"name": "a", "hazards": ["dragons"]}],
        [{"name": "a", "colour": "red"}],
        ["a"],
    ],
)
def test_a_bad_painters_file_is_refused_with_its_name(own, tubes):
    with pytest.raises(TubeListError, match=r"own\.json"):
        load_tubes(own(*tubes))


def test_a_missing_painters_file_is_refused(tmp_path):
    with pytest.raises(TubeListError, match="no-such"):
        load_tubes(tmp_path / "no-such.json")


def test_comparison_ignores_case_accents_and_punctuation():
    assert tokens("Páyne's  GRAY, PB15:3") == ("payne", "s", "grey", "pb15:3")


def test_data_is_found_inside_a_wheels_layout(tmp_path):
    """A wheel carries calibration/ inside the package."""
    room, folder = tmp_path / "swatchread" / "colour", tmp_path / "swatchread" / "calibration"
    room.mkdir(parents=True)
    folder.mkdir()
    installed = runpy.run_path(shutil.copy(shipped_data.__file__, room))
    assert installed["data_file"]("tubes.json") == folder / "tubes.json"
