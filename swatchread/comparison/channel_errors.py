"""The constants of `pair_covariance`: how large the errors of a difference are in each of L*, a* and b*.

They were found by maximum likelihood, with Student's t, on the errors of simulated pairs in the same light, in another
daylight and under a lamp, beside charts of three sizes, without anchors, with a few swatches and with the ground (seeds
63000 to 63031; `tests/bench/comparing_fit.py` finds them anew), then widened until 96 % of these errors lay within
twice the stated uncertainty. No test and no published figure uses these seeds.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ChannelErrors:
    """How large the errors of a difference are in one of L*, a* and b*.

    "Counted" is the variance that two readings state, without their paint's own, plus `floor`.

    Attributes
    ----------
    floor : float
        CIELAB variance that is counted whatever two readings state.
    gain : float
        Variance from more or less light at L* = 50, as a part of the card's median of what is counted.
    far, near : float
        Variance of the fit's error of colours, as parts of what is counted: what distant colours share, and what
        similar colours share.
    far_reach, near_reach : float
        CIELAB distances over which these errors of two colours stay similar.
    veil : float
        CIELAB variance that stray light leaves at L* = 40.
    highlight : float
        CIELAB variance at L* = 95 of the tone curve's end, near the photo's white: shared by all light colours.
    own : float
        CIELAB variance that pixels, the light's unevenness and the sampled area's outline leave in a difference.
    own_share, own_excess, cut_excess : float
        Parts of the stated variance that are a swatch's own: of what most of the card's swatches state, of what a
        swatch states beyond that (its place in the light, its grain), and of the latter where a photo cut it off.
    mixtures, mixtures_alike : float
        Parts of the variance, CIEDE2000 squared, by which paint is seen otherwise than by the eye, that two kinds of
        light leave in a difference: each swatch's own, and what similar colours share.
    ground_own : float
        CIELAB variance that is the bare ground's own: stains, pencil, the outline of what is taken for ground.
    """

    floor: float
    gain: float
    far: float
    near: float
    far_reach: float
    near_reach: float
    veil: float
    highlight: float
    own: float
    own_share: float
    own_excess: float
    cut_excess: float
    mixtures: float
    mixtures_alike: float
    ground_own: float


CHANNELS = (
    ChannelErrors(
        floor=0.16,
        gain=0.15,
        far=0.047,
        near=0.00065,
        far_reach=20,
        near_reach=5,
        veil=0.0026,
        highlight=1,
        own=0.015,
        own_share=0,
        own_excess=0.017,
        cut_excess=0.28,
        mixtures=0.0012,
        mixtures_alike=0.0065,
        ground_own=0.0008,
    ),
    ChannelErrors(
        floor=0,
        gain=0.0081,
        far=0.042,
        near=0.064,
        far_reach=30,
        near_reach=9,
        veil=0.0091,
        highlight=0,
        own=0.099,
        own_share=0.001,
        own_excess=0.00079,
        cut_excess=0.21,
        mixtures=0.0014,
        mixtures_alike=0.0043,
        ground_own=0.013,
    ),
    ChannelErrors(
        floor=0,
        gain=0.00067,
        far=0.029,
        near=0.038,
        far_reach=30,
        near_reach=9,
        veil=0.048,
        highlight=0,
        own=0.099,
        own_share=0.0018,
        own_excess=0.0017,
        cut_excess=0.094,
        mixtures=0.0036,
        mixtures_alike=0.0066,
        ground_own=0.52,
    ),
)
