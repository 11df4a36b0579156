"""What pairs of photos must show, on seeds that neither the reader nor the comparison was tuned on."""

from dataclasses import replace

import pytest

from swatchread.comparison.pair import compare
from swatchread.errors import DifferentCardsError
from tests.bench.comparing import ANCHORS, pooled, run
from tests.bench.pairs import pair_of, shoot

FIRST = 9400
CARDS = 8

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def tallies():
    found, unread = run(range(FIRST, FIRST + CARDS), 2.5)
    assert len(unread) <= 1, unread
    return found


@pytest.mark.parametrize(("anchors", "like"), [("none", True), ("none", False), ("row", False)])
def test_what_did_not_change_is_left_alone(tallies, like, anchors):
    tally = tallies[0.0, like, anchors]
    assert tally.unchanged > 60
    assert tally.false_share <= 0.05


def test_what_did_not_change_is_left_alone_when_an_old_row_ties():
    """In like light, on many cards, for the errors of one card hang together.

    Two of these 56 give nearly half of the alarms (40 of 943 swatches); the first sixteen alone, with one of the two,
    would show 7.6 %.
    """
    found, unread = run(range(FIRST, FIRST + 56), 0.0, kinds=((0.0, True),))
    assert len(unread) <= 2, unread
    assert found[0.0, True, "row"].unchanged > 800
    assert found[0.0, True, "row"].false_share <= 0.05


def test_what_did_not_change_is_left_alone_when_the_ground_ties(tallies):
    """Over both lights: the ground does not show which it is, and alarms gather in the pairs of two lights."""
    like, other = (tallies[0.0, light, "ground"] for light in (True, False))
    assert like.unchanged + other.unchanged > 120
    assert like.false + other.false <= 0.05 * (like.unchanged + other.unchanged)


def test_a_shift_of_two_and_a_half_is_told(tallies):
    assert tallies[2.5, True, "none"].changed > 40
    assert tallies[2.5, True, "none"].detected_share >= 0.90
    assert tallies[2.5, True, "row"].detected_share >= 0.97
    for anchors in ("row", "ground"):
        like, other = (tallies[2.5, light, anchors] for light in (True, False))
        assert like.detected + other.detected >= 0.97 * (like.changed + other.changed)


def test_the_sign_is_right_and_each_swatch_its_own(tallies):
    assert all(tally.wrong_sign == 0 for tally in tallies.values())
    assert all(tally.mismatched == 0 for tally in tallies.values())


def test_anchors_bring_small_shifts_out(tallies):
    for like in (True, False):
        for anchors in ("row", "ground"):
            assert tallies[2.5, like, anchors].median_error <= 0.4
            assert tallies[2.5, like, anchors].median_error < tallies[2.5, like, "none"].median_error


def test_the_stated_uncertainty_is_not_too_small(tallies):
    """Over both lights: without anchors a pair does not show whether its light is one."""
    assert all(pooled(tallies, anchors).standardised < 1.1 for anchors in ANCHORS)


@pytest.mark.parametrize(
    "some", [{"like": True}, {"like": False}, {"nearer": 12.0}, {"farther": 12.0}], ids=["like", "other", "near", "far"]
)
def test_the_uncertainty_tied_by_an_old_row_is_honest(tallies, some):
    """In either light, near the anchors in colour and far: 62 to 75 % inside 1 u and 92 to 98 % inside 2 u are the aim.

    Eight cards hold them within some 5 and 2 %, for the errors of one card hang together.
    """
    tally = pooled(tallies, "row", **some)
    assert len(tally.errors) > 100
    assert 0.8 <= tally.standardised <= 1.15
    assert 0.57 <= tally.inside(1) <= 0.80
    assert 0.90 <= tally.inside(2) <= 0.99


def test_another_card_in_the_same_places_is_refused(tmp_path):
    refused = []
    for seed in range(FIRST + 50, FIRST + 54):
        before, after = pair_of(seed, 0.0, like_light=True)
        shots = [shoot(before, tmp_path), shoot(replace(after, card_seed=seed + 7), tmp_path)]
        try:
            compare(*(shot.note for shot in shots))
            refused.append(False)
        except DifferentCardsError as error:
            refused.append(bool(error.why))
    assert all(refused)


def test_a_card_laid_the_other_way_round_is_matched(tmp_path):
    """Turned by a quarter and by a half; the second photo numbers the swatches anew."""
    for turn in (90, 180):
        before, after = pair_of(FIRST + 60, 0.0, like_light=True)
        shots = [shoot(before, tmp_path), shoot(replace(after, card_turn=after.card_turn + turn), tmp_path)]
        result = compare(*(shot.note for shot in shots))
        first, second = (shot.names() for shot in shots)
        assert len(result.match.pairs) >= 0.9 * len(shots[0].note.swatches)
        assert all(first[one] == second[other] for one, other in result.match.pairs)
