"""What a comparison claims, and how sure it is: error rates, anchors, words, the card as a whole."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import kstest

from swatchread import compare
from swatchread.comparison.anchoring import anchor_ids
from swatchread.comparison.comparison_result import UNCHANGED
from swatchread.comparison.pair import follow
from swatchread.comparison.swatch_changes import TAIL, colour_words, holm, judge
from swatchread.errors import AnchorError, UsageError
from tests.comparing_data import painted, photographed
from tests.notes import changed

WATERCOLOUR_SHIFT = 2.3
"""Mean lightness shift of 75 watercolour paints from wet to 1 h dry (handprint.com, as read there)."""


def pair(seed, shift=(0, 0, 0), **later):
    card = painted(seed)
    return photographed(card, 2 * seed), photographed(card, 2 * seed + 1, shift=shift, **later)


def half_shifted(seed, by):
    """Half of the swatches lighter or darker, the rest as they were; returns the shifts too."""
    rng = np.random.default_rng(seed)
    shift = np.zeros((15, 3))
    shift[:, 0] = np.where(rng.random(15) < 0.5, rng.choice([-by, by], 15), 0.0)
    return (*pair(seed, shift), shift[:, 0])


def test_holm_on_a_worked_example():
    """Four p-values that textbooks work through (from memory): 0.01, 0.04, 0.03, 0.005."""
    assert holm([0.01, 0.04, 0.03, 0.005]) == pytest.approx([0.03, 0.06, 0.06, 0.02])
    assert len(holm([])) == 0


def test_nothing_changed_nothing_said():
    said = [bool(c.words) for seed in range(40) for c in compare(*pair(seed)).changes]
    assert np.mean(said) <= 0.05


@pytest.mark.slow
def test_a_card_without_change_has_no_common_shift():
    said = [bool(compare(*pair(seed)).common.words) for seed in range(60)]
    assert np.mean(said) <= 0.05


@pytest.mark.parametrize(("anchored", "least"), [(False, 0.9), (True, 0.97)])
def test_a_shift_is_told_with_the_right_sign(anchored, least):
    told, right, errors, stated = [], [], [], []
    for seed in range(30):
        before, after, shift = half_shifted(seed, 2.5)
        ids = [s.id for s in before.swatches]
        anchors = [i for i, by in zip(ids, shift, strict=True) if by == 0][:4] if anchored else ()
        for change in compare(before, after, anchors).changes:
            by = shift[ids.index(change.id)]
            if change.anchor:
                continue
            errors.append(change.L.by - by)
            stated.append(change.L.u)
            if by:
                word = next((w for w in change.words if w in ("lighter", "darker")), "")
                told.append(bool(word))
                right.append(not word or (word == "lighter") == (by > 0))
    assert np.mean(told) >= least
    assert all(right)
    assert np.median(np.abs(errors)) <= 0.4
    # Measured: 1.0 without and 1.2 with anchors.
    assert 0.8 < np.sqrt(np.mean(np.square(np.divide(errors, stated)))) < 1.4


def test_a_watercolour_card_that_dried_lighter():
    """The published mean shift is told for the card and for most of its swatches."""
    results = [compare(*pair(seed, (WATERCOLOUR_SHIFT, 0, 0))) for seed in range(12)]
    assert all("lighter" in r.common.words for r in results)
    assert np.mean(["lighter" in c.words for r in results for c in r.changes]) >= 0.9


def test_acrylic_dries_darker_and_oil_yellows_in_the_dark():
    """Directions only, published without constants: acrylic darkens as its binder clears; oil yellows in the dark."""
    assert "darker" in compare(*pair(1, (-3, 0, 0))).common.words
    yellowed = compare(*pair(2, (0, 0, 6)))
    assert "yellower" in yellowed.common.words
    assert all("yellower" in c.words for c in yellowed.changes if c.words)
    assert yellowed.changed


def test_anchors_narrow_the_uncertainty_and_show_a_small_shift():
    shift = np.zeros((15, 3))
    shift[6:, 0] = -1.1
    before, after = pair(3, shift)
    free, tied = compare(before, after), compare(before, after, ["r1", "r2"])
    assert np.median([c.L.u for c in tied.changes if not c.anchor]) < 0.8 * np.median([c.L.u for c in free.changes])
    assert len(tied.changed) > len(free.changed)
    assert tied.common.words == ("darker",)
    assert all(c.verdict == "taken as unchanged" for c in tied.changes if c.anchor)


def test_p_values_know_that_the_size_of_the_errors_is_unknown():
    """Errors twice and half as large, by turns: against their mean variance the tails would be too long."""
    rng = np.random.default_rng(2)
    size = np.array([0.5, 2.0])
    tails = np.sqrt((TAIL - 2.0) / rng.chisquare(TAIL, (40_000, 1)))  # Student's t with a variance of 1
    drawn = rng.normal(0, 1, (40_000, 3)) * tails * rng.choice(size, (40_000, 1))
    sigma = np.broadcast_to(size[:, None, None], (2, *drawn.shape))
    mixed = judge(np.stack([drawn, drawn]), sigma, np.full((2, 3), 0.5))
    plain = judge(drawn[None], np.full((1, *drawn.shape), np.sqrt((size**2).mean())), np.ones((1, 3)))
    for p in (mixed.lightness, mixed.colour):
        assert kstest(p, "uniform").pvalue > 0.001
    assert np.mean(plain.colour < 0.01) > 0.02


def test_anchors_that_agree_tell_of_one_light():
    """Photos in one light err less in colour: their anchors agree better, and what is stated of all is smaller.

    The bare ground ties a pair, but says little of how far colours are off.
    """
    card = painted(4)

    def stated(noise, anchors):
        result = compare(*(photographed(card, seed, noise=noise) for seed in (10, 11)), anchors)
        return np.median([change.b.u for change in result.changes if not change.anchor])

    swatches = ("r1c1", "r2c3", "r3c2", "r5c1")
    assert stated(0.2, swatches) < 0.75 * stated(2.0, swatches)
    assert stated(0.2, ["ground"]) == pytest.approx(stated(2.0, ["ground"]), rel=0.1)


def in_light(note, departure):
    """Let the note say how unlike the eye its camera saw in its light."""
    fit = note.chart.fit.model_copy(update={"departure_de00": departure})
    return note.model_copy(update={"chart": note.chart.model_copy(update={"fit": fit})})


def test_two_kinds_of_light_make_a_pair_less_sure_of_its_colours():
    """Mixtures are seen alike in one light and otherwise in the next: a lamp's part cancels only in its own light."""
    before, after = pair(3)

    def stated(one, other):
        return np.median([change.b.u for change in compare(in_light(before, one), in_light(after, other)).changes])

    untold = stated(0.0, 1.0)
    assert stated(0.8, 0.8) == pytest.approx(stated(1.6, 1.6))
    assert stated(1.6, 1.6) < 0.9 * untold
    assert stated(0.8, 1.6) > 1.1 * untold
    assert stated(1.6, 0.8) == pytest.approx(stated(0.8, 1.6))


