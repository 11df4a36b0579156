"""Use from Python: the page of examples runs as it stands, and what is promised of the public names holds."""

import inspect
import re
import runpy
from pathlib import Path

import pytest

import swatchread
from tests.comparing_data import painted, photographed
from tests.mixing_data import invented_world
from tests.notes import sample_note, with_text_everywhere

TOP = Path(__file__).parent.parent
EXAMPLES = TOP / "README.md"
HOSTILE = '<script>alert("x")</script>&\x1b[31m\u202e'


@pytest.fixture(scope="module")
def notes():
    return invented_world(cards=12, seed=3).notes


def test_the_page_of_examples_runs(notes, tmp_path, monkeypatch, capsys):
    """Its blocks follow one another, as in one session."""
    monkeypatch.chdir(TOP)
    card = painted(1)
    photographed(card, 1).save(tmp_path / "earlier.note.json")
    photographed(card, 2, shift=(-6, 0, 0), turn=90).save(tmp_path / "later.note.json")
    blocks = re.findall(r"^```python\n(.*?)^```", EXAMPLES.read_text("utf-8"), re.MULTILINE | re.DOTALL)
    assert len(blocks) >= 3
    script = tmp_path / "examples.py"
    script.write_text("\n".join(blocks), encoding="utf-8")
    session = runpy.run_path(str(script), {"folder": tmp_path, "notes": notes})
    assert session["change"].common.words == ("darker",)
    assert len(session["together"].photos) == 2
    assert session["told"].colour.uncertainty.de00 > 0
    assert session["found"].recipes[0].expected_de00 < 6
    assert "none" not in capsys.readouterr().out


def test_a_list_of_notes_answers_without_an_archive(notes):
    assert swatchread.predict("1 red ochre + 1 titanium white", iter(notes)).method == "model"


def test_a_swatch_stands_for_its_colour(notes):
    swatch = notes[0].swatches[0]
    found = swatchread.match(swatch, swatchread.learn(notes[:1]))
    assert found.target.colour.lab == pytest.approx(swatch.lab)
    assert found.target.uncertainty_de00 == pytest.approx(swatch.uncertainty.de00)


@pytest.mark.parametrize("name", swatchread.__all__)
def test_every_public_name_is_there_and_documented(name):
    value = getattr(swatchread, name)
    assert name in dir(swatchread)
    assert not (TOP / "swatchread" / name).exists()  # no room hides a function
    assert not (TOP / "swatchread" / f"{name}.py").exists()
    if inspect.isfunction(value):
        assert value.__doc__
        if value.__module__.startswith(("swatchread.comparison", "swatchread.palette")):
            assert "Parameters\n" in value.__doc__
            assert "Examples\n" in value.__doc__


def test_a_note_shows_itself_in_a_notebook():
    note = sample_note()
    shown = note._repr_html_()
    for swatch in note.swatches:
        assert f">{swatch.id}<" in shown
        assert f"± {swatch.uncertainty.de00:.1f}" in shown
    assert "http" not in shown


def test_what_a_note_says_is_escaped_in_a_notebook():
    shown = with_text_everywhere(sample_note(), HOSTILE)._repr_html_()
    assert "<script" not in shown
    assert "&lt;script&gt;" in shown
    assert "\x1b" not in shown
    assert "\u202e" not in shown
