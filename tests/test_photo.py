"""From a file to a photo: held against Pillow's turn, Little CMS, LibRaw, and files that are no photos."""

import hashlib
import io
import os
import struct
from dataclasses import replace

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms, ImageOps

from swatchread.colour.cielab import xyz_to_lab
from swatchread.errors import GreyPhotoError, PhotoError, PhotoTooLargeError, PhotoTooSmallError
from swatchread.photo import load, load_photo
from swatchread.photo.derived_pictures import shrunk
from swatchread.photo.icc_profile import UnreadableProfileError, assumed_srgb, encoding_of_profile
from swatchread.photo.nclx_profile import Nclx, encoding_of_nclx
from tests.scene import SceneSpec, draw, icc, save_dng

SMALL = SceneSpec(seed=5, width=640, height=480, light="D50", white_balance="correct", rows=3, columns=3, iso=20.0)


@pytest.fixture(scope="module")
def scene():
    return draw(SMALL)


def pixels(height=240, width=320, dtype=np.uint8):
    """Return a coloured, lopsided picture without edges that a JPEG would smear."""
    y, x = np.mgrid[0 : height - 1 : height * 1j, 0 : width - 1 : width * 1j]
    share = np.stack([x / width, y / height, 0.3 + 0.3 * x * y / width / height], axis=-1)
    return (share * np.iinfo(dtype).max).astype(dtype)


def written(tmp_path, name="photo.png", image=None, **options):
    path = tmp_path / name
    if path.suffix == ".heic":
        import pillow_heif

        pillow_heif.register_heif_opener()
    Image.fromarray(pixels() if image is None else image).save(path, **options)
    return path


def exif(**tags):
    made = Image.Exif()
    for number, value in {"orientation": 274, "make": 271, "model": 272}.items():
        if number in tags:
            made[value] = tags[number]
    if "taken" in tags:
        made.get_ifd(0x8769)[0x9003] = tags["taken"]
    return made


