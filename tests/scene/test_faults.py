"""Self-checks of a photo's ordinary faults: what is drawn is what the truth says."""

import subprocess
import sys
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from . import charts, draw, easy_spec, faults, files, layout, light, local_tone, overlay, save, shade, spectra
from .camera import responses
from .test_scene import PLAIN, patch_means
from .view import turn

SHADOWS = [(what, edge) for what in ("whole-card", "whole-chart", "beside") for edge in ("straight", "curved", "band")]


# --- shadows and what lies under both


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("what", "edge"), SHADOWS)
def test_a_whole_shadow_parts_card_and_chart(what, edge, seed):
    """A sharp shadow leaves every swatch on one side of its edge and every patch on the other."""
    spec = replace(easy_spec(seed, (400, 300)), shadow_depth=0.3, shadow_width=1e-4, fall_off=0.0, vignetting=0.0)
    plan = layout.make_plan(spec)
    lit = light.make_light(replace(spec, shadow=what, shadow_edge=edge), plan)
    outlines = np.vstack([cell.outline_mm for cell in plan.cells])
    on_card, on_chart = (
        lit.at_px(plan.view.project(mm)) for mm in (outlines, layout.chart_patches(spec).reshape(-1, 2))
    )
    np.testing.assert_allclose(on_card, 0.7 if what == "whole-card" else 1.0, atol=1e-6)
    np.testing.assert_allclose(on_chart, 0.7 if what == "whole-chart" else 1.0, atol=1e-6)
    around = plan.view.unproject(np.random.default_rng(seed).uniform([-400, -300], [800, 600], (4000, 2)))
    shares = lit.at_px(plan.view.project(around))
    assert shares.min() < 0.71  # the table has both, so that the edge can be seen
    assert shares.max() > 0.99


def test_a_bent_edge_is_a_circle_through_its_point():
    edge = shade.Edge(np.array([3.0, 4.0]), np.array([0.0, 1.0]), -1 / 50)
    circle = np.array([3.0, 4.0 - 50]) + 50 * np.array([[0.6, 0.8], [-0.8, 0.6], [0, -1]])
    np.testing.assert_allclose(edge.inside(circle), 0, atol=1e-9)
    assert edge.inside(np.array([[3.0, 5.0]])) == pytest.approx(1.0)


@given(
    size=st.tuples(*[st.floats(20, 400)] * 4), gap=st.floats(3, 60), slide=st.floats(-100, 100),
    turned=st.floats(0, 360), seed=st.integers(0, 9999),
)  # fmt: skip
@settings(deadline=None, max_examples=60)
def test_an_edge_fits_between_any_two_things_that_lie_apart(size, gap, slide, turned, seed):
    first = turn(layout.box(np.zeros(2), np.array(size[:2])), turned)
    second = turn(layout.box(np.zeros(2), np.array(size[2:])) + [size[0] + gap, slide], turned)
    rng = np.random.default_rng(seed)
    edge = shade.between(rng, first, second)
    for made in (edge, shade.bent(rng, edge, first, second)):
        assert made.inside(first).min() > 0
        assert made.inside(second).max() < 0
    with pytest.raises(ValueError, match="no straight edge"):
        shade.between(rng, first, first)


@pytest.mark.parametrize("what", ["whole-card", "whole-chart"])
@pytest.mark.parametrize("edge", ["straight", "curved", "band"])
def test_pixels_show_the_shadow_that_truth_tells(what, edge):
    """Undone without the light, swatches and patches are darker by just the light that the truth gives them."""
    scene = draw(replace(PLAIN, shadow=what, shadow_edge=edge, shadow_depth=0.4, shadow_width=0.02, under="sheet"))
    truth, image = scene.truth, scene.rgb / 255.0
    for points, camera, share, dark in (
        (
            np.array([s.centre_px for s in truth.swatches]),
            np.array([s.camera for s in truth.swatches]),
            np.array([s.light for s in truth.swatches]),
            what == "whole-card",
        ),
        (truth.chart_patches_px, truth.chart_camera, truth.chart_light, what == "whole-chart"),
    ):
        assert np.all((share < 0.7) == dark)
        means = patch_means(image, points, 8)
        seen = scene.undo_rendering(means, points)
        clear = ((camera > 0.03) & (means > 0.03)).all(-1)
        assert np.median(np.abs(seen[clear] / camera[clear] / share[clear][:, None] - 1)) < 0.02


def test_a_tinted_shadow_lets_the_second_light_fill_in():
    """Swatches in the shade have the light's share of each spectrum; the chart, in the sun, has only the first."""
    spec = replace(PLAIN, shadow="whole-card", shadow_depth=0.4, shadow_width=1e-3, second_light="A", second_share=0.5,
                   second_where="shadow")  # fmt: skip
    scene = draw(spec)
    centres = np.array([s.centre_px for s in scene.truth.swatches])
    means = patch_means(scene.rgb / 255.0, centres, 8)
    seen = scene.undo_rendering(means, centres) / scene.light_at(centres)[:, None]
    paint = np.array([s.reflectance for s in scene.truth.swatches])
    true = (responses(paint, spec.camera, "D50") + responses(paint, spec.camera, "A")) / 2
    clear = ((true > 0.03) & (means > 0.02)).all(-1)
    assert np.median(np.abs(seen[clear] / true[clear] - 1)) < 0.02
    known = responses(spectra.chart_reflectances(), spec.camera, "D50")
    np.testing.assert_allclose(scene.truth.chart_camera, known, rtol=1e-5)


