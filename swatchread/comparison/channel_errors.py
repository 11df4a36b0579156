"""The constants of `pair_covariance`: how large the errors of a difference are in each of L*, a* and b*.

They were found by maximum likelihood, with Student's t, on the errors of simulated pairs in the same light, in another
daylight and under a lamp, without anchors, with a few swatches and with the ground (seeds 63000 to 63031;
`tests/bench/comparing_fit.py` finds them anew), then widened until 96 % of these errors lay within twice the stated
uncertainty. No test and no published figure uses these seeds.
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
        floor=0.26,
        gain=0.12,
        far=0.032,
        near=0.0014,
        far_reach=20,
        near_reach=5,
        veil=0.0029,
        highlight=1.3,
        own=0.012,
        own_share=0,
        own_excess=0.038,
        cut_excess=0.4,
        mixtures=0.0025,
        mixtures_alike=0.005,
        ground_own=0.0013,
    ),
    ChannelErrors(
        floor=0,
        gain=0.0083,
        far=0.048,
        near=0.052,
        far_reach=30,
        near_reach=9,
        veil=0.0083,
        highlight=0,
        own=0.094,
        own_share=0.0022,
        own_excess=0.0017,
        cut_excess=0.31,
        mixtures=0.0028,
        mixtures_alike=0.0066,
        ground_own=0.028,
    ),
    ChannelErrors(
        floor=0,
        gain=0.0014,
        far=0.043,
        near=0.018,
        far_reach=30,
        near_reach=9,
        veil=0.05,
        highlight=0,
        own=0.092,
        own_share=0.0034,
        own_excess=0.0044,
        cut_excess=0.16,
        mixtures=0.0063,
        mixtures_alike=0.0088,
        ground_own=0.5,
    ),
)
"""Of L*, a* and b*; the reaches, and what is 0, were chosen, the rest was fitted."""