def stated_more(note, name, **more):
    """State larger uncertainties of one swatch."""
    uncertainty = note.swatch(name).uncertainty.model_copy(update=more)
    return changed(note, name, uncertainty=uncertainty.model_dump())


@pytest.mark.parametrize(("more", "of"), [({"L": 1.5}, "L"), ({"a": 3.6, "b": 4.0}, "b"), ({"own_de00": 1.5}, "L")])
def test_what_is_a_swatchs_own_no_anchor_takes_off(more, of):
    """A swatch at the light's edge, in a photo's grain or of ridged paint errs alone: others say nothing of it."""
    before, after = pair(3)
    anchors = ["r1", "r2", "r3", "r5"]

    def stated(later):
        (one,) = [change for change in compare(before, later, anchors).changes if change.id == "r4c2"]
        return getattr(one, of).u

    assert stated(stated_more(after, "r4c2", **more)) > 1.3 * stated(after)


def test_a_grey_board_ties_more_firmly_than_white_paper():
    """Light colours share an error of the tone curve's end: about 0.5 at L* 94 and 0.1 at 56, in simulated pairs."""

    def stated(ground):
        card = replace(painted(4), ground=ground)
        changes = compare(photographed(card, 10), photographed(card, 11), ["ground"]).changes
        return np.median([change.L.u for change in changes])

    assert stated((56.0, 0.4, 0.4)) < 0.9 * stated((94.0, 0.5, 3.0))


def test_an_anchor_that_moved_is_told():
    shift = np.zeros((15, 3))
    shift[4, 0] = 5.0
    before, after = pair(5, shift)
    result = compare(before, after, ["r1c1", "r2c1", "r2c2", "r2c3", "r3c2"])
    assert any("r2c2" in remark and "disagree" in remark for remark in result.remarks)
    assert not any("disagree" in remark for remark in compare(*pair(5), ["r1c1", "r2c1", "r2c2"]).remarks)


def test_anchors_are_ids_rows_columns_and_the_ground():
    known = ("r1c1", "r1c2", "r2c1", "r12c1", "ground")
    assert anchor_ids(["r1", "ground"], known) == ("r1c1", "r1c2", "ground")
    assert anchor_ids(["C1"], known) == ("r1c1", "r2c1", "r12c1")
    with pytest.raises(AnchorError, match="r9c9"):
        anchor_ids(["r9c9"], known)
    before, after = pair(6)
    with pytest.raises(AnchorError, match="Every swatch"):
        compare(before, after, [f"r{k}" for k in range(1, 6)])


