"""Self-checks of the files the simulator writes, by readers from outside it."""

import io
from dataclasses import replace

import numpy as np
import pytest

from . import camera, draw, icc, save, save_dng
from .test_scene import PLAIN, patch_means


@pytest.mark.parametrize(("orientation", "portrait"), [(1, False), (3, False), (6, True), (8, True)])
def test_exif_turn_restores_the_view(tmp_path, orientation, portrait):
    """Pillow's own EXIF turn brings the stored pixels back to the view in which truth is given."""
    from PIL import Image, ImageOps

    scene = draw(replace(PLAIN, width=400, height=300, exif_orientation=orientation, portrait=portrait))
    with Image.open(save(scene, tmp_path / "a.png")) as stored:
        assert stored.getexif()[274] == orientation
        assert stored.getexif().get_ifd(0x8769)[36867].startswith("2024:11:16")
        turned = np.asarray(ImageOps.exif_transpose(stored))
        assert stored.size == (400, 300)
    assert (turned == scene.rgb).all()
    assert scene.truth.size_px == turned.shape[1::-1]


@pytest.mark.parametrize("space", ["sRGB", "Display P3", "opRGB"])
def test_icc_profiles_lead_to_the_colours_that_colour_science_gives(space):
    """Little CMS reads each profile and takes colours to its Lab."""
    import colour
    from PIL import Image, ImageCms

    profile = ImageCms.ImageCmsProfile(io.BytesIO(icc.profile(space)))
    codes = np.random.default_rng(1).integers(0, 256, (40, 3)).astype(np.uint8)
    to_lab = ImageCms.buildTransform(profile, ImageCms.createProfile("LAB"), "RGB", "LAB", renderingIntent=1)
    packed = np.asarray(ImageCms.applyTransform(Image.fromarray(codes[None]), to_lab))[0].astype(float)
    lab = packed * [100 / 255, 1, 1]
    lab[:, 1:] -= 256 * (lab[:, 1:] > 127)
    d50 = np.array([0.3457, 0.3585])
    space = camera.colour_space(space)
    xyz = colour.RGB_to_XYZ(
        codes / 255,
        camera.colour_space(space),
        d50,
        chromatic_adaptation_transform="Bradford",
        apply_cctf_decoding=True,
    )
    wanted = colour.XYZ_to_Lab(xyz, d50)
    assert np.abs(lab - wanted).max() < 1.2  # 8-bit Lab rounds by 0.5
    assert np.median(np.abs(lab - wanted)) < 0.5


@pytest.mark.parametrize("mosaic", [True, False])
@pytest.mark.parametrize(("orientation", "portrait"), [(1, False), (6, True)])
def test_dng_opens_in_libraw_with_true_values(tmp_path, mosaic, orientation, portrait):
    """LibRaw's linear, unbalanced output at the patches is sensor exposure × light × camera values."""
    import rawpy

    scene = draw(replace(PLAIN, width=640, height=480, exif_orientation=orientation, portrait=portrait))
    truth = scene.truth
    with rawpy.imread(str(save_dng(scene, tmp_path / "a.dng", mosaic=mosaic))) as raw:
        developed = raw.postprocess(
            gamma=(1, 1), no_auto_bright=True, output_bps=16, output_color=rawpy.ColorSpace.raw, user_wb=[1, 1, 1, 1],
            adjust_maximum_thr=0.0,
        )  # fmt: skip
        balance = np.array(raw.camera_whitebalance[:3])
    assert developed.shape[1::-1] == truth.size_px
    seen = patch_means(developed / 65535, truth.chart_patches_px)
    wanted = truth.chart_camera * truth.chart_light[:, None] * scene.rendering.exposure
    bright = wanted > 0.05
    np.testing.assert_allclose((seen / wanted)[bright], 1, rtol=0.04)
    np.testing.assert_allclose(balance / balance[1], scene.rendering.gains / scene.rendering.gains[1], rtol=1e-3)
