"""Sampling the patches of a chart that was found, at full size: their colours, and how sharp their edges are."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind
from swatchread.colour.cielab import Floats
from swatchread.photo.encoded_photo import ends
from swatchread.photo.geometry import fit_homography

_SIDE = 40
"""Samples along each side of a patch."""

_INNER = 0.66
"""Share of a patch's side that is sampled: its rim is blurred, rounded or shaded."""

_KEPT = (0.1, 0.9)
"""Quantiles of brightness between which samples count for the mean: dust and glints lie outside."""

_CLIPPED_SHARE = 0.02
"""Share of samples with a channel at its upper end beyond which a patch counts as clipped."""

_TO_RIM, _RIM, _LIGHT = 0.76, 0.74, 40.0
"""Share of a patch's side up to which its rim goes, share of that from which it is the rim, and the L* of patches that
are light enough to compare rim and middle."""

_TAIL, _TAIL_LEVELS = 4.0, 3.0
"""How far below the top the middle of an over-exposed patch lies at most: so many standard deviations of its noise, and
so many 8-bit levels."""

_LIGHTER = 1.5
"""Luminance over a patch's own at which another patch must burn out before it, if exposure is the cause."""

_INWARD, _OUTWARD = 0.34, 0.2
"""How far a profile goes to both sides of a patch's edge, in patch pitches."""

_STEPS, _LINES = 121, 9
"""Samples along a profile, and profiles across each side of a patch."""

_MANY, _NOISE_COUNTS = 0.75, 2.0
"""Quantile of the patches' differences that is asked, and how many times the noise is taken off it."""

_MIDDLE = 0.4
"""Share of a side over which its profiles are spread: corners are round."""

_CONTRAST = 0.35
"""Least step over an edge, as a share of the brighter side: a fainter edge drowns in noise."""

_LEAST_EDGES = 6
"""Fewest clear edges in one direction from which its blur is told."""

_LOW, _HIGH = 0.2, 0.8
"""Shares of the step between which the width of an edge is measured."""

_SIGMAS = 1.683
"""Distance between 20 % and 80 % of a Gaussian edge, in its standard deviations (normal distribution)."""


@dataclass(frozen=True, eq=False)
class ChartSample:
    """What the photo shows on each patch.

    Attributes
    ----------
    find : ChartFind
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding, robust mean over the patch.
    noise : ndarray, shape (n, 3)
        Standard deviation over the patch of the same.
    clipped : ndarray, shape (n,), bool
        Patches with a channel at the upper end of the stored range.
    overlaid : ndarray, shape (n,), bool
        Those among them that exposure does not explain: something white, or glare, lies on them.
    unevenness : ndarray, shape (n,)
        Unevenness of the patch: relative interquartile range of its brightness.
    points : ndarray, shape (n, 2)
        Patch centres, photo pixels.
    """

    find: ChartFind
    linear: Floats
    noise: Floats
    clipped: npt.NDArray[np.bool_]
    overlaid: npt.NDArray[np.bool_]
    unevenness: Floats
    points: Floats


def sample_chart(find: ChartFind) -> ChartSample:
    """Measure the patches of a chart in linear light.

    Parameters
    ----------
    find : ChartFind

    Returns
    -------
    ChartSample
    """
    photo, chart = find.photo, find.chart
    half = _INNER * find.patch_share / 2.0
    grid = np.linspace(-half, half, _SIDE)
    probe = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    points = find.to_photo(chart.centres[:, None, :] + probe)
    stored = photo.stored_at(points)
    linear = photo.encoding.linear(stored).astype(np.float64)
    brightness = linear.sum(axis=-1)
    low, first_quartile, third_quartile, high = np.quantile(brightness, [_KEPT[0], 0.25, 0.75, _KEPT[1]], axis=1)
    keep = (brightness >= low[:, None]) & (brightness <= high[:, None])
    mean = np.einsum("psc,ps->pc", linear, keep) / keep.sum(axis=1)[:, None]
    at_top = (stored >= ends(photo.top)[1]).mean(axis=1) > _CLIPPED_SHARE
    clipped = at_top.any(axis=-1)
    return ChartSample(
        find=find,
        linear=mean,
        noise=linear.std(axis=1),
        clipped=clipped,
        overlaid=clipped & _overlaid(at_top, stored / photo.top, chart.xyz[:, 1]) if clipped.any() else clipped,
        unevenness=(third_quartile - first_quartile) / np.maximum(brightness.mean(axis=1), 1e-6),
        points=find.to_photo(chart.centres),
    )


def _kept(brightness: Floats) -> npt.NDArray[np.bool_]:
    """Return which samples of each patch, shape (patches, samples), are neither dust nor glints."""
    low, high = np.quantile(brightness, _KEPT, axis=1)[..., None]
    kept: npt.NDArray[np.bool_] = (brightness >= low) & (brightness <= high)
    return kept


def other_charts(find: ChartFind) -> tuple[ChartSample, ...]:
    """Measure the further examples of the chart that lie in a photo.

    Parameters
    ----------
    find : ChartFind

    Returns
    -------
    tuple of ChartSample
    """
    own = find.chart.corners_at(find.patch_share)
    return tuple(
        sample_chart(replace(find, homography=fit_homography(own, corners), others=())) for corners in find.others
    )


