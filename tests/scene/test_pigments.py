"""Self-checks of the paints that are shaped like real pigments."""

from dataclasses import replace

import numpy as np
import pytest

from . import camera, draw, paints, pigments, spectra
from .test_scene import PLAIN, patch_means


def _by_lamp(reflectances, light):
    """CIELAB (n, 3) under a light, adapted to D50 by Bradford's matrix: what an eye at home in that light sees."""
    one = np.ones(spectra.GRID_NM.size)
    adapt = camera.adaptation(spectra.xyz_of(one, light), spectra.xyz_of(one))
    return spectra.lab_of_xyz(spectra.xyz_of(reflectances, light) @ adapt.T)


def _greys(count):
    rng = np.random.default_rng(7)
    made = [pigments.grey_parts(rng, depth) for depth in np.linspace(0.1, 0.95, count)]
    return np.array([pigments.mixed(tuple(parts), list(parts.values())) for parts in made])


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [("cadmium yellow", 490, 520), ("cadmium orange", 540, 575), ("cadmium red", 590, 620), ("red earth", 565, 600)],
)
def test_edges_lie_where_handbooks_put_them(name, low, high):
    """Half-way rises of sulphoselenides and hematite in nm; from memory of pigment handbooks."""
    reflectance = pigments.mixed((name,), [1.0])
    seen = (spectra.GRID_NM > 450) & (spectra.GRID_NM < 650)
    middle = (reflectance[seen].min() + reflectance[seen].max()) / 2
    assert low < np.interp(middle, reflectance[seen], spectra.GRID_NM[seen]) < high


@pytest.mark.parametrize("name", [n for n in pigments.pigments() if n != pigments.WHITE])
def test_every_paint_is_lightened_by_white_and_stays_below_it(name):
    alone, tint, white = (
        pigments.mixed((name, pigments.WHITE), parts) for parts in ([1.0, 0.0], [1.0, 4.0], [0.0, 1.0])
    )
    assert ((alone > 0) & (tint < 1)).all()
    assert spectra.lab_of(alone)[0] + 2 < spectra.lab_of(tint)[0] < spectra.lab_of(white)[0]


def test_greys_of_complements_are_near_grey_and_are_not_flat():
    """A mixture of black and white keeps its colour under a lamp; a grey of complements shows the lamp."""
    greys = _greys(40)
    lab = spectra.lab_of(greys)
    assert np.quantile(np.hypot(lab[:, 1], lab[:, 2]), 0.8) < 10
    black = np.array([paints.mix({"titanium white": part, "ivory black": 1}) for part in np.geomspace(0.2, 60, 40)])
    for light in ("A", "FL2", "FL11", "LED-B1"):
        moved, still = (np.median(spectra.delta_e_2000(spectra.lab_of(r), _by_lamp(r, light))) for r in (greys, black))
        assert moved > 2 * still


def test_a_card_of_pigments_is_drawn_in_its_true_colours():
    scene = draw(replace(PLAIN, palette="pigments", light="FL11"))
    centres = np.array([s.centre_px for s in scene.truth.swatches])
    true = np.array([s.camera for s in scene.truth.swatches])
    means = patch_means(scene.rgb / 255.0, centres, 8)
    seen = scene.undo_rendering(means, centres) / scene.light_at(centres)[:, None]
    clear = ((true > 0.03) & (means > 0.02)).all(-1)
    assert clear.sum() > len(true) // 2
    assert np.median(np.abs(seen[clear] / true[clear] - 1)) < 0.015
    kinds = {s.is_flesh_or_earth for s in scene.truth.swatches}
    assert kinds == {True, False}
