"""The light on the card: what lies under card and chart shows whether both lie in the same light."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import rim_difference, sample_chart
from swatchread.correction.card_light import witness_card_light
from swatchread.correction.light_on_card import CardLight
from swatchread.correction.light_witness import RingLight, ask_surface
from swatchread.note.phrases import know_before_mixing
from swatchread.photo import load_photo
from swatchread.sampling.surroundings import sample_surroundings
from tests.bench.matching import match
from tests.scene import SceneSpec

SIZE = {"width": 1200, "height": 900, "rows": 4, "columns": 3, "chart_fraction": 0.3, "tubes": 0, "brushes": 0}
SHADE = {"shadow": "whole-card", "shadow_depth": 0.4, "shadow_width": 0.03}


def off_in_lightness(read, scene):
    """Return how much L* reads above the truth, one number a swatch."""
    swatches = read.note.swatches
    pairs = match(np.array([np.mean(s.outline, axis=0) for s in swatches]), scene.truth.swatches)
    assert len(pairs) == len(scene.truth.swatches)
    return np.array([swatches[i].lab[0] - scene.truth.swatches[j].lab[0] for i, j in pairs])


def codes(read):
    return {w.code for w in read.note.warnings}


@pytest.mark.parametrize("table", ["wood", "dark", "busy"])
def test_a_shadow_that_ends_between_card_and_chart_is_evened_out_and_told(reading, table):
    """Four tenths of the light gone make mid-tones nine L* too dark, and neither ground nor chart show it."""
    read, scene = reading(SceneSpec(seed=5, table=table, **SIZE, **SHADE))
    assert np.abs(np.median(off_in_lightness(read, scene))) < 1.5
    assert "other_light" in codes(read)
    assert read.calibration.card_light.step == pytest.approx(np.log(0.6), abs=0.08)


def test_the_chart_in_the_shade_is_evened_out_too(reading):
    read, scene = reading(SceneSpec(seed=5, **SIZE, **(SHADE | {"shadow": "whole-chart"})))
    assert np.abs(np.median(off_in_lightness(read, scene))) < 1.5
    assert "other_light" in codes(read)


@pytest.mark.parametrize("table", ["wood", "dark", "busy", "white"])
def test_even_light_is_not_doubted(reading, table):
    read, _ = reading(SceneSpec(seed=5, table=table, **SIZE))
    assert "other_light" not in codes(read)
    assert read.calibration.card_light.step == 0.0
    assert read.calibration.card_light.proven


def test_without_a_surface_in_common_the_uncertainty_grows(reading):
    spec = SceneSpec(seed=5, under="apart", sheet="buff", table="dark", **SIZE)
    (apart, _), (one, _) = (reading(s) for s in (spec, replace(spec, under="sheet")))
    assert not apart.calibration.card_light.proven
    stated = [np.median([s.uncertainty.L for s in read.note.swatches]) for read in (apart, one)]
    assert stated[0] > 1.2 * stated[1]
    assert not apart.note.card.light_shown
    assert any("one plain sheet" in line for line in know_before_mixing(apart.note))
    assert one.note.card.light_shown


@pytest.mark.parametrize("depth", [0.15, 0.3])
def test_a_shadow_on_a_toned_card_on_a_surface_of_its_own_is_within_twice_the_uncertainty(reading, depth):
    """No paper's colour and no common surface tells of it."""
    spec = SceneSpec(seed=5, ground="toned", under="apart", sheet="buff", table="dark", **(SIZE | SHADE))
    read, scene = reading(replace(spec, shadow_depth=depth))
    stated = np.median([s.uncertainty.L for s in read.note.swatches])
    assert abs(np.median(off_in_lightness(read, scene))) < 2.0 * stated


def test_white_paper_on_a_surface_of_its_own_shows_that_the_light_is_the_charts(reading):
    """White papers differ by L* 91 to 99 (common practice), so that a white ground tells more than a grey one."""
    spec = SceneSpec(seed=5, under="apart", sheet="buff", table="dark", **SIZE)
    white, grey = (reading(replace(spec, ground=ground))[0] for ground in ("white", "grey"))
    doubts = [read.calibration.card_light.doubt for read in (white, grey)]
    assert doubts[0] < 0.5 * doubts[1]
    assert "other_light" not in codes(white) | codes(grey)


def test_the_ring_that_lies_on_the_sheet_is_asked_where_the_sheet_ends_close_by():
    """A sheet that is little larger than the card lies on a cloth; the chart lies on the sheet alone."""
    rng = np.random.default_rng(5)
    sheet = RingLight(np.full((600, 3), 0.6) * np.exp(rng.normal(0, 0.01, (600, 1))), np.zeros(600), angles(rng, 600))
    cloth = ring(rng, 0.0, count=2400)
    shaded = replace(sheet, xyz=sheet.xyz * 0.7)
    broad = RingLight(
        np.concatenate([shaded.xyz, cloth.xyz]), np.zeros(3000), np.concatenate([shaded.bearing, cloth.bearing])
    )
    assert ask_surface([(broad, sheet)]).shift != pytest.approx(np.log(0.7), abs=0.1)
    assert ask_surface([(shaded, sheet), (broad, sheet)]).shift == pytest.approx(np.log(0.7), abs=0.02)


def angles(rng, count):
    return rng.uniform(-np.pi, np.pi, count)


def test_a_witness_of_another_surface_is_not_believed_against_the_paper(reading):
    """A table twice as bright under the card would make the white ground a middle grey, if it told of the light."""
    read, _ = reading(SceneSpec(seed=5, under="apart", sheet="grey", table="white", **SIZE))
    assert "other_light" not in codes(read)
    assert read.calibration.card_light.step == 0.0


