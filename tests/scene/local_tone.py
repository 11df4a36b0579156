"""Local tone mapping: gains over the photo, on linear light before the tone curve, from the light that it shows.

All kinds work on the logarithm of luminance and shrink its range by the spec's `local_tone`, as phones do to show darks
and lights at once. What stands in equal light is then no longer rendered alike everywhere.
"""

import cv2
import numpy as np
from skimage.exposure import equalize_adapthist

from .picture import STRIP

_WIDTH = 560  # of the map of gains, px
_LEAST = 0.004  # luminance below which nothing is lifted any more
_LUMINANCE = np.array([0.21, 0.72, 0.07])


def slow_gains(picture):
    """Gains on a grid 64 wide: slow areas darker than the mean are lifted, brighter ones held back."""
    spec, height = picture.spec, picture.pixels.shape[0]
    rows = [picture.lit(slice(i, min(i + STRIP, height))) for i in range(0, height, STRIP)]
    green = np.vstack(
        [cv2.resize(r[..., 1], (64, max(1, len(r) * 64 // r.shape[1])), interpolation=cv2.INTER_AREA) for r in rows]
    )
    slow = cv2.GaussianBlur(np.log(np.maximum(green, 0.02)), (0, 0), 7)
    return np.clip(np.exp(-spec.local_tone * (slow - slow.mean())), 0.65, 1.5).astype(np.float32)


def _log_luminance(picture, rendering):
    """Logarithm of the rendered luminance before the tone curve, about 560 px wide, float32."""
    height, width = picture.pixels.shape[:2]
    whole = np.empty((height, width), np.float32)
    for first in range(0, height, STRIP):
        rows = slice(first, min(first + STRIP, height))
        balanced = picture.lit(rows) * (rendering.exposure * rendering.gains).astype(np.float32)
        whole[rows] = np.clip(balanced, 0, 1) @ (_LUMINANCE @ rendering.matrix).astype(np.float32)
    size = (_WIDTH, round(_WIDTH * height / width)) if width > _WIDTH else (width, height)
    return np.log(np.maximum(cv2.resize(whole, size, interpolation=cv2.INTER_AREA), _LEAST))


def equalised(seen, strength, rng):
    """Contrast-limited equalisation in tiles (Zuiderveld 1994), mixed with what was there, its range shrunk."""
    low, high = np.quantile(seen, [0.005, 0.995])
    share = np.clip((seen - low) / (high - low), 0, 1)
    tiles = rng.integers(3, 7)
    tile = [max(8, n // int(tiles)) for n in seen.shape]
    flat = equalize_adapthist(share, tile, clip_limit=rng.uniform(0.005, 0.02))
    return (1 - strength) * (high - low) * ((1 - strength) * share + strength * flat)


def bilateral(seen, strength, rng):
    """Shrink a base that keeps large edges and leave the detail upon it (Durand & Dorsey 2002)."""
    reach = rng.uniform(0.012, 0.025) * seen.shape[1]
    base = cv2.bilateralFilter(seen, -1, rng.uniform(0.3, 0.8), reach)
    return seen - strength * base


def _laplacian(image, levels):
    """Laplacian pyramid, finest first, the residue last."""
    parts = []
    for _ in range(levels):
        less = cv2.pyrDown(image)
        parts.append(image - cv2.pyrUp(less, dstsize=image.shape[::-1]))
        image = less
    return [*parts, image]


def pyramid(seen, strength, rng):
    """Local Laplacian filter (Paris, Hasinoff & Kautz 2011) by a few remapped pyramids (Aubry et al. 2014)."""
    levels = int(np.log2(min(seen.shape) / 8))
    detail, power = rng.uniform(0.15, 0.4), rng.uniform(0.75, 1.0)
    guide = [seen]
    for _ in range(levels):
        guide.append(cv2.pyrDown(guide[-1]))
    references = np.linspace(seen.min(), seen.max(), 12)
    pitch = references[1] - references[0]
    made = [np.zeros_like(g) for g in guide[:-1]]
    for reference in references:
        off = seen - reference
        size = np.abs(off)
        small = detail * (size / detail) ** power
        bent = np.sign(off) * np.where(size < detail, small, detail + (1 - strength) * (size - detail))
        weights = (np.clip(1 - np.abs(level - reference) / pitch, 0, 1) for level in guide[:-1])
        parts = _laplacian(bent, levels)[:-1]
        made = [out + part * near for out, part, near in zip(made, parts, weights, strict=True)]
    image = guide[-1] * (1 - strength)
    for part in reversed(made):
        image = cv2.pyrUp(image, dstsize=part.shape[::-1]) + part
    return image


KINDS = {"equalised": equalised, "bilateral": bilateral, "pyramid": pyramid}


def gain_map(picture, rendering):
    """Gains (rows, columns) float32 over the photo, to be spread over it bilinearly."""
    spec = picture.spec
    if spec.local_tone <= 0:
        return np.ones((8, 8), np.float32)
    if spec.local_tone_kind == "slow":
        return slow_gains(picture)
    rng = np.random.default_rng([spec.seed, 65])
    seen = _log_luminance(picture, rendering)
    log_gain = KINDS[spec.local_tone_kind](seen, spec.local_tone, rng) - seen
    # What is as bright as this keeps its brightness in the mean: cameras hold the lights and lift the darks.
    kept = np.abs(seen - np.quantile(seen, rng.uniform(0.6, 0.9))) < 0.1
    return np.clip(np.exp(log_gain - log_gain[kept].mean()), 0.4, 4.0).astype(np.float32)
