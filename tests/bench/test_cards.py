"""Self-tests of the bench of several cards, and its targets."""

from types import SimpleNamespace

import numpy as np
import pytest

from tests.scene import several

from . import cards
from .tables import misses


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    spec = several.several_spec(7, (900, 675))
    return cards.drawn(spec, tmp_path_factory.mktemp("cards"))[1]


@pytest.fixture(scope="module")
def truths(scene):
    return scene.truths


def _note(*swatches):
    return SimpleNamespace(
        swatches=[
            SimpleNamespace(
                outline=s.outline_px, row=s.row, column=s.column, lab=s.lab, uncertainty=SimpleNamespace(de00=0.5)
            )
            for s in swatches
        ]
    )


def _held(note, scene):
    sheet = cards.Sheet("one", len(scene.truths), swatches=len(scene.truths[0].swatches))
    every = [(card, swatch) for card, truth in enumerate(scene.truths) for swatch in truth.swatches]
    return sheet, cards._hold_against(sheet, note, scene, every)


def test_a_whole_card_is_its_own(scene, truths):
    sheet, own = _held(_note(*truths[1].swatches), scene)
    assert own == 1
    assert (sheet.read, sheet.placed) == (len(truths[1].swatches),) * 2
    assert (sheet.strayed, sheet.false) == (0, 0)
    np.testing.assert_allclose(sheet.errors, 0, atol=1e-9)


def test_a_swatch_of_another_card_is_one_too_many(scene, truths):
    sheet, own = _held(_note(*truths[0].swatches, truths[1].swatches[0]), scene)
    assert (own, sheet.strayed, sheet.false) == (0, 1, 0)


def test_what_lies_on_no_swatch_is_false(scene, truths):
    beside = SimpleNamespace(outline_px=np.array([[-9.0, -9], [-8, -9], [-8, -8]]), row=1, column=1, lab=np.zeros(3))
    sheet, _ = _held(_note(*truths[0].swatches, beside), scene)
    assert sheet.false == 1


def test_only_a_card_with_writing_can_lie_the_wrong_way_up(scene, truths):
    turned = []
    for truth in truths:
        note = _note(*truth.swatches)
        for swatch in note.swatches:
            swatch.row, swatch.column = -swatch.row, -swatch.column
        turned += _held(note, scene)[0].turns
    assert turned == [False] * sum(card.writing != "none" for card in scene.spec.cards)


def test_the_figures_of_a_photo_that_was_refused_miss_the_targets():
    refused = cards.Sheet("one", 3, swatches=20, failure="no_swatches")
    assert "cards found" in misses(cards.rates([refused]), cards.TARGETS)


@pytest.mark.slow
def test_cards_on_tables_and_scans_are_found(tmp_path):
    specs = [several.several_spec(86000 + k, (1800, 1350)) for k in range(12)]
    specs += [several.scan_spec(86000 + k, (2400, 1697)) for k in range(6)]
    sheets = [cards.measure((spec, tmp_path)) for spec in specs]
    assert misses(cards.rates(sheets), cards.TARGETS) == {}
