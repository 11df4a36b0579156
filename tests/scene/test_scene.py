"""Self-checks of the scene simulator against data and readers from outside it."""

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from PIL import Image, ImageOps
from scipy.ndimage import map_coordinates, uniform_filter
from skimage.draw import polygon2mask

from . import SceneSpec, draw, finding_spec, paints, pair_specs, save, spectra

SMALL = (1000, 750)
PLAIN = SceneSpec(
    seed=5, width=1000, height=750, tone="plain", saturation=1.0, sharpening=0.0, iso=20.0, vignetting=0.1, light="D50",
    white_balance="correct", fall_off=0.2, ground="grey", brush=0.02, rows=4, columns=3, chart_fraction=0.4,
)  # fmt: skip


@cache
def scene_of(spec):
    return draw(spec)


def patch_means(image, centres, reach=4):
    """Mean of small squares about points (n, 2) of an image (h, w, 3) in 0…1."""
    x, y = np.round(centres).astype(int).T
    return uniform_filter(image, (2 * reach + 1, 2 * reach + 1, 1))[y, x]


# --- spectra and paints


def test_chart_lab_agrees_with_published_coordinates():
    """colour-science carries xyY (CIE D50) of the same averaged chart: "BabelColor Average", its CCS data set."""
    import colour

    published = colour.CCS_COLOURCHECKERS["BabelColor Average"]
    xyz = colour.xyY_to_XYZ(np.array(list(published.data.values())))
    lab = colour.XYZ_to_Lab(xyz, published.illuminant)
    ours = spectra.lab_of(spectra.chart_reflectances())
    assert spectra.delta_e_2000(lab, ours).mean() < 0.5
    assert spectra.delta_e_2000(lab, ours[::-1]).mean() > 20  # the comparer's known-bad pair


@pytest.mark.parametrize("light", ["D50", "D65", "A", "FL2", "FL11"])
def test_lights_have_their_published_chromaticity(light):
    """CIE 15 chromaticities of the illuminants as carried by colour-science; 5-nm sums to 730 nm leave about 0.001."""
    import colour

    xyz = spectra.xyz_of(np.ones(71), light)
    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"][light]
    np.testing.assert_allclose(xyz[:2] / xyz.sum(), published, atol=0.002)


def test_mixing_keeps_energy_and_the_trades_rules():
    """Reflectance stays in 0…1; white lightens every tube and a tint of red or blue is cooler (common practice)."""
    for tube in paints.tubes():
        alone, tint = paints.mix({tube: 1}), paints.mix({tube: 1, "titanium white": 3})
        assert (alone > 0).all()
        assert (tint < 1).all()
        if tube != "titanium white":
            assert spectra.lab_of(tint)[0] > spectra.lab_of(alone)[0] + 2
    red, pink = (spectra.lab_of(paints.mix(p)) for p in ({"cadmium red": 1}, {"cadmium red": 1, "titanium white": 8}))
    assert np.arctan2(*pink[[2, 1]]) < np.arctan2(*red[[2, 1]])  # turned from yellow towards blue


# --- the picture


def test_same_seed_same_picture():
    spec = replace(PLAIN, width=400, height=300)
    first, again, other = (draw(s).rgb.astype(int) for s in (spec, spec, replace(spec, seed=6)))
    assert np.abs(first - again).max() <= 1
    assert np.abs(first - other).max() > 1


@pytest.mark.parametrize("change", [{}, {"local_tone": 0.25, "fall_off": 0.35}, {"mirrored": True}])
def test_pixels_lead_back_to_the_true_camera_values(change):
    """Energy check: undoing rendering and light at patches and swatches gives ∫ light · reflectance · sensor."""
    scene = scene_of(replace(PLAIN, **change))
    truth, image = scene.truth, scene.rgb / 255.0
    for centres, camera in (
        (truth.chart_patches_px, truth.chart_camera),
        (np.array([s.centre_px for s in truth.swatches]), np.array([s.camera for s in truth.swatches])),
    ):
        means = patch_means(image, centres, 8)
        seen = scene.undo_rendering(means, centres) / scene.light_at(centres)[:, None]
        clear = ((camera > 0.03) & (means > 0.02)).all(-1)
        assert clear.sum() > len(camera) // 2
        np.testing.assert_allclose(seen[clear], camera[clear], rtol=0.06)
        assert np.median(np.abs(seen[clear] / camera[clear] - 1)) < 0.012
    white = spectra.chart_reflectances()[18, 14:55]  # 450…650 nm, where green sees
    assert white.min() < truth.chart_camera[18, 1] < white.max()


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"chart_turn": 137.0, "tilt": 35.0},
        {"mirrored": True},
        {"portrait": True, "distortion": 0.03},
        {"chart_turn": 270.0},
    ],
)
def test_chart_corners_lie_on_the_drawn_edges(change):
    """The grey steps' edges, found in the pixels as half-way crossings, lie within half a pixel of the truth."""
    scene = draw(replace(PLAIN, **change))
    grey = scene.rgb[..., 1].astype(float)
    corners = scene.truth.chart_outlines_px[18]  # white: dark surround on all sides
    middle = corners.mean(0)
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        edge = (a + b) / 2
        out = (edge - middle) / np.hypot(*(edge - middle))
        along = np.arange(-6, 6, 0.05)
        line = map_coordinates(grey, (edge + along[:, None] * out).T[::-1], order=1)
        linear = (line / 255) ** 2.2
        half = (linear[:20].mean() + linear[-20:].mean()) / 2
        assert abs(along[np.argmin(np.abs(linear - half))]) < 0.5
    assert grey[tuple(np.round(middle).astype(int)[::-1])] > 180