def ring(rng, log_light, weights=(0.5, 0.3, 0.2), count=2000):
    """Return a patterned cloth of three dyes in some light."""
    dyes = np.array([[0.2, 0.2, 0.15], [0.5, 0.5, 0.5], [0.08, 0.1, 0.2]])[rng.choice(3, count, p=weights)]
    xyz = dyes * np.exp(rng.normal(0.0, 0.04, (count, 1)) + log_light)
    return RingLight(xyz, np.zeros(count), rng.uniform(-np.pi, np.pi, count))


@pytest.mark.parametrize("light", [-0.7, -0.16, 0.0, 0.4])
def test_the_shift_between_two_samples_of_a_pattern_is_their_difference_in_light(light):
    rng = np.random.default_rng(3)
    seen = ask_surface([(ring(rng, light, weights=(0.3, 0.4, 0.3)), ring(rng, 0.0))])
    assert seen.shift == pytest.approx(light, abs=0.02)
    assert seen.low - 0.01 < light < seen.high + 0.01


def test_other_colours_are_no_common_surface():
    rng = np.random.default_rng(3)
    red = ring(rng, 0.0)
    assert ask_surface([(replace(red, xyz=red.xyz * [1.6, 1.0, 0.3]), ring(rng, 0.0))]) is None


@pytest.mark.parametrize("tint", [(1.15, 1.0, 0.75), (0.85, 1.0, 0.85), (1.0, 1.0, 1.0)])
def test_light_of_another_tint_on_the_same_surface_is_told_as_that(tint):
    """Warm light, green light (which leaves X/Z as it is), and light that differs in nothing but its amount."""
    rng = np.random.default_rng(3)
    card = ring(rng, -0.3)
    seen = ask_surface([(replace(card, xyz=card.xyz * tint), ring(rng, 0.0))])
    assert seen.tinted == (tint != (1.0, 1.0, 1.0))
    assert seen.shift == pytest.approx(-0.3, abs=0.03)


def test_a_surface_without_noise_is_sure_but_not_beyond_measure():
    """A drawing has surfaces of one value, so that all resamples agree."""
    plain = RingLight(np.full((400, 3), 0.3), np.zeros(400), np.linspace(-3.0, 3.0, 400))
    seen = ask_surface([(replace(plain, xyz=plain.xyz * 0.5), plain)])
    assert seen.shift == pytest.approx(np.log(0.5), abs=0.02)
    assert 0.0 < seen.error < 0.02


def test_a_surface_in_two_lights_has_no_single_shift():
    rng = np.random.default_rng(3)
    cloth = ring(rng, 0.0)
    half = np.where(cloth.bearing > 0.3, 0.0, -0.5)
    seen = ask_surface([(replace(cloth, xyz=cloth.xyz * np.exp(half)[:, None]), ring(rng, 0.0))])
    assert seen.error > 0.1


@pytest.mark.parametrize("kind", ["bilateral", "pyramid"])
def test_local_tone_mapping_is_told_and_raises_the_uncertainty(reading, kind):
    spec = SceneSpec(seed=11, tone="phone-contrast", **(SIZE | {"width": 1600, "height": 1200}))
    mapped = replace(spec, local_tone_kind=kind, local_tone=0.4)
    (spoiled, _), (plain, _) = (reading(s) for s in (mapped, spec))
    assert "local_tone" in codes(spoiled) - codes(plain)
    stated = [np.median([s.uncertainty.L for s in read.note.swatches]) for read in (spoiled, plain)]
    assert stated[0] > 2.0 * stated[1]


def test_a_second_chart_beside_the_card_tells_its_light(reading):
    """Both charts are read, and the nearer one to the card says how its light differs."""
    read, scene = reading(SceneSpec(seed=5, second_chart=True, under="apart", sheet="buff", table="dark", **SIZE))
    assert "second_chart" in codes(read)
    assert np.abs(np.median(off_in_lightness(read, scene))) < 1.5


def test_a_card_that_is_larger_than_was_seen_is_not_taken_for_a_shaded_table(reading):
    """A grey card on a lighter sheet: most places that pass for the sheet beside it lie on its own rim."""
    read, _ = reading(SceneSpec(seed=5, ground="grey", under="sheet", sheet="buff", **SIZE))
    fresh = replace(read.calibration, card_light=CardLight())
    by_card, by_chart = sample_surroundings(read.sample.card)
    points, seen = by_card.samples.points, by_card.samples.linear.copy()
    most = points[:, 1] < np.quantile(points[:, 1], 0.55)
    nearest = np.linalg.norm(points[most, None] - fresh.ground_points[None], axis=-1).argmin(axis=1)
    seen[most] = fresh.ground_linear[nearest]
    on_card = replace(by_card, samples=replace(by_card.samples, linear=seen))
    light = witness_card_light(fresh, read.sample.places, (on_card, by_chart)).card_light
    assert light.step == 0.0
    assert light.differs == 0.0


@pytest.mark.parametrize("softness", [{"defocus": 12.0}, {"iso": 800.0, "denoise": 1.0}], ids=["blurred", "grainy"])
def test_blur_and_grain_are_not_taken_for_local_tone_mapping(photograph, softness):
    """Blur takes the dark frame's share into the rims; denoising leaves grain in patches as large as they are."""
    path, _ = photograph(SceneSpec(seed=11, **SIZE, **softness))
    assert rim_difference(sample_chart(find_chart(load_photo(path), load_chart()))) < 0.0017