@pytest.mark.parametrize(("under", "same"), [("sheet", True), ("apart", False)])
def test_what_lies_under_both_is_one_surface_or_two(under, same):
    """Just outside the chart and just outside the card, the surface has one colour where a sheet lies under both."""
    spec = replace(PLAIN, under=under, sheet="buff", fall_off=0.0, table="dark", shadow="none", chart_side="left")
    scene, plan = draw(spec), layout.make_plan(spec)
    chart, card = shade.frame_mm(plan), plan.card_mm
    places = plan.view.project(np.array([chart[:2].mean(0) + [0, -7], card[:2].mean(0) + [0, -7]]))
    beside = scene.undo_rendering(patch_means(scene.rgb / 255.0, places, 2), places)
    beside /= scene.light_at(places)[:, None]
    assert (np.abs(beside[0] / beside[1] - 1).max() < 0.03) == same


# --- local tone mapping


@pytest.mark.parametrize("kind", sorted(local_tone.KINDS))
def test_local_tone_shrinks_the_range_and_is_undone_exactly(kind):
    """Darks are lifted against lights by the share that was asked for; undone with the gains, truth comes back."""
    mapped = replace(PLAIN, local_tone=0.35, local_tone_kind=kind, width=1200, height=900)
    scene = draw(mapped)
    truth, image = scene.truth, scene.rgb / 255.0
    for points, camera in (
        (truth.chart_patches_px, truth.chart_camera),
        (np.array([s.centre_px for s in truth.swatches]), np.array([s.camera for s in truth.swatches])),
    ):
        means = patch_means(image, points, 5)
        seen = scene.undo_rendering(means, points) / scene.light_at(points)[:, None]
        clear = ((camera > 0.03) & (means > 0.02) & (means < 0.98)).all(-1)
        assert clear.sum() > len(camera) // 2
        assert np.median(np.abs(seen[clear] / camera[clear] - 1)) < 0.02
    greys = truth.chart_camera[18:24, 1] * truth.chart_light[18:24]
    gains = scene.gain_at(truth.chart_patches_px[18:24])
    slope = np.polyfit(np.log(greys), np.log(gains), 1)[0]
    assert -0.55 < slope < -0.1


@pytest.mark.parametrize("kind", sorted(local_tone.KINDS))
def test_local_tone_renders_one_grey_unlike_beside_other_surroundings(kind):
    """A grey on a dark and on a light field, in the same light: the mapping tells them apart, a curve could not."""
    seen = np.random.default_rng(3).normal(0, 0.2, (240, 320)) + np.log(0.15)
    seen[:, 160:] += np.log(0.5 / 0.15)
    seen[116:125, 76:85] = seen[116:125, 236:245] = np.log(0.28)
    made = local_tone.KINDS[kind](seen.astype(np.float32), 0.4, np.random.default_rng(2))
    assert abs(made[120, 80] - made[120, 240]) > 0.03


def test_local_laplacian_without_strength_changes_nothing():
    seen = np.random.default_rng(1).normal(size=(96, 130)).astype(np.float32)

    class Plain:
        def uniform(self, _, high):
            return high  # a power of 1: detail stays as it is

    np.testing.assert_allclose(local_tone.pyramid(seen, 0.0, Plain()), seen, atol=1e-4)


# --- what lies there, and where the frame ends


@pytest.mark.parametrize("seed", range(4))
def test_a_cut_card_has_one_line_outside_and_its_chart_inside(seed):
    spec = faults.spoiled(faults.ordinary_spec(seed, (400, 300)), "cut")
    truth = draw(replace(spec, card_cut=1.0)).truth
    size = np.array(truth.size_px) - 1
    assert ((truth.chart_corners_px >= 0) & (truth.chart_corners_px <= size)).all()
    lost = {s.id for s in truth.swatches if s.shown < 0.5}
    side = {"top": 1, "bottom": spec.rows, "left": 1, "right": spec.columns}[spec.card_cut_side]
    row = spec.card_cut_side in ("top", "bottom")
    there = {s.id for s in truth.swatches if (s.row if row else s.column) == side}
    assert lost == there
    assert all(((s.centre_px < 0) | (s.centre_px > size)).any() for s in truth.swatches if s.id in lost)


@pytest.mark.parametrize("seed", range(6))
def test_two_cards_and_the_chart_lie_apart(seed):
    plan = layout.make_plan(faults.spoiled(faults.ordinary_spec(seed, (400, 300)), "two-cards"))
    shapes = [np.float32(mm) for mm in (plan.card_mm, plan.second.card_mm, shade.frame_mm(plan))]
    for one, other in ((0, 1), (0, 2), (1, 2)):
        assert cv2.intersectConvexConvex(shapes[one], shapes[other])[0] == 0