def rim_difference(sample: ChartSample) -> float:
    """Return by how much the rims of patches, beside the dark frame, are lighter than their middles.

    Parameters
    ----------
    sample : ChartSample

    Returns
    -------
    float
        Natural log of brightness that a quarter of the patches exceed, less what noise may make of it: noise also makes
        the quarters of a patch unlike. It is 0 where rims are darker, as blur makes them.
    """
    find = sample.find
    half = _TO_RIM * find.patch_share / 2.0
    grid = np.linspace(-half, half, _SIDE)
    probe = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    out, crosswise = np.abs(probe).max(axis=1) / half, probe.prod(axis=1)
    light = ~sample.clipped & (find.chart.lab[:, 0] > _LIGHT)
    if not light.any():
        return 0.0
    points = find.to_photo(find.chart.centres[light][:, None, :] + probe)
    brightness = find.photo.encoding.linear(find.photo.stored_at(points)).sum(axis=-1).astype(np.float64)
    rim, middle, one, other = (
        np.log(np.mean(b, axis=1, where=_kept(b)))
        for b in (brightness[:, part] for part in (out > _RIM, out < _MIDDLE, crosswise > 0.0, crosswise < 0.0))
    )
    noise = float(np.median(np.abs(one - other)))
    return max(0.0, float(np.quantile(rim - middle, _MANY)) - _NOISE_COUNTS * noise)


def _overlaid(at_top: npt.NDArray[np.bool_], stored: Floats, luminance: Floats) -> npt.NDArray[np.bool_]:
    """Tell which patches hold burnt-out samples for another reason than their exposure.

    Either most of the patch is far from burnt out, or all of it is white while a much lighter patch is not.
    """
    low, middle = np.quantile(stored, [0.16, 0.5], axis=1)  # a standard deviation apart
    reached: npt.NDArray[np.bool_] = 1.0 - middle <= _TAIL * (middle - low) + _TAIL_LEVELS / 255.0
    partly = ~(at_top & reached).any(axis=1)
    unburnt = float(luminance[~at_top.any(axis=1)].max(initial=0.0))
    white: npt.NDArray[np.bool_] = at_top.all(axis=1) & (unburnt > _LIGHTER * luminance)
    overlaid: npt.NDArray[np.bool_] = partly | white
    return overlaid


def edge_blur(find: ChartFind) -> float:
    """Return how wide the patches' edges are.

    The light across the sides of the patches is followed from the patch to the frame. Its rise from 20 % to 80 % is
    that of an edge blurred by lens, focus, motion and pixels together. The more blurred of the lattice's two directions
    counts, because a hand shakes in one direction.

    Parameters
    ----------
    find : ChartFind

    Returns
    -------
    float
        Standard deviation of the blur, photo pixels; 0 if too few edges stand out to tell.
    """
    profiles = _profiles(find)
    inner = profiles[..., : _STEPS // 4].mean(axis=-1, keepdims=True)
    outer = profiles[..., int(_STEPS * _INWARD / (_INWARD + _OUTWARD)) :]
    furthest = np.take_along_axis(outer, np.abs(outer - inner).argmax(axis=-1)[..., None], axis=-1)
    step = furthest - inner
    clear = np.abs(step[..., 0]) > _CONTRAST * np.maximum(inner, furthest)[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(clear[..., None], (profiles - inner) / step, np.nan)
    width = _rise(share) * find.pitch * (_INWARD + _OUTWARD) / (_STEPS - 1) / _SIGMAS
    along = [width[:, sides][clear[:, sides]] for sides in (slice(0, 2), slice(2, 4))]
    told = [float(np.median(one)) for one in along if len(one) >= _LEAST_EDGES]
    return max(told, default=0.0)


def _profiles(find: ChartFind) -> Floats:
    """Return linear brightness across the four sides of each patch, from the inside: (patch, side, step)."""
    photo, half = find.photo, find.patch_share / 2.0
    out = np.linspace(half - _INWARD, half + _OUTWARD, _STEPS)
    across = np.linspace(-_MIDDLE * half, _MIDDLE * half, _LINES)
    u, v = np.meshgrid(out, across)
    sides = np.stack([(u, v), (-u, v), (v, u), (v, -u)])  # right and left first, then below and above
    probe = np.moveaxis(sides, 1, -1).reshape(-1, 2)
    points = find.to_photo(find.chart.centres[:, None, :] + probe)
    red, green, blue = np.moveaxis(photo.encoding.linear(photo.stored_at(points)), -1, 0)
    brightness = (red + green + blue).reshape(len(points), 4, _LINES, _STEPS)
    profiles: Floats = brightness.mean(axis=2, dtype=np.float64)
    return profiles


def _rise(share: Floats) -> Floats:
    """Return how many steps lie between the last point below 20 % and the first above 80 % that follows it."""
    place = np.arange(_STEPS)
    high = np.where(share >= _HIGH, place, _STEPS).min(axis=-1)
    low = np.where((share <= _LOW) & (place < high[..., None]), place, 0).max(axis=-1)
    steps: Floats = (high - low).astype(np.float64)
    return steps
