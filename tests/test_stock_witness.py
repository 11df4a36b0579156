"""The card's stock as a witness: ground that earlier cards showed must come out alike, or is said to differ."""

import json
from dataclasses import replace

import numpy as np
import pytest

from swatchread.archive.stocks import known_stocks, stocks_of
from swatchread.archive.store import Archive
from swatchread.correction.known_stock import KnownStocks, Stock
from swatchread.reading import read_card
from tests.bench.matching import match
from tests.notes import sample_note
from tests.scene import SceneSpec
from tests.scene.paints import ground_reflectance
from tests.scene.spectra import lab_of

SIZE = {"width": 1200, "height": 900, "rows": 4, "columns": 3, "chart_fraction": 0.3, "tubes": 0, "brushes": 0}
PLAIN = SceneSpec(seed=5, ground="grey", under="apart", sheet="buff", table="dark", **SIZE)
SHADED = replace(PLAIN, shadow="whole-card", shadow_depth=0.3, shadow_width=0.03)
YELLOWED = SceneSpec(seed=5, ground="grey", chart_make="yellowed", chart_off=4.5, **SIZE)
GREY = KnownStocks((Stock("grey board", tuple(lab_of(ground_reflectance("grey")).tolist()), 0.01, 5),))


def off(read, scene):
    """Return how much CIELAB reads above the truth, shape (swatches, 3)."""
    swatches = read.note.swatches
    pairs = match(np.array([np.mean(s.outline, axis=0) for s in swatches]), scene.truth.swatches)
    return np.array([swatches[i].lab - scene.truth.swatches[j].lab for i, j in pairs])


def codes(read):
    return {w.code for w in read.note.warnings}


@pytest.fixture(scope="module")
def read_with(photograph):
    def read(spec, stocks):
        path, scene = photograph(spec)
        return read_card(path, stocks=stocks), scene

    return read


def test_a_known_ground_that_comes_out_darker_is_said_and_raises_the_uncertainty(read_with):
    """The card lies in 0.7 of the chart's light, and nothing lies under both."""
    (told, _), (untold, _) = read_with(SHADED, GREY), read_with(SHADED, None)
    (message,) = [w.message for w in told.note.warnings if w.code == "ground_differs"]
    assert "darker" in message
    assert "5 earlier cards of grey board" in message
    assert "ground_differs" not in codes(untold)
    stated = [np.median([s.uncertainty.L for s in read.note.swatches]) for read in (told, untold)]
    assert stated[0] > 1.5 * stated[1]


def test_the_same_stock_evens_out_the_light(read_with):
    (tied, scene), (plain, _) = read_with(SHADED, replace(GREY, tie=True)), read_with(SHADED, None)
    assert np.median(off(plain, scene)[:, 0]) < -4.0
    assert abs(np.median(off(tied, scene)[:, 0])) < 1.0
    assert "ground_differs" in codes(tied)


def test_the_same_stock_evens_out_a_yellowed_chart(read_with):
    """No fit can tell a chart that has yellowed evenly from warmer light."""
    (tied, scene), (plain, _) = read_with(YELLOWED, replace(GREY, tie=True)), read_with(YELLOWED, GREY)
    assert "bluer" in next(w.message for w in plain.note.warnings if w.code == "ground_differs")
    before, after = (np.linalg.norm(off(read, scene), axis=1) for read in (plain, tied))
    assert np.median(after) < 0.4 * np.median(before)


def test_a_known_ground_that_comes_out_alike_proves_the_light(read_with):
    (told, _), (untold, _) = read_with(PLAIN, GREY), read_with(PLAIN, None)
    assert "ground_differs" not in codes(told)
    assert told.calibration.card_light.proven
    assert not untold.calibration.card_light.proven


def test_another_stock_is_named_and_not_doubted(read_with):
    named, _ = read_with(SHADED, replace(GREY, named="new linen board"))
    assert "ground_differs" not in codes(named)
    assert named.note.card_info.support == "new linen board"


def test_white_paper_that_comes_out_blue_doubts_the_chart(reading):
    spec = replace(YELLOWED, ground="white")
    (yellowed, _), (genuine, _) = (reading(s) for s in (spec, replace(spec, chart_make="reference")))
    assert "chart_doubtful" in codes(yellowed)
    assert "chart_doubtful" not in codes(genuine)


def ground(L, b=1.0, support="", warnings=()):
    note = sample_note(rows=2)
    card = note.card.model_copy(update={"ground": note.card.ground.model_copy(update={"lab": (L, 0.2, b)})})
    info = note.card_info.model_copy(update={"support": support})
    return note.model_copy(update={"card": card, "card_info": info, "warnings": tuple(warnings)})


def test_a_stock_is_what_three_cards_agree_on():
    assert stocks_of([ground(56.0), ground(56.3)]) == ()
    (stock,) = stocks_of([ground(56.0), ground(56.3), ground(55.9), ground(50.0), ground(56.0, b=9.0)])
    assert (stock.lab[0], stock.cards) == (pytest.approx(56.0), 3)


def test_stocks_are_told_apart_by_name_and_by_their_ground():
    cards = [ground(56.0, support=name) for name in ("Grey board", "grey board ", "grey board")]
    cards += [ground(94.0) for _ in range(4)]
    assert [(s.name, s.cards) for s in stocks_of(cards)] == [("grey board", 3), ("", 4)]


def test_cards_in_doubtful_light_are_no_witnesses():
    from swatchread.note.flags_and_warnings import warn

    doubted = [ground(50.0, warnings=[warn("other_light", "x")]) for _ in range(3)]
    assert stocks_of(doubted) == ()


def test_an_archive_knows_the_stock_of_its_cards_but_not_by_the_card_itself(tmp_path):
    with Archive.open(str(tmp_path / "a.sqlite")) as archive:
        notes = [ground(56.0 + k / 10) for k in range(3)]
        for k, note in enumerate(notes):
            archive.add(note.model_copy(update={"photo": note.photo.model_copy(update={"sha256": f"{k:064x}"})}))
        (stock,) = known_stocks(archive)
        assert stock.cards == 3
        assert known_stocks(archive, without=1) == ()


def test_read_asks_the_archive_and_keeps_the_stocks_name(typed, photograph, tmp_path):
    photo, _ = photograph(SHADED)
    address = str(tmp_path / "a.sqlite")
    with Archive.open(address) as archive:
        for k in range(3):
            note = ground(56.0 + k / 10, b=0.5, support="grey board")
            archive.add(note.model_copy(update={"photo": note.photo.model_copy(update={"sha256": f"{k:064x}"})}))
    words = ("read", photo, "--into", tmp_path, "--json", "--archive", address)
    notes = []
    for more in (("--support", "Grey board"), ("--same-stock",)):
        status, out, _ = typed(*words, *more)
        assert status == 0
        notes.append(json.loads(out))
        assert "ground_differs" in {w["code"] for w in notes[-1]["warnings"]}
    assert notes[0]["card_info"]["support"] == "Grey board"
    assert notes[0]["card"]["ground"]["lab"][0] < 52.0
    assert notes[1]["card"]["ground"]["lab"][0] == pytest.approx(56.1, abs=0.3)


def test_the_same_stock_needs_an_archive_that_knows_it(typed, photograph):
    status, _, said = typed("read", photograph(PLAIN)[0], "--same-stock")
    assert status == 2
    assert "--archive" in said