def test_two_cards_are_drawn_in_their_true_colours():
    scene = draw(replace(PLAIN, second_card=True, table="dark"))
    image = scene.rgb / 255.0
    for some in (scene.truth.swatches, scene.truth.second_card):
        centres, camera = np.array([s.centre_px for s in some]), np.array([s.camera for s in some])
        seen = scene.undo_rendering(patch_means(image, centres, 5), centres) / scene.light_at(centres)[:, None]
        assert np.median(np.abs(seen / camera - 1)) < 0.02
    assert not np.allclose(scene.truth.swatches[0].lab, scene.truth.second_card[0].lab, atol=0.5)


@pytest.mark.parametrize("make", ["faded", "yellowed", "copy"])
def test_a_changed_chart_is_as_far_off_as_was_asked_for(make):
    known = spectra.chart_reflectances()
    made = charts.changed(known, make, 4.0, np.random.default_rng(5))
    lab, now = spectra.lab_of(known), spectra.lab_of(made)
    assert spectra.delta_e_2000(lab, now).mean() == pytest.approx(4.0, abs=1e-6)
    assert ((made > 0) & (made < 1)).all()
    chroma, chroma_now = np.hypot(*lab.T[1:]), np.hypot(*now.T[1:])
    if make == "faded":
        assert (chroma_now < chroma + 0.5)[:18].all()
    if make == "yellowed":
        assert (now[18:, 2] > lab[18:, 2] + 1).all()


def test_the_large_chart_holds_what_looks_like_the_classic_one():
    made = charts.large_reflectances()
    middle = made.reshape(10, 14, -1)[2:6, 4:10].reshape(24, -1)
    off = spectra.delta_e_2000(spectra.lab_of(middle), spectra.lab_of(spectra.chart_reflectances()))
    assert 3 < off.mean() < 4
    truth = draw(replace(PLAIN, chart_kind="large")).truth
    assert truth.chart_patches_px.shape == (140, 2)
    np.testing.assert_allclose(truth.chart_lab, spectra.lab_of(made))


# --- the finished photo and its file


@pytest.mark.parametrize("kind", ["icon", "text"])
def test_an_overlay_is_white_where_truth_says_that_something_is_hidden(kind):
    spec = replace(PLAIN, overlay=kind, overlay_over="chart")
    plain, marked = draw(PLAIN), draw(spec)
    alpha = overlay.opacity(spec, layout.make_plan(spec))
    assert (marked.rgb[alpha > 0.9] >= 229).all()  # nine tenths of white over black
    assert (marked.rgb[alpha == 0] == plain.rgb[alpha == 0]).all()
    hidden = marked.truth.chart_covered & ~plain.truth.chart_covered
    share = [cv2.mean(alpha, cv2.fillPoly(np.zeros(alpha.shape, np.uint8), [np.round(p).astype(int)], 1))[0]
             for p in marked.truth.chart_outlines_px]  # fmt: skip
    assert hidden.any() == (kind == "icon")  # thin letters leave more than nine tenths of each patch
    assert all(hidden[k] == (share[k] > 0.1) for k in range(24) if abs(share[k] - 0.1) > 0.02)


def test_a_phone_may_say_that_it_rendered_in_its_own_way(tmp_path):
    small = replace(PLAIN, width=400, height=300)
    for value in (0, 3):
        with Image.open(save(draw(replace(small, custom_rendered=value)), tmp_path / "a.jpg")) as photo:
            assert photo.getexif().get_ifd(0x8769).get(0xA401, 0) == value


@pytest.fixture(scope="module")
def jpeg(tmp_path_factory):
    return save(draw(PLAIN), tmp_path_factory.mktemp("photo") / "a.jpg")


def test_one_bit_is_turned_in_the_scan(jpeg):
    """The files differ in one bit; the libraries still take it for a JPEG of the same size."""
    bad = files.damaged(jpeg, "bit", np.random.default_rng(4))
    first, second = (np.frombuffer(p.read_bytes(), np.uint8) for p in (jpeg, bad))
    assert np.unpackbits(first ^ second).sum() == 1
    with Image.open(bad) as photo:
        assert photo.size == (PLAIN.width, PLAIN.height)


@pytest.mark.parametrize("how", ["short", "short tiff"])
def test_short_files_end_early(jpeg, how):
    """Pillow refuses them; the whole file it reads."""
    bad = files.damaged(jpeg, how, np.random.default_rng(4))
    with Image.open(jpeg) as photo:
        photo.load()
    with Image.open(bad) as photo, pytest.raises(OSError, match="truncated"):
        photo.load()


def test_the_same_seed_spoils_alike_in_another_process():
    """Hashes of strings differ between processes; what they spoil must not."""
    code = "from tests.scene import faults as f; print(f.spoiled(f.ordinary_spec(4), 'shade-on-card'))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert told.strip() == repr(faults.spoiled(faults.ordinary_spec(4), "shade-on-card"))