def test_a_ground_that_reads_elsewhere_widens_everything_and_ties_nothing():
    before, after = pair(7)
    card = after.card.model_copy(update={"ground": after.card.ground.model_copy(update={"lab": (70.0, 0.5, 3.0)})})
    odd = after.model_copy(update={"card": card})
    assert compare(before, odd).changes[0].L.u > 2 * compare(before, after).changes[0].L.u
    assert any("ground" in remark for remark in compare(before, odd).remarks)
    with pytest.raises(AnchorError, match="ground"):
        compare(before, odd, ["ground"])


def test_readings_by_different_charts_are_told():
    before, after = pair(5)
    chart = after.chart.model_copy(update={"name": "classic24-after-2014"})
    told = compare(before, after.model_copy(update={"chart": chart})).remarks
    assert any("classic24, classic24-after-2014" in remark for remark in told)
    assert not any("chart" in remark for remark in compare(before, after).remarks)


def test_flagged_swatches_are_named_before_their_change_is_trusted():
    before, after = pair(5)
    flags = {"r2c1": ("clipped", "uneven"), "r3c2": ("uneven",)}
    swatches = tuple(s.model_copy(update={"flags": flags.get(s.id, ())}) for s in after.swatches)
    told = [r for r in compare(before, after.model_copy(update={"swatches": swatches})).remarks if "Flagged" in r]
    assert len(told) == 1
    assert told[0].endswith(": r2c1 (clipped).")
    assert not any("Flagged" in remark for remark in compare(before, after).remarks)


@pytest.mark.parametrize(("count", "said"), [(3, True), (4, False)])
def test_a_card_of_hardly_any_swatches_may_be_another_one(count, said):
    card = painted(5)
    missed = tuple(range(count, len(card.lab)))
    remarks = compare(*(photographed(card, seed, missed=missed) for seed in (10, 11))).remarks
    assert any("make sure that it is the same card" in remark for remark in remarks) is said


def test_the_common_error_does_not_average_out():
    """Fifteen swatches are hardly surer of the card than one is: what the photos share stays."""
    result = compare(*pair(8))
    single = np.median([c.L.u for c in result.changes])
    assert result.common.L.u > 0.5 * single


def test_a_photo_is_not_compared_with_itself():
    before, _ = pair(12)
    with pytest.raises(UsageError, match="itself"):
        compare(before, before)


def test_words_for_colour():
    still = {"C": 0.0, "warmth": 0.0, "a": 0.0, "b": 0.0}
    assert colour_words({**still, "C": -3.0}) == ("duller",)
    assert colour_words({**still, "C": 3.0, "warmth": 4.0, "b": 3.0, "a": 1.0}) == ("richer", "warmer", "yellower")
    assert colour_words({**still, "warmth": -2.5}) == ("cooler",)
    assert colour_words({**still, "a": 2.6, "b": -1.0}) == ("redder",)


def test_amounts_agree_with_the_readings():
    before, after = pair(9, (3, -2, 4), turn=180)
    for change in compare(before, after).changes:
        one, other = before.swatch(change.id), after.swatch(change.id_after)
        assert change.L.by == pytest.approx(other.lab[0] - one.lab[0], abs=1e-6)
        assert change.C.by == pytest.approx(other.lch[1] - one.lch[1], abs=1e-6)
        assert change.b.by == pytest.approx(other.lab[2] - one.lab[2], abs=1e-6)
        assert change.value.by == pytest.approx(other.value - one.value, abs=1e-4)
        assert change.verdict != UNCHANGED or not change.words


def drying(seed=11):
    """Invented: gouache drying darker, fast at first."""
    card = painted(seed)
    times = ("2025-05-01T10:00:00", "2025-05-01T10:20:00", "2025-05-01T12:00:00", "2025-05-03T10:00:00")
    return [
        photographed(card, 60 + k, shift=(by, 0, 0), taken=time, turn=90 * (k % 2))
        for k, (time, by) in enumerate(zip(times, (0.0, -2.0, -4.0, -5.0), strict=True))
    ]


def test_a_series_follows_every_swatch():
    series = follow(drying())
    assert series.timed
    assert [c.seconds for c in series.comparisons] == pytest.approx([1200, 7200, 172800])
    assert len(series.ids) == 15
    falls = np.array([[change.L.by for _, change in series.curve(name)] for name in series.ids])
    assert np.median(falls, axis=0) == pytest.approx([-2, -4, -5], abs=0.8)


def test_a_series_keeps_the_order_given_and_tells_when_dates_run_back():
    notes = drying()
    series = follow([notes[1], notes[0]])
    assert not series.timed
    assert any("older" in remark for remark in series.comparisons[0].remarks)
    with pytest.raises(UsageError, match="One reading"):
        follow(notes[:1])
