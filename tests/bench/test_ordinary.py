"""Self-tests of the bench of ordinary faults: each outcome is told from the others."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.scene import SceneSpec
from tests.scene.faults import ordinary_spec, spoiled

from . import ordinary, ordinary_report
from .measure import Paint, Photo
from .ordinary_pair import Pair, misplaced
from .scenes import drawn

SPEC = SceneSpec(seed=1, under="sheet")


def _photo(*errors, u=1.0, flags=(), warnings=(), placed=None, failure=""):
    paints = [
        Paint(
            f"r1c{k}",
            np.array([50.0, 5, 5]),
            5.0,
            True,
            0.0,
            np.array([50.0, 5, 5]),
            u,
            (u,) * 3,
            5.0,
            flags,
            {"reader": e},
        )
        for k, e in enumerate(errors, 1)
    ]
    placed = len(paints) if placed is None else placed
    return Photo(SPEC, failure, paints, len(paints), 0, placed, warnings=warnings)


CLEAN = _photo(0.5, 0.7, warnings=("untagged",))


@pytest.mark.parametrize(
    ("bad", "outcome"),
    [
        (_photo(0.5, 4.0), "silent"),
        (_photo(0.5, 4.0, warnings=("untagged",)), "silent"),  # the clean photo warns of that too
        (_photo(0.5, 0.7, placed=1), "silent"),
        (_photo(0.5, 4.0, flags=("shadow",)), "flagged or ±"),
        (_photo(0.5, 4.0, flags=("gap",)), "silent"),  # speaks of the run, not of the reading
        (_photo(0.5, 4.0, u=2.5), "flagged or ±"),
        (_photo(0.5, 4.0, warnings=("dark",)), "warned wrongly"),
        (_photo(0.5, 4.0, warnings=("dark", "shadow_edge")), "warned rightly"),
        (_photo(0.5, 0.7, placed=1, warnings=("shadow_edge",)), "warned rightly"),
        (_photo(0.5, 0.7, warnings=("shadow_edge",)), "warned rightly"),
        (_photo(0.5, 0.7, warnings=("dark",)), "warned wrongly"),
        (_photo(0.5, 2.9, u=0.5), "right"),
        (_photo(failure="no_chart"), "refused"),
    ],
)
def test_outcomes(bad, outcome):
    assert Pair("shade-on-card", CLEAN, bad).outcome == outcome


def test_a_shift_that_the_clean_photo_has_too_is_not_the_faults():
    assert Pair("cut", replace(CLEAN, placed=1), _photo(0.5, 0.7, placed=1)).outcome == "right"


def test_a_swatch_that_is_silently_wrong_on_the_clean_photo_is_not_the_faults():
    under_a_lamp = _photo(0.5, 4.0)
    assert Pair("bit", under_a_lamp, _photo(0.5, 4.2)).outcome == "right"
    assert Pair("bit", under_a_lamp, _photo(3.5, 4.2)).outcome == "silent"
    assert Pair("lamp-A", under_a_lamp, _photo(0.5, 4.2)).outcome == "silent"


def _note_of(swatches, below=0):
    """Make a note that reads these true swatches exactly, their rows `below` others."""
    read = [
        SimpleNamespace(
            outline=s.outline_px, row=s.row + below, column=s.column, lab=s.lab, value=5.0, flags=(),
            uncertainty=SimpleNamespace(L=0.5, a=0.5, b=0.5, de00=0.5),
        )
        for s in swatches
    ]  # fmt: skip
    fit = SimpleNamespace(mean_de00=1.0, max_de00=2.0, cross_validated_de00=1.2)
    return SimpleNamespace(swatches=read, warnings=(), chart=SimpleNamespace(fit=fit))


def test_two_cards_read_as_one_are_misplaced_and_so_is_one_that_is_silently_left(tmp_path, monkeypatch):
    made = drawn(spoiled(ordinary_spec(3, (1000, 750)), "two-cards"), tmp_path)
    first, second = _note_of(made.truth.swatches), _note_of(made.truth.second_card)
    as_one = _note_of(made.truth.swatches)
    as_one.swatches += _note_of(made.truth.second_card, made.spec.rows).swatches
    told = _note_of(made.truth.second_card)
    told.warnings = (SimpleNamespace(code="second_card"),)
    for notes, wrong in (([first, second], False), ([as_one], True), ([second], True), ([told], False)):
        monkeypatch.setattr(ordinary, "read_notes", lambda _, notes=notes: notes)
        photo = ordinary._read_two_cards(made, made.path)
        assert misplaced(photo) == wrong
        assert photo.false == 0


def test_tables_count_photos_by_outcome():
    pairs = [Pair("local-tone", CLEAN, b) for b in (_photo(0.5, 4.0), _photo(0.5, 0.7), _photo(failure="no_chart"))]
    pairs.append(Pair("local-tone", _photo(failure="no_chart"), _photo(9.0, 9.0)))
    row = ordinary_report.outcome_table(pairs).splitlines()[1].split()
    assert row == ["local-tone", "3", "1", "1", "0", "0", "0", "1", "33%", "MISSES", "0"]
    assert "r1c2 4.0 ± 1.0" in ordinary_report.silent_table(pairs)


def test_colours_and_lights_have_their_groups():
    assert [ordinary_report.light_kind(x) for x in ("D55", "A", "B3200", "FL11", "TL84", "LED-V1")] == [
        "daylight", "tungsten", "tungsten", "fluorescent", "fluorescent", "LED",
    ]  # fmt: skip
    paint = CLEAN.paints[0]
    assert ordinary_report.colour_kind(paint) == "near-grey"
    assert ordinary_report.colour_kind(replace(paint, lab=np.array([50.0, 20, 20]))) == "flesh"
    assert ordinary_report.colour_kind(replace(paint, lab=np.array([50.0, 50, 20]), flesh=False)) == "saturated"


def test_changes_since_an_earlier_run_are_told():
    before = ordinary_report.kept([CLEAN])
    wider = replace(_photo(0.5, 0.9, u=1.3, warnings=("untagged", "odd_light")), spec=SPEC)
    text = ordinary_report.changes(before, ordinary_report.kept([wider]))
    assert "new warnings on 1 of 1 photos (odd_light 1)" in text
    assert text.splitlines()[-1].split() == ["sheet", "2", "0.60", "0.70", "0.69", "0.88", "1.30", "1.30"]
    assert "on 0 of 1" in ordinary_report.changes(before, before)
