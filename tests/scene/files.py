"""Writing scenes to files: JPEG, PNG, 16-bit TIFF, HEIC with EXIF and ICC, and a minimal DNG."""

import io
import struct
from pathlib import Path

import numpy as np

from . import camera, icc, spectra

# How far the stored picture is turned anticlockwise from the viewed one, by EXIF orientation tag (Exif 2.32, 4.6.4).
_QUARTERS = {1: 0, 3: 2, 6: 1, 8: 3}
TAKEN = "2024:11:16 19:{:02d}:{:02d}"


def stored(pixels, orientation):
    """Turn pixels as viewed into the order in which the file stores them."""
    return np.ascontiguousarray(np.rot90(pixels, _QUARTERS[orientation]))


def _exif(spec, orientation):
    from PIL import Image

    exif = Image.Exif()
    exif[274] = orientation
    exif[271], exif[272] = "Invented", f"Simulated {spec.camera}"
    exif[306] = TAKEN.format(spec.seed // 60 % 60, spec.seed % 60)
    details = exif.get_ifd(0x8769)
    details[36867] = exif[306]
    details[34855] = int(spec.iso)
    return exif


def save(scene, path):
    """Write the photo; the suffix chooses .jpg, .png, .tif (16 bit) or .heic. Returns the path.

    The pixels are stored turned by the spec's EXIF orientation (HEIC: upright), with the colour space's ICC profile.
    """
    from PIL import Image

    path = Path(path)
    suffix = path.suffix.lower()
    # HEIF turns pictures by a property of its own and has readers ignore the EXIF tag (ISO/IEC 23008-12): none here.
    orientation = 1 if suffix in (".heic", ".heif") else scene.spec.exif_orientation
    pixels = stored(scene.rgb, orientation)
    options = {"exif": _exif(scene.spec, orientation), "icc_profile": icc.profile(scene.spec.space)}
    if suffix in (".tif", ".tiff"):
        return _save_tiff(scene, path, options["icc_profile"])
    if suffix in (".heic", ".heif"):
        import pillow_heif

        pillow_heif.register_heif_opener()
        options["quality"] = scene.spec.quality
    elif suffix in (".jpg", ".jpeg"):
        options |= {"quality": scene.spec.quality, "subsampling": "4:2:0", "optimize": True}
    image = Image.fromarray(pixels)
    image.save(path, **options)
    return path


def _save_tiff(scene, path, profile):
    """16-bit TIFF; the picture is developed anew, for the 8-bit one has lost the rest."""
    import tifffile

    from .render import develop_float

    code = develop_float(scene)
    pixels = stored((np.clip(code, 0, 1) * 65535 + 0.5).astype(np.uint16), scene.spec.exif_orientation)
    tifffile.imwrite(
        path,
        pixels,
        photometric="rgb",
        compression="zlib",
        iccprofile=profile,
        metadata=None,
        datetime=TAKEN.format(scene.spec.seed // 60 % 60, scene.spec.seed % 60),
        extratags=[(274, "H", 1, scene.spec.exif_orientation, True)],
    )
    return path


def colour_matrix_1(name):
    """DNG ColorMatrix1 for D65: XYZ -> camera raw, fitted on the training samples, (3, 3)."""
    samples = spectra.training_reflectances()
    raw = camera.responses(samples, name, "D65")
    return np.linalg.lstsq(spectra.xyz_of(samples, "D65"), raw, rcond=None)[0].T


def _rational(values, signed=False):
    kind = ">i" if signed else ">I"
    return b"".join(struct.pack(kind, round(float(v) * 100000)) + struct.pack(">I", 100000) for v in np.ravel(values))


def save_dng(scene, path, bits=14, black=512, mosaic=True):
    """Write the sensor's values as a minimal DNG 1.4: Bayer RGGB, or LinearRaw when not `mosaic`.

    Noise is that of the spec's ISO, per pixel and undenoised; white balance and all that follows is the reader's.
    """
    sensor = scene.sensor()
    spec = scene.spec
    rng = np.random.default_rng([spec.seed, 71])
    full_well = 6000.0 * 100.0 / spec.iso
    sigma = np.sqrt(np.maximum(sensor, 0) / full_well + (2.5 / full_well) ** 2)
    sensor = sensor + sigma * rng.standard_normal(sensor.shape, np.float32)
    white = (1 << bits) - 1
    counts = np.clip(np.round(black + sensor * (white - black)), 0, white).astype(np.uint16)
    # The sensor lies as the file stores it; an even size keeps the mosaic's phase.
    counts = stored(counts, spec.exif_orientation)
    counts = counts[: counts.shape[0] // 2 * 2, : counts.shape[1] // 2 * 2]
    if mosaic:
        bayer = counts[..., 1].copy()
        bayer[::2, ::2], bayer[1::2, 1::2] = counts[::2, ::2, 0], counts[1::2, 1::2, 2]
        counts = bayer
    path = Path(path)
    path.write_bytes(_dng_bytes(scene, counts, (black, white)))
    return path


def _dng_bytes(scene, counts, levels):
    """Big-endian TIFF with one directory of DNG 1.4 tags before the uncompressed picture."""
    spec, (height, width) = scene.spec, counts.shape[:2]
    channels = 1 if counts.ndim == 2 else 3
    neutral = 1 / scene.rendering.gains
    name = f"Simulated {spec.camera}\0".encode()
    short, long_ = (lambda *v: struct.pack(f">{len(v)}H", *v)), (lambda *v: struct.pack(f">{len(v)}I", *v))
    entries = [
        (254, 4, long_(0)),
        (256, 4, long_(width)),
        (257, 4, long_(height)),
        (258, 3, short(*[16] * channels)),
        (259, 3, short(1)),
        (262, 3, short(32803 if channels == 1 else 34892)),
        (271, 2, b"Invented\0"),
        (272, 2, name),
        (273, 4, long_(0)),
        (274, 3, short(spec.exif_orientation)),
        (277, 3, short(channels)),
        (278, 4, long_(height)),
        (279, 4, long_(counts.size * 2)),
        (284, 3, short(1)),
        (306, 2, TAKEN.format(spec.seed // 60 % 60, spec.seed % 60).encode() + b"\0"),
    ]
    if channels == 1:
        entries += [(33421, 3, short(2, 2)), (33422, 1, bytes([0, 1, 1, 2]))]
    entries += [
        (50706, 1, bytes([1, 4, 0, 0])),
        (50707, 1, bytes([1, 1, 0, 0])),
        (50708, 2, name),
        (50714, 3, short(*[levels[0]] * channels)),
        (50717, 3, short(*[levels[1]] * channels)),
        (50721, 10, _rational(colour_matrix_1(spec.camera), signed=True)),
        (50728, 5, _rational(neutral / neutral.max())),
        (50778, 3, short(21)),
    ]
    sizes = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 10: 8}
    start = 8 + 2 + 12 * len(entries) + 4
    extra, directory = io.BytesIO(), io.BytesIO()
    length = sum(len(d) + len(d) % 2 for _, _, d in entries if len(d) > 4)
    for tag, kind, data in sorted(entries):
        value = long_(start + length) if tag == 273 else data
        directory.write(struct.pack(">HHI", tag, kind, len(data) // sizes[kind]))
        if len(value) <= 4:
            directory.write(value.ljust(4, b"\0"))
        else:
            directory.write(long_(start + extra.tell()))
            extra.write(value + b"\0" * (len(value) % 2))
    head = b"MM\0*" + long_(8) + short(len(entries)) + directory.getvalue() + long_(0)
    return head + extra.getvalue() + counts.astype(">u2").tobytes()