def test_swatch_outlines_match_the_pixels():
    """Inside the outline the picture has the swatch's colour, outside the ground's: intersection over union."""
    scene = scene_of(replace(PLAIN, writing="none"))
    image = scene.rgb.astype(float)
    for swatch in scene.truth.swatches:
        low = np.floor(swatch.outline_px.min(0)).astype(int) - 6
        high = np.ceil(swatch.outline_px.max(0)).astype(int) + 7
        part = image[low[1] : high[1], low[0] : high[0]]
        inner, ground = part[len(part) // 2, part.shape[1] // 2], part[1, 1]
        painted = np.linalg.norm(part - inner, axis=-1) < np.linalg.norm(part - ground, axis=-1)
        mask = polygon2mask(painted.shape, (swatch.outline_px - low)[:, ::-1])
        assert (painted & mask).sum() / (painted | mask).sum() > 0.88, swatch.id


@pytest.mark.parametrize(("orientation", "portrait"), [(1, False), (3, False), (6, True), (8, True)])
def test_exif_turn_restores_the_view(tmp_path, orientation, portrait):
    """Pillow's own EXIF turn brings the stored pixels back to the view in which truth is given."""
    scene = draw(replace(PLAIN, width=400, height=300, exif_orientation=orientation, portrait=portrait))
    with Image.open(save(scene, tmp_path / "a.png")) as stored:
        assert stored.size == (400, 300)
        turned = np.asarray(ImageOps.exif_transpose(stored))
    assert (turned == scene.rgb).all()
    assert scene.truth.size_px == turned.shape[1::-1]


def test_shadow_glare_and_cover_are_in_truth_and_picture():
    spec = replace(PLAIN, chart_covered=3, chart_glare=0.4, shadow="card", shadow_depth=0.6)
    scene = draw(spec)
    assert scene.truth.chart_covered.sum() == 3
    assert 0.05 < scene.truth.chart_glare.max() <= 0.4
    lights = np.array([s.light for s in scene.truth.swatches])
    assert lights.min() < 0.65 * lights.max()
    hidden, image = scene.truth.chart_covered, scene.rgb / 255.0
    seen = scene.undo_rendering(patch_means(image, scene.truth.chart_patches_px), scene.truth.chart_patches_px)
    wanted = (scene.truth.chart_camera + scene.truth.chart_glare[:, None]) * scene.truth.chart_light[:, None]
    off = np.abs(seen - wanted).max(1)
    assert off[~hidden].max() < off[hidden].min() + 0.05
    cut = draw(replace(PLAIN, chart_cut=0.4, width=400, height=300)).truth
    assert cut.chart_covered.sum() >= 4


# --- samplers


@pytest.mark.parametrize("seed", range(3))
def test_everything_lies_in_the_frame(seed):
    truth = draw(finding_spec(seed, (600, 450))).truth
    for points in (truth.chart_corners_px, truth.card_corners_px):
        assert (points >= 0).all()
        assert (points <= np.array(truth.size_px) - 1).all()
    assert truth.spec.rows * truth.spec.columns == len(truth.swatches) + len(truth.missing)
    back = json.loads(truth.to_json())
    assert back["swatches"][0]["id"] == truth.swatches[0].id
    assert len(back["chart_patches_px"]) == 24


def test_a_pair_is_one_card_with_true_shifts():
    before, after = (draw(s).truth for s in pair_specs(2, 2.5, (400, 300)))
    shifts = np.array([b.lab[0] - a.lab[0] for a, b in zip(before.swatches, after.swatches, strict=True)])
    assert set(np.round(np.abs(shifts), 3)) == {0.0, 2.5}
    assert [s.id for s in before.swatches] == [s.id for s in after.swatches]
    assert before.swatches[0].recipe == after.swatches[0].recipe
