"""Sampling the patches of a chart that was found, at full size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from swatchread.chart.chart_detection import ChartFind
from swatchread.colour.cielab import Floats
from swatchread.photo.encoded_photo import ends

_SIDE = 40
"""Samples along each side of a patch."""

_INNER = 0.66
"""Share of a patch's side that is sampled: its rim is blurred, rounded or shaded."""

_KEPT = (0.1, 0.9)
"""Quantiles of brightness between which samples count for the mean: dust and glints lie outside."""

_CLIPPED_SHARE = 0.02
"""Share of samples with a channel at its upper end beyond which a patch counts as clipped."""


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
    unevenness : ndarray, shape (n,)
        Unevenness of the patch: relative interquartile range of its brightness.
    points : ndarray, shape (n, 2)
        Patch centres, photo pixels.
    """

    find: ChartFind
    linear: Floats
    noise: Floats
    clipped: npt.NDArray[np.bool_]
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
    low, high = np.quantile(brightness, _KEPT, axis=1)[..., None]
    keep = (brightness >= low) & (brightness <= high)
    count = keep.sum(axis=1)[:, None]
    mean = (linear * keep[..., None]).sum(axis=1) / count
    clipped = ((stored >= ends(photo.top)[1]).mean(axis=1) > _CLIPPED_SHARE).any(axis=-1)
    quartile = np.quantile(brightness, [0.25, 0.75], axis=1)
    return ChartSample(
        find=find,
        linear=mean,
        noise=linear.std(axis=1),
        clipped=clipped,
        unevenness=(quartile[1] - quartile[0]) / np.maximum(brightness.mean(axis=1), 1e-6),
        points=find.to_photo(chart.centres),
    )
