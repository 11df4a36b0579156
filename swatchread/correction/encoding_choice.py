"""Which encoding a photo has that does not state one: its chart shows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from swatchread.chart.patch_sampling import ChartSample, sample_chart
from swatchread.correction.camera_fit import Target, fit_model
from swatchread.correction.camera_model import Shape
from swatchread.photo.icc_profile import linear_encoding

_MUCH_BETTER = 0.6
"""Linear light is believed if its error is below this share of the stated encoding's."""


def choose_encoding(sample: ChartSample) -> ChartSample:
    """Return the chart's sample in the encoding that its patches show.

    Some raw converters write linear 16-bit files without stating it. Read as sRGB, their darks would be lost. So 16-bit
    files without a stated encoding are tried in both.

    Parameters
    ----------
    sample : ChartSample

    Returns
    -------
    ChartSample
        The same, or sampled again from the photo taken as linear.
    """
    photo = sample.find.photo
    if photo.encoding.tagged or photo.pixels.dtype != np.uint16:
        return sample
    linear = replace(photo, encoding=linear_encoding(tagged=False))
    other = sample_chart(replace(sample.find, photo=linear))
    return other if _error(other) < _MUCH_BETTER * _error(sample) else sample


def _error(sample: ChartSample) -> float:
    """Return the median held-out CIEDE2000 of a plain matrix: a tone curve would make up for a wrong encoding."""
    chart, count = sample.find.chart, len(sample.linear)
    target = Target(sample.linear, np.zeros(count), chart.lab, np.where(sample.clipped, 0.0, 1.0))
    fitted = fit_model(target, Shape(degree=1, tone=0))
    return float(np.median(fitted.left_out_de00[~sample.clipped])) if not sample.clipped.all() else np.inf
