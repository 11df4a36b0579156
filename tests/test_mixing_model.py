"""The fitted model on invented archives (see `mixing_data`), and what is known of paint."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.colour.cielab import delta_e_2000, lab_to_lch
from swatchread.colour.painter_terms import warmth
from swatchread.palette.fitted_palette import fit_palette, leave_cards_out
from swatchread.palette.mixture_fit import fit, linearise
from swatchread.palette.mixture_model import Paints
from swatchread.palette.pigment_prior import believe
from swatchread.palette.training_data import Card, collect
from swatchread.recipes.tubes import load_tubes
from tests.bench.mixing import left_out, open_world
from tests.mixing_data import TUBES, invented_world, true_lab


@pytest.mark.slow
def test_predicts_cards_left_out_better_than_simple_guesses(palette, world):
    every = [left_out(palette, world, 0.0)]
    for seed in (0, 1):
        other = invented_world(cards=40, seed=seed)
        every.append(left_out(open_world(other), other, 0.0))
    found = {name: np.mean([figures[name] for figures in every]) for name in every[0]}
    assert found["model"] <= 3.0
    assert found["best simple guess / model"] >= 1.5
    # Without the dosing and reading errors of the swatch itself, which no prediction can know, it is far ahead.
    assert found["best simple guess / model, of the truth"] >= 3.0
    assert found["single_constant_spectral"] > 1.2 * found["model"]


def test_knows_the_paint_better_than_one_reading_shows_it(palette, world):
    exact = np.concatenate(world.exact)
    order = [TUBES.index(t) for t in palette.collected.samples.tubes]
    off = delta_e_2000(palette.model.paints.lab(exact[:, order]), true_lab(exact))
    assert np.median(off) < 0.8


def test_stated_uncertainty_is_true_on_an_archive_it_never_saw(palette):
    # The stretch is set on this archive's own cards; another archive by the same painter is the judge.
    other = collect(_cards(invented_world(cards=12, seed=77).notes), load_tubes()).samples
    order = [other.tubes.index(t) for t in palette.collected.samples.tubes]
    amounts = other.with_touch(palette.model.paints.touch)[:, order]
    predicted = palette.model.predict(amounts, other.touches[:, order])
    stated = np.hypot(predicted.de00, 1.0)  # the readings' own standard uncertainty is about 1
    inside = np.mean(delta_e_2000(predicted.lab, other.lab) <= stated)
    assert 0.58 <= inside <= 0.80


@pytest.mark.slow
def test_leaving_out_a_card_is_as_good_as_a_new_fit(palette):
    fitted = fit(palette.collected.samples)
    samples = fitted.samples
    quick = leave_cards_out(fitted)
    for card in (0, 7, 14):
        rest, out = (samples.take(np.flatnonzero(mask)) for mask in (samples.card != card, samples.card == card))
        again = fit(rest).model.paints
        lab = again.lab(out.with_touch(again.touch))
        assert np.median(delta_e_2000(lab, quick.lab[samples.card == card])) < 0.25
        error = np.median(delta_e_2000(lab, out.lab))
        assert np.median(quick.de00[samples.card == card]) == pytest.approx(error, abs=0.4)


def test_cards_photographed_twice_are_left_out_in_both_photos(world):
    """Wet and dry, say: the nearest recorded mixture must not be the swatch itself in its other photo."""
    rng, notes = np.random.default_rng(5), world.notes[:12]
    once = fit_palette([Card(f"card {k}", note) for k, note in enumerate(notes)], load_tubes())
    again = [photographed_again(note, rng) for note in notes]
    twice = fit_palette([Card(f"card {k}", note) for k, note in enumerate([*notes, *again])], load_tubes())
    assert twice.missing == ()
    assert twice.collected.samples.painting.tolist() == 2 * once.collected.samples.painting.tolist()
    assert twice.held.nearest_de00 == pytest.approx(once.held.nearest_de00, abs=0.6)
    assert twice.held.median == pytest.approx(once.held.median, abs=0.4)


def photographed_again(note, rng):
    """Return a second reading of a card: its photo off by so much, and each swatch by a little."""
    off = rng.normal(0, 0.5, 3) + rng.normal(0, 0.2, (len(note.swatches), 3))
    swatches = tuple(
        s.model_copy(update={"lab": tuple((np.array(s.lab) + by).tolist())})
        for s, by in zip(note.swatches, off, strict=True)
    )
    photo = note.photo.model_copy(update={"sha256": note.photo.sha256[::-1]})
    return note.model_copy(update={"swatches": swatches, "photo": photo})


def test_slopes_are_the_differences(fitted):
    samples, step = fitted.samples.take(np.arange(6)), 1e-5
    here = linearise(fitted.model.paints, samples)
    for place in (0, 9, 40, -30, -2, -1):
        theta = fitted.model.paints.theta.copy()
        theta[place] += step
        moved = replace(fitted.model.paints, theta=theta)
        measured = (moved.lab(samples.with_touch(moved.touch)) - here.lab) / step
        assert here.by_theta[:, :, place] == pytest.approx(measured, abs=2e-3, rel=2e-3)


def test_a_spoilt_recipe_hardly_harms(fitted):
    samples = fitted.samples
    amounts = samples.amounts.copy()
    amounts[5] = amounts[5][::-1] + np.eye(len(samples.tubes))[0]
    spoilt = fit(replace(samples, amounts=amounts)).model.paints
    share = samples.with_touch(0.03)
    clean = fitted.model.paints
    assert np.median(delta_e_2000(spoilt.lab(share), clean.lab(share))) < 0.3


def test_scattering_needs_more_than_tints(world, palette):
    facts = {t.tube: t for t in palette.tubes}
    assert facts["titanium white"].constants == 2
    few = [n for n in world.notes if "cadmium red" not in " ".join(s.recipe for s in n.swatches)][:4]
    facts = {t.tube: t for t in fit_palette(_cards(few), load_tubes()).tubes}
    assert not all(t.constants == 2 for t in facts.values())


def test_why_recipes_cannot_be_used_is_said(world):
    # Written as on the card: where both ochres are in use, nobody can tell which is meant.
    note = world.notes[0]
    recipes = ["1 yellow ochre + 1 titanium white", "1 red ochre + 1 titanium white", *["2 ochre"] * 4]
    swatches = tuple(s.model_copy(update={"recipe": recipe}) for s, recipe in zip(note.swatches, recipes, strict=False))
    one = fit_palette(_cards([note.model_copy(update={"swatches": swatches})]), load_tubes())
    assert "4 more cannot be used: “ochre” may be one of several tubes: `swatchread tubes` asks which" in one.missing


def test_white_is_not_to_be_mixed_with_white(world):
    note = world.notes[0]
    swatch = note.swatches[0].model_copy(update={"recipe": "2 yellow ochre + 1 titanium white"})
    one = fit_palette(_cards([note.model_copy(update={"swatches": (swatch,)})]), load_tubes())
    advice = {t.tube: t.missing for t in one.tubes}
    assert advice["titanium white"] == "paint it alone"
    assert "of white" in advice["yellow ochre"]


def with_colours_at_random(notes, seed):
    rng, changed = np.random.default_rng(seed), []
    for note in notes:
        colours = rng.uniform([10, -40, -40], [95, 40, 60], (len(note.swatches), 3))
        swatches = [s.model_copy(update={"lab": tuple(c)}) for s, c in zip(note.swatches, colours, strict=True)]
        changed.append(note.model_copy(update={"swatches": tuple(swatches)}))
    return changed


def test_noise_for_recipes_is_no_model(world):
    # Recipes that have nothing to do with the paint: the model must not be shown.
    palette = fit_palette(_cards(with_colours_at_random(world.notes[:6], seed=0)), load_tubes())
    samples = palette.collected.samples
    unsure = palette.model and palette.model.predict(samples.with_touch(0.03), samples.touches).de00
    assert unsure is None or np.median(unsure) > 10.0  # as far apart as the colours are: nobody is misled


@pytest.mark.parametrize("seed", [14, 16])
def test_without_a_card_the_rest_still_has_a_positive_variance(seed):
    """Colours that have nothing to do with the recipes bend the fit so much that it is far from linear."""
    notes = with_colours_at_random(invented_world(cards=3, swatches=8, seed=seed).notes, seed)
    held = leave_cards_out(fit(collect(_cards(notes), load_tubes()).samples))
    assert np.all(held.stated > 0)


def _cards(notes):
    return [Card(str(i), note) for i, note in enumerate(notes)]


def lab_of(rows, palette=None):
    """CIELAB of mixtures, tube -> parts: by the guesses that ship, or as fitted to a palette."""
    tubes = palette.model.tubes if palette else tuple(dict.fromkeys(name for row in rows for name in row))
    paints = palette.model.paints if palette else Paints(believe(tubes), np.zeros(believe(tubes).count))
    return paints.lab(np.array([[row.get(name, 0.0) for name in tubes] for row in rows]))


class TestCommonPractice:
    """Facts of the trade, common practice, as directions; on the guesses that ship and on the fitted tubes."""

    @pytest.mark.parametrize("tube", ["red ochre", "cadmium red", "yellow ochre", "cadmium orange", "venetian red"])
    def test_white_cools_and_greys(self, palette, tube):
        tints = [{tube: 1, "titanium white": white} for white in (1, 4, 12)]
        for lab in [lab_of(tints), *([lab_of(tints, palette)] if tube in palette.model.tubes else [])]:
            assert np.all(np.diff(warmth(lab)) < 0)
            assert np.all(np.diff(lab_to_lch(lab)[:, 1]) < 0)
            assert np.all(np.diff(lab[:, 0]) > 0)

    def test_burnt_sienna_and_ultramarine_balance_to_near_black(self, palette):
        mixtures = [{"burnt sienna": ratio, "ultramarine blue": 1.0} for ratio in np.geomspace(0.2, 5, 25)]
        for lab in (lab_of(mixtures), lab_of(mixtures, palette)):
            most_neutral = lab[lab_to_lch(lab)[:, 1].argmin()]
            assert lab_to_lch(most_neutral)[1] < 5
            assert most_neutral[0] < 30

    @pytest.mark.parametrize("weak", ["red ochre", "light red", "yellow ochre"])
    def test_cadmiums_tint_strongly(self, weak):
        tints = [{"titanium white": 20, tube: 1} for tube in ("cadmium red", weak)]
        white, strong, other = lab_of([{"titanium white": 1}, *tints])
        assert delta_e_2000(white, strong) > 1.2 * delta_e_2000(white, other)

    def test_cadmium_yellow_reddens_from_light_to_deep(self):
        names = ("cadmium lemon", "cadmium yellow light", "cadmium yellow", "cadmium yellow deep", "cadmium orange")
        lab = lab_of([{name: 1} for name in names])
        assert np.all(np.diff(lab[:, 1]) > 0)
        assert np.all(np.diff(lab_to_lch(lab)[:, 2]) < 0)


def test_of_a_large_archive_the_latest_and_the_rare_are_learnt_from(palette, monkeypatch):
    from swatchread.palette import fitted_palette as module

    samples = palette.collected.samples
    monkeypatch.setattr(module, "MOST_SWATCHES", 60)
    monkeypatch.setattr(module, "MOST_OF_TUBE", 10)
    kept = module._latest(samples)
    assert 60 <= len(kept) < 60 + 10 * len(samples.tubes)
    assert kept.names[-60:] == samples.names[-60:]
    assert kept.used.sum(axis=0).min() >= 10
