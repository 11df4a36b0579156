"""Writing scenes to files: JPEG, PNG, 16-bit TIFF, HEIC, with EXIF and ICC."""

from pathlib import Path

import numpy as np

from . import icc

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