# --- turns


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", [".png", ".jpg", ".tif", ".heic"])
def test_exif_turns(tmp_path, orientation, suffix):
    """All eight of Exif 2.32, 4.6.4, as Pillow's own transposition turns them."""
    path = written(tmp_path, f"photo{suffix}", exif=exif(orientation=orientation), quality=95)
    photo = load_photo(path)
    with Image.open(path) as stored:
        wanted = np.asarray(ImageOps.exif_transpose(stored))
    assert (photo.height, photo.width) == wanted.shape[:2]
    assert np.abs(photo.pixels.astype(int) - wanted).max() <= (3 if suffix in {".jpg", ".heic"} else 0)
    middle = photo.small[photo.small.shape[0] // 4, photo.small.shape[1] // 4]
    there = photo.to_full(np.array([photo.small.shape[1] // 4, photo.small.shape[0] // 4], dtype=float))
    assert np.abs(middle.astype(int) - wanted[round(there[1]), round(there[0])]).max() <= 3


@pytest.mark.parametrize("nonsense", [0, 9, 65535])
def test_a_turn_that_does_not_exist_is_none(tmp_path, nonsense):
    assert load_photo(written(tmp_path, exif=exif(orientation=nonsense))).pixels.shape == (240, 320, 3)


# --- code points for colour


@pytest.mark.parametrize("suffix", [".heic", ".avif"])
def test_code_points_say_what_the_stored_values_are(tmp_path, suffix):
    """Display P3's matrix and sRGB's curve, as colour-science has them."""
    import colour

    path = written(tmp_path, f"photo{suffix}", quality=95)
    data = path.read_bytes()
    at = data.index(b"colrnclx") + 8
    assert load_photo(path).encoding.name == "sRGB"
    path.write_bytes(data[:at] + (12).to_bytes(2, "big") + data[at + 2 :])  # SMPTE EG 432-1: Display P3
    encoding = load_photo(path).encoding
    assert encoding.tagged
    assert "Display P3" in encoding.name
    space = colour.RGB_COLOURSPACES["Display P3"]
    d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    wanted = colour.adaptation.chromatic_adaptation_VonKries(
        space.matrix_RGB_to_XYZ.T, colour.xy_to_XYZ(space.whitepoint), colour.xy_to_XYZ(d50), transform="Bradford"
    ).T
    assert encoding.to_xyz == pytest.approx(wanted, abs=3e-4)
    assert encoding.table[0] == pytest.approx(colour.models.eotf_sRGB(np.linspace(0, 1, 256)), abs=1e-5)


@pytest.mark.parametrize("code", [1, 4, 8, 13, 16, 18])
def test_transfer_codes_have_the_curves_of_the_standards(code):
    import colour

    curves = {
        1: colour.models.oetf_inverse_BT709,
        4: lambda x: x**2.2,
        8: lambda x: x,
        13: colour.models.eotf_sRGB,
        16: lambda x: colour.models.eotf_ST2084(x) / 203.0,  # ITU-R BT.2408: the white of a page
        18: colour.models.oetf_inverse_BT2100_HLG,
    }
    xy = ((0.64, 0.33), (0.3, 0.6), (0.15, 0.06), (0.3127, 0.329))
    found = encoding_of_nclx(Nclx(1, code, xy), 256).table[1]
    assert found == pytest.approx(curves[code](np.linspace(0.0, 1.0, 256)), rel=1e-5, abs=1e-6)


@pytest.mark.parametrize(("primaries", "transfer"), [(2, 13), (1, 2), (77, 13), (1, 77)])
def test_code_points_that_say_nothing_leave_srgb_assumed(tmp_path, primaries, transfer):
    path = written(tmp_path, "photo.avif", quality=95)
    data = path.read_bytes()
    at = data.index(b"colrnclx") + 8
    path.write_bytes(data[:at] + primaries.to_bytes(2, "big") + transfer.to_bytes(2, "big") + data[at + 4 :])
    assert load_photo(path).encoding.name == "assumed sRGB"


# --- places


@pytest.mark.parametrize("size", [(240, 320), (2000, 1100), (3000, 4000)])
def test_reduced_copy_keeps_places(tmp_path, size):
    """The middle of a spot at full size is where the reduced copy shows it, to a tenth of a reduced pixel."""
    image = pixels(*size) // 4
    y, x = int(size[0] * 0.37), int(size[1] * 0.61)
    image[y - 30 : y + 31, x - 30 : x + 31] = (255, 0, 255)
    photo = load_photo(written(tmp_path, image=image, compress_level=1))
    spot = np.abs(photo.small.astype(int) - (255, 0, 255)).sum(axis=2) < 200
    rows, cols = np.nonzero(spot)
    seen = photo.to_full(np.array([cols.mean(), rows.mean()]))
    assert np.abs(seen - (x, y)).max() < 0.5 * photo.scale
    points = np.random.default_rng(1).uniform(0, 300, (9, 2))
    np.testing.assert_allclose(photo.to_full(photo.to_small(points)), points, atol=1e-9)
    assert max(photo.small.shape) <= load.SMALL_SIDE


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize(
    ("size", "smaller"), [((1500, 1100), (595, 437)), ((1501, 1100), (595, 437)), ((820, 600), (800, 585))]
)
def test_a_smaller_copy_averages_what_each_pixel_covers(size, smaller, dtype):
    """Against OpenCV's average by area in one step and in floating point; odd sides and small factors too."""
    image = np.random.default_rng(4).integers(0, 256, (size[1], size[0], 3), dtype=np.uint8)
    image = cv2.resize(image[::16, ::16], size, interpolation=cv2.INTER_CUBIC)  # no finer than a photo
    step = 257 if dtype == np.uint16 else 1
    ours = shrunk(image.astype(dtype) * step, smaller)
    wanted = cv2.resize(image.astype(float), smaller, interpolation=cv2.INTER_AREA)
    assert (ours.shape, ours.dtype) == (wanted.shape, dtype)
    off = ours / step - wanted
    assert np.abs(off).mean() < 1.0
    assert abs(off.mean()) < 0.3
    assert np.abs(ours / step - np.roll(wanted, 1, axis=1)).mean() > 5.0  # a pixel aside would show


# --- colour spaces, against Little CMS


def lab_by_little_cms(codes, profile):
    """Return CIELAB D50 of 8-bit codes (n, 3), relative colorimetric, rounded to 8 bits by the library."""
    opened = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    transform = ImageCms.buildTransform(opened, ImageCms.createProfile("LAB"), "RGB", "LAB", renderingIntent=1)
    packed = np.asarray(ImageCms.applyTransform(Image.fromarray(codes[None]), transform))[0].astype(float)
    lab = packed * [100 / 255, 1, 1]
    lab[:, 1:] -= 256 * (lab[:, 1:] > 127)
    return lab


def library_srgb():
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


@pytest.mark.parametrize(
    "profile",
    [library_srgb(), icc.profile("sRGB"), icc.profile("Display P3"), icc.profile("opRGB")],
    ids=["library's sRGB", "sRGB", "Display P3", "opRGB"],
)
def test_profiles_agree_with_little_cms(profile):
    codes = np.random.default_rng(1).integers(0, 256, (400, 3)).astype(np.uint8)
    encoding = encoding_of_profile(profile, 256)
    ours = xyz_to_lab(encoding.linear(codes).astype(float) @ encoding.to_xyz.T)
    off = np.abs(ours - lab_by_little_cms(codes, profile))
    inside = (np.abs(ours[:, 1:]) < 127).all(axis=1)
    assert inside.sum() > 350
    assert off[inside].max() < 1.0  # 8-bit Lab rounds by 0.5, and the library's own arithmetic by some more
    assert np.median(off[inside]) < 0.35
    wrong = encoding_of_profile(icc.profile("Display P3"), 256)  # the comparer's known-bad pair
    if profile != icc.profile("Display P3"):
        bad = xyz_to_lab(wrong.linear(codes).astype(float) @ wrong.to_xyz.T)
        assert np.abs(bad - lab_by_little_cms(codes, profile)).max() > 3


def test_assumed_srgb_is_srgb():
    """IEC 61966-2-1 as colour-science has it, adapted to D50."""
    import colour

    ours = assumed_srgb(256)
    space = colour.RGB_COLOURSPACES["sRGB"]
    adapt = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(space.whitepoint), colour.xy_to_XYZ([0.3457, 0.3585]), transform="Bradford"
    )
    np.testing.assert_allclose(ours.to_xyz, adapt @ space.matrix_RGB_to_XYZ, atol=3e-4)
    np.testing.assert_allclose(ours.table[0], space.cctf_decoding(np.arange(256) / 255), atol=1e-6)


@pytest.mark.parametrize("name", ["sRGB", "Display P3"])
def test_the_embedded_profile_is_used(tmp_path, name):
    for suffix in (".jpg", ".png", ".tif", ".heic"):
        path = written(tmp_path, f"photo{suffix}", icc_profile=icc.profile(name))
        photo = load_photo(path)
        assert photo.encoding.tagged, suffix
        np.testing.assert_allclose(photo.encoding.to_xyz, encoding_of_profile(icc.profile(name), 256).to_xyz)
        assert name in photo.encoding.name
        assert photo.encoding.icc == icc.profile(name)


def test_without_a_profile_srgb_is_assumed_and_it_is_said(tmp_path):
    encoding = load_photo(written(tmp_path)).encoding
    assert (encoding.name, encoding.tagged, encoding.icc) == ("assumed sRGB", False, None)


@pytest.mark.parametrize(("value", "tagged"), [(1, True), (0xFFFF, False)])
def test_exif_may_say_srgb(tmp_path, value, tagged):
    """Exif 2.32, 4.6.5: ColorSpace 1 is sRGB, 0xFFFF uncalibrated; a profile goes before it."""
    made = Image.Exif()
    made.get_ifd(0x8769)[0xA001] = value
    assert load_photo(written(tmp_path, "said.jpg", exif=made)).encoding.tagged is tagged
    both = written(tmp_path, "both.jpg", exif=made, icc_profile=icc.profile("Display P3"))
    assert "P3" in load_photo(both).encoding.name


@pytest.mark.parametrize("cut", [0, 10, 127, 131, 140, 200, 300])
def test_a_damaged_profile_falls_back_to_srgb(tmp_path, cut):
    broken = icc.profile("Display P3")[:cut]
    with pytest.raises(UnreadableProfileError):
        encoding_of_profile(broken, 256)
    photo = load_photo(written(tmp_path, icc_profile=broken or b"\0"))
    assert not photo.encoding.tagged


@pytest.mark.parametrize("function", [1, 2])
def test_a_curve_that_divides_by_nothing_is_refused(function):
    """ICC.1:2022, table 68: functions 1 and 2 break at -b/a."""
    whole = icc.profile("Display P3")
    start = whole.index(b"para")
    curve = struct.pack(">4sIHHiii", b"para", 0, function, 0, 2 * 65536, 0, 6554)
    with pytest.raises(UnreadableProfileError):
        encoding_of_profile(whole[:start] + curve + whole[start + len(curve) :], 256)


# --- depths


@pytest.mark.parametrize("suffix", [".tif", ".png"])
def test_sixteen_bits_stay_sixteen(tmp_path, suffix):
    image, path = pixels(dtype=np.uint16), tmp_path / f"deep{suffix}"
    if suffix == ".tif":
        tifffile.imwrite(path, image, photometric="rgb")
    else:
        path.write_bytes(cv2.imencode(".png", image[..., ::-1])[1].tobytes())
    photo = load_photo(path)
    assert photo.pixels.dtype == np.uint16
    assert (photo.pixels == image).all()
    assert photo.encoding.table.shape == (3, 65536)
    assert photo.top == 65535
    assert photo.small.dtype == np.uint8
    # The same light from eight bits, to the rounding of eight bits.
    eight = load_photo(written(tmp_path, "eight.png", (image // 257).astype(np.uint8)))
    off = photo.encoding.linear(photo.pixels) - eight.encoding.linear(eight.pixels)
    assert np.abs(off).max() < 0.01


def test_an_alpha_channel_and_a_palette_are_no_trouble(tmp_path):
    flat = np.dstack([pixels(), np.full((240, 320), 255, np.uint8)])
    assert (load_photo(written(tmp_path, "alpha.png", flat)).pixels == pixels()).all()
    Image.fromarray(pixels()).quantize(64).save(tmp_path / "palette.png")
    assert load_photo(tmp_path / "palette.png").pixels.shape == (240, 320, 3)


# --- raw


@pytest.mark.parametrize("mosaic", [True, False])
def test_dng_gives_the_sensors_own_light(tmp_path, scene, mosaic):
    """Linear, balanced as shot: patch by patch the simulator's camera values under its light, times one factor."""
    photo = load_photo(save_dng(scene, tmp_path / "photo.dng", mosaic=mosaic))
    truth = scene.truth
    assert photo.encoding.scene_linear
    assert photo.encoding.tagged
    assert (photo.width, photo.height) == truth.size_px
    rows, cols = np.rint(truth.chart_patches_px[:, ::-1]).astype(int).T
    seen = np.array([
        photo.encoding.linear(photo.pixels[r - 3 : r + 4, c - 3 : c + 4]).mean(axis=(0, 1))
        for r, c in zip(rows, cols, strict=True)
    ])  # fmt: skip
    wanted = truth.chart_camera * truth.chart_light[:, None]
    factor = seen / wanted
    bright = (wanted > 0.05) & (seen < 0.98)
    for channel in range(3):
        here = factor[bright[:, channel], channel]
        np.testing.assert_allclose(here / np.median(here), 1, rtol=0.06)


def test_dng_is_turned(tmp_path):
    scene = draw(replace(SMALL, width=400, height=300, portrait=True, exif_orientation=6))
    photo = load_photo(save_dng(scene, tmp_path / "photo.dng"))
    assert (photo.width, photo.height) == scene.truth.size_px == (300, 400)


# --- what the file says


def test_facts_of_the_file(tmp_path):
    path = written(
        tmp_path, "a.jpg", exif=exif(make="Invented", model="Invented Pocket 1", taken="2024:11:16 19:30:05")
    )
    photo = load_photo(path)
    assert photo.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert photo.taken == "2024-11-16T19:30:05"
    assert photo.camera == "Invented Pocket 1"
    assert photo.path == path


@pytest.mark.parametrize("taken", ["", "0000:00:00 00:00:00", "yesterday", "2024:13:40 99:00:00", "\x1b[31m"])
def test_a_date_that_is_none_is_left_out(tmp_path, taken):
    assert load_photo(written(tmp_path, exif=exif(taken=taken))).taken is None


def test_a_cameras_name_cannot_drive_a_terminal(tmp_path):
    photo = load_photo(written(tmp_path, exif=exif(make="In\x1b[31mvented", model="x" * 500)))
    assert photo.camera.isprintable()
    assert len(photo.camera) < 200
    assert load_photo(written(tmp_path)).camera is None


# --- no photos


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.jpg", b""),
        ("text.jpg", b"not a photo at all\n" * 50),
        ("page.jpg", b"<!doctype html><svg xmlns='http://www.w3.org/2000/svg'/>"),
        ("text.dng", b"not a photo at all\n" * 50),
        ("zeros.tif", bytes(5000)),
        ("start.jpg", b"\xff\xd8\xff\xe0"),
        ("start.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic"),
        ("start.png", b"\x89PNG\r\n\x1a\n"),
    ],
)
def test_what_is_no_photo_is_refused(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(PhotoError) as caught:
        load_photo(path)
    assert caught.value.exit_status == 3
    assert name in str(caught.value)
    assert caught.value.remedy


def test_a_folder_a_missing_file_a_nul_and_a_pipe(tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    for path in (tmp_path, tmp_path / "nothing.jpg", tmp_path / "a\0b.jpg", tmp_path / "pipe.jpg"):
        with pytest.raises(PhotoError) as caught:
            load_photo(path)
        assert caught.value.why


@pytest.mark.parametrize(
    "name", ["plain.jpg", "progressive.jpg", "photo.png", "photo.tif", "photo.heic", "photo.webp", "photo.dng"]
)
def test_a_file_cut_short_is_refused_wherever_it_ends(tmp_path, scene, name):
    """Decoders fill the missing part with grey without a word: that would be a silent wrong answer."""
    path = tmp_path / name
    if path.suffix == ".dng":
        save_dng(scene, path)
    else:
        written(tmp_path, name, scene.rgb, quality=90, progressive=name == "progressive.jpg")
    whole = path.read_bytes()
    assert load_photo(path).width == 640
    for share in (0.02, 0.3, 0.6, 0.9, 0.995):
        path.write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(PhotoError):
            load_photo(path)


# --- caps


def test_a_picture_of_too_many_pixels_is_refused_before_decoding(tmp_path, scene, monkeypatch):
    monkeypatch.setattr(load, "MAX_PIXELS", 320 * 240 - 1)
    monkeypatch.delattr(load, "decoded")
    for path, size in ((written(tmp_path), "320 × 240"), (save_dng(scene, tmp_path / "photo.dng"), "640 × 480")):
        with pytest.raises(PhotoTooLargeError, match=size):
            load_photo(path)


def test_a_huge_file_is_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr(load, "MAX_BYTES", 1000)
    with pytest.raises(PhotoTooLargeError):
        load_photo(written(tmp_path))


def test_a_thumbnail_is_too_small(tmp_path):
    with pytest.raises(PhotoTooSmallError, match="320 × 150"):
        load_photo(written(tmp_path, image=pixels(150, 320)))


# --- grey


def test_grey_photos_are_refused(tmp_path, scene):
    grey = np.asarray(Image.fromarray(scene.rgb).convert("L"))
    Image.fromarray(grey).save(tmp_path / "one.jpg")
    Image.fromarray(np.stack([grey] * 3, axis=-1)).save(tmp_path / "three.jpg")
    tifffile.imwrite(tmp_path / "deep.tif", grey.astype(np.uint16) * 257)
    for name in ("one.jpg", "three.jpg", "deep.tif"):
        with pytest.raises(GreyPhotoError) as caught:
            load_photo(tmp_path / name)
        assert caught.value.exit_status == 3
    Image.fromarray(scene.rgb).save(tmp_path / "colour.jpg")
    assert load_photo(tmp_path / "colour.jpg").width == 640


@pytest.mark.parametrize("mode", ["CMYK", "LAB"])
def test_a_picture_made_for_print_is_refused(tmp_path, mode):
    path = tmp_path / ("print.jpg" if mode == "CMYK" else "print.tif")
    picture = Image.new(mode, (300, 300), (120, 90, 60, 20)[: len(mode)])
    picture.save(path)
    with pytest.raises(PhotoError, match="stored in"):
        load_photo(path)


@pytest.mark.parametrize("suffix", ["png", "webp", "tif"])
def test_a_picture_with_transparent_parts_is_refused_and_one_that_is_whole_is_not(tmp_path, suffix):
    picture = Image.fromarray(np.random.default_rng(1).integers(0, 255, (300, 300, 3), np.uint8)).convert("RGBA")
    whole, cut = tmp_path / f"whole.{suffix}", tmp_path / f"cut.{suffix}"
    picture.save(whole)
    assert load_photo(whole).width == 300
    picture.paste((0, 0, 0, 0), (50, 50, 90, 90))
    picture.save(cut)
    with pytest.raises(PhotoError, match="transparent"):
        load_photo(cut)


@pytest.mark.parametrize(
    ("tags", "mode"),
    [
        ({}, None),
        ({0xA401: 0, 0xA406: 0}, None),
        ({0xA401: 1, 0xA406: 2}, None),
        ({0xA401: 4}, None),
        ({0xA406: 3}, "night scene"),
        ({0xA401: 3}, "high dynamic range"),
        ({0xA401: 8}, "portrait"),
        ({0xA401: "8; drop", 0xA406: b"\x03"}, None),
    ],
)
def test_a_composed_photo_is_known_by_its_exif(tags, mode):
    """Exif 3.0, 4.6.5 (CustomRendered, SceneCaptureType); numbers above 1 of the first are from memory."""
    from swatchread.photo.camera_settings import processing_of

    assert processing_of(tags) == mode
