"""Which recorded swatches teach the model, and which tube each word of their recipes means."""

import numpy as np
import pytest

from swatchread.palette.training_data import Card, collect
from swatchread.recipes.tubes import load_tubes
from tests.archive_data import build_note, swatch_data


def note_of(*recipes, seed=0, **changes):
    rows = [swatch_data(1 + i, 1, (50, 10, 10 + i), recipe=r, **changes) for i, r in enumerate(recipes)]
    return build_note(rows, seed=seed)


@pytest.fixture(scope="module")
def tubes():
    return load_tubes()


class TestCollect:
    def test_parts_touches_and_cards_come_through(self, tubes):
        notes = [
            note_of("3 titanium white + 1 yellow ochre", "2 red ochre + touch of viridian"),
            note_of("1 red ochre"),
        ]
        samples = collect([Card(f"c{i}", n) for i, n in enumerate(notes)], tubes).samples
        assert samples.tubes == ("titanium white", "yellow ochre", "red ochre", "viridian")
        assert samples.amounts.tolist() == [[3, 1, 0, 0], [0, 0, 2, 0], [0, 0, 1, 0]]
        assert samples.touches.tolist() == [[False] * 4, [False, False, False, True], [False] * 4]
        assert samples.card.tolist() == [0, 0, 1]
        assert samples.with_touch(0.05)[1].tolist() == pytest.approx([0, 0, 1 / 1.05, 0.05 / 1.05])

    def test_photos_of_one_painted_card_are_known(self, tubes):
        three = ("3 titanium white + 1 yellow ochre", "2 red ochre", "1 viridian + 1 titanium white")
        wet = build_note([swatch_data(1 + i, 1, (30 + 20 * i, 10, 10), recipe=r) for i, r in enumerate(three)], seed=1)
        dry = build_note([swatch_data(1 + i, 1, (28 + 20 * i, 10, 9), recipe=r) for i, r in enumerate(three)], seed=2)
        # The same mixtures again on another card, in other places.
        other = build_note(
            [swatch_data(1, 1 + 2 * i * i, (30 + 20 * i, 10, 10), recipe=r) for i, r in enumerate(three)], seed=3
        )
        cards = [Card(f"c{i}", n) for i, n in enumerate([wet, note_of("1 red ochre"), dry, other])]
        samples = collect(cards, tubes).samples
        assert samples.painting.tolist() == [0, 0, 0, 1, 0, 0, 0, 3, 3, 3]
        assert samples.card.tolist() == [0, 0, 0, 1, 2, 2, 2, 3, 3, 3]

    def test_white_is_the_only_white_the_painter_names(self, tubes):
        got = collect([Card("c", note_of("1 white + 1 yellow ochre", "1 titanium white"))], tubes)
        assert got.readings["white"] == "titanium white"
        assert "white" not in got.samples.tubes

    def test_white_stays_open_between_two_named_whites(self, tubes):
        got = collect([Card("c", note_of("2 white + 1 yellow ochre", "1 titanium white", "1 zinc white"))], tubes)
        assert [name for name, _ in got.left_out] == ["c r1c1"]
        assert len(got.samples) == 2

    def test_white_alone_stands_for_itself(self, tubes):
        got = collect([Card("c", note_of("3 white + 1 yellow ochre", "1 white"))], tubes)
        assert got.samples.tubes == ("white", "yellow ochre")

    @pytest.mark.parametrize("recipe", ["white and some ochre", "touch of viridian, touch of red ochre"])
    def test_what_cannot_teach_is_left_out_with_its_reason(self, tubes, recipe):
        got = collect([Card("c", note_of(recipe, "1 red ochre"))], tubes)
        assert [name for name, _ in got.left_out] == ["c r1c1"]
        assert got.left_out[0][1]
        assert got.samples.tubes == ("red ochre",)

    def test_a_name_of_two_words_is_not_taken_for_a_longer_name(self, tubes):
        """Common practice: red oxide is opaque, and no painter takes it for the transparent one."""
        got = collect([Card("c", note_of("1 red oxide + 1 red ochre", "1 transparent red oxide"))], tubes)
        assert [name for name, _ in got.left_out] == ["c r1c1"]
        assert "red oxide" in got.left_out[0][1]

    def test_an_unknown_word_beside_one_swatch_alone_is_not_yet_a_tube(self, tubes):
        got = collect([Card("c", note_of("2 red ochre + 1 viridian, 2 coats", "1 red ochre"))], tubes)
        assert [name for name, _ in got.left_out] == ["c r1c1"]
        assert "coats" in got.left_out[0][1]
        got = collect([Card("c", note_of("2 red ochre + 1 mud", "1 red ochre + 3 mud"))], tubes)
        assert got.left_out == ()
        assert got.samples.tubes == ("red ochre", "mud")

    @pytest.mark.parametrize(
        ("recipe", "why"),
        [("5 ml red ochre + 1 g titanium white", "are mixed"), ("60% red ochre + 30% viridian", "add up")],
    )
    def test_amounts_that_do_not_fit_together_are_said(self, tubes, recipe, why):
        got = collect([Card("c", note_of(recipe, "1 red ochre"))], tubes)
        assert why in got.left_out[0][1]

    def test_clipped_paint_is_left_out(self, tubes):
        got = collect([Card("c", note_of("1 red ochre", flags=["clipped"]))], tubes)
        assert len(got.samples) == 0
        assert "brighter or darker than the photo can record" in got.left_out[0][1]

    def test_own_and_shared_error_make_up_the_stated_one(self, tubes):
        u = {"L": 0.5, "a": 0.4, "b": 0.6, "de00": 1.0, "own_de00": 0.8}
        samples = collect([Card("c", note_of("1 red ochre", uncertainty=u))], tubes).samples
        assert np.hypot(samples.own_sd, samples.shared_sd)[0] == pytest.approx([0.5, 0.4, 0.6])
