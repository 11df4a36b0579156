"""Does the card lie in the chart's light? The surface under both is the witness.

Card and chart nearly always lie on one table or sheet. What lies beside the card, in the light that the correction
takes for the card's, must then be as bright as what lies beside the chart, in the chart's. The distribution of log
brightness beside the card is shifted until it matches that beside the chart, each tint by itself. So a pattern need not
be flat: it only has to be the same on average. How sure the shift is follows from a bootstrap over sectors of the two
rings, because wood grain, a cloth's pattern and the things that lie about are alike within a sector.

A narrow ring lies in one light, where a shadow's edge runs close by, and on one surface, where a sheet ends close by. A
broad one holds enough of a pattern. So several breadths are tried, and the one counts whose sectors agree best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import gaussian_filter, gaussian_filter1d

from swatchread.colour.cielab import Floats

_LEAST_PLACES = 100
"""Places in each ring that are needed."""

_DARKEST = 0.003
"""Luminance factor below which brightness is mostly noise."""

_BIN, _LOWEST, _BINS = 0.025, -6.0, 272
"""Log brightness is counted in bins of this width, from here, so many: up to a luminance factor of 2.2."""

_LEAST_ERROR = 0.29 * _BIN
"""Standard deviation of a place within a bin: its width over the square root of 12 (uniform distribution)."""

_TINT_BIN, _TINT_BINS = 0.06, 64
"""The log ratios X/Y and Z/Y are counted in bins of this width, so many of them to both sides of 0."""

_MOST_TINT = 12
"""Bins of each ratio by which the light's own tint may differ between card and chart: a factor of 2."""

_TINT_PAYS = 0.15
"""Rise of the overlap from which the light is taken to differ in tint too, not in amount alone. Without a shadow no
tint raised it by more than 0.1."""

_TINT_SPAN, _COARSE, _RIM = 18, 0.075, 3
"""Bins of tint to both sides of grey, and log brightness of a bin, where a tint of the light is looked for; and bins
over which smoothing spreads a count there."""

_AXES = (0, 1, 2)
"""Axes of the counts by tint, twice, and brightness."""

_COMMON_TINT = 0.005
"""Share of the places that a tint must hold to be counted."""

_BLUR = 1.6
"""Standard deviation, in bins, by which the counts are smoothed."""

_MOST_SHIFT = 1.2
"""Log light that card and chart may differ by: a factor of 3.3."""

_SECTORS, _RESAMPLED = 16, 40
"""Sectors of a ring, and bootstrap samples of them."""

_SAME_SURFACE = 0.5
"""Bhattacharyya coefficient (0 to 1) of the shifted distributions below which the surfaces are not the same. On 120
simulated photos of one table it was 0.51 and more, mostly above 0.9."""

_SAME_IN_SECTOR, _SAME_SHIFT = 0.35, 0.12
"""Coefficient from which a sector shows the same surface, and log light within which it shows the same light."""

_SHARED, _AGREED = 0.65, 0.65
"""Share of the places, in sectors beside the card and beside the chart, that must show the same surface, and that must
agree on the light; with less it lies in two lights. On 38 simulated photos of one surface in one light 0.74 did."""

_SPREAD = (0.1, 0.9)
"""Quantiles of the sectors' shifts that stand for the two lights."""

_ONE_SIGMA = (0.16, 0.84)
"""Quantiles of a normal distribution one standard deviation from its middle."""

_BETWEEN_QUARTILES = 1.35
"""Distance between the quartiles of a normal distribution, in standard deviations."""


@dataclass(frozen=True, eq=False)
class RingLight:
    """What the photo shows beside one thing on the table.

    Attributes
    ----------
    xyz : ndarray, shape (n, 3)
        Tristimulus values, with the light still in them.
    log_light : ndarray, shape (n,)
        Light at the nearest place of that thing, by the correction.
    bearing : ndarray, shape (n,)
        Direction from the middle of that thing, radians.
    """

    xyz: Floats
    log_light: Floats
    bearing: Floats

    def only(self, those: npt.NDArray[np.intp]) -> RingLight:
        """Return what some of the places show."""
        return RingLight(self.xyz[those], self.log_light[those], self.bearing[those])

    def counts(self) -> npt.NDArray[np.int64]:
        """Return sector, tint in two numbers, and bin of brightness of the places that are not too dark."""
        bright = self.xyz[:, 1] > _DARKEST
        xyz, sector = np.maximum(self.xyz[bright], 1e-6), (self.bearing[bright] / (2.0 * np.pi) % 1.0) * _SECTORS
        tint = np.log(xyz[:, [0, 2]] / xyz[:, [1]]) / _TINT_BIN
        level = (np.log(xyz[:, 1]) - self.log_light[bright] - _LOWEST) / _BIN
        cells = np.floor(np.column_stack([sector, tint, level])).astype(np.int64)
        return np.clip(cells, [0, -_TINT_BINS, -_TINT_BINS, 0], [_SECTORS - 1, _TINT_BINS, _TINT_BINS, _BINS - 1])


@dataclass(frozen=True)
class Witness:
    """How the card's light differs from what the correction takes it for.

    Attributes
    ----------
    shift : float
        Natural log of the light on the card over what the correction takes it for.
    low, high : float
        One standard error below and above it. They lie far apart where the surface lies in two lights.
    texture : float
        Spread of the log brightness of the surface beside the chart.
    tinted : bool
        Whether the light has another tint there, too.
    """

    shift: float
    low: float
    high: float
    texture: float
    tinted: bool = False

    @property
    def error(self) -> float:
        """Standard error of the shift: at least that of a place within a bin."""
        return max((self.high - self.low) / 2.0, _LEAST_ERROR)


@dataclass(frozen=True, eq=False)
class _Match:
    """How well the shifted distributions of two rings agree.

    `sectors`, shape (2, sectors, 3), holds shift, overlap and places of each sector, beside the card and the chart.
    """

    here: Floats
    there: Floats
    shift: float
    overlap: float
    tint: npt.NDArray[np.int64]
    sectors: Floats

    @property
    def shared(self) -> float:
        """Share of the places in sectors that show the surface of the other ring, the lesser of both rings."""
        return self._share(self.sectors[..., 1] > _SAME_IN_SECTOR)

    @property
    def agreed(self) -> float:
        """Share of the places in sectors that also agree on the light."""
        alike = np.abs(self.sectors[..., 0] - self.shift) < _SAME_SHIFT
        return self._share(alike & (self.sectors[..., 1] > _SAME_IN_SECTOR))

    def _share(self, those: npt.NDArray[np.bool_]) -> float:
        count = self.sectors[..., 2]
        return float(((count * those).sum(axis=1) / np.maximum(count.sum(axis=1), 1.0)).min())


def ask_surface(rings: Sequence[tuple[RingLight, RingLight]]) -> Witness | None:
    """Compare the surface beside the card with that beside the chart.

    Parameters
    ----------
    rings : sequence of (RingLight, RingLight)
        Beside the card and beside the chart, in rings of several breadths.

    Returns
    -------
    Witness or None
        None where no surface lies beside both.
    """
    tried = [(_matched(card.counts(), chart.counts()), chart) for card, chart in rings]
    found = [(match, chart) for match, chart in tried if match is not None]
    if not found:
        return None
    match, chart = max(found, key=lambda one: one[0].overlap * one[0].agreed)
    if match.overlap < _SAME_SURFACE or match.shared < _SHARED:
        return None
    level = chart.counts()[:, 3] * _BIN
    quartile = np.quantile(level, [0.25, 0.75])
    texture = float(quartile[1] - quartile[0]) / _BETWEEN_QUARTILES
    low, high = _range(match)
    return Witness(match.shift, low, high, texture, tinted=bool(np.any(match.tint)))


def _matched(card: npt.NDArray[np.int64], chart: npt.NDArray[np.int64]) -> _Match | None:
    """Shift the distribution beside the card until it matches that beside the chart; None if there is too little."""
    if min(len(card), len(chart)) < _LEAST_PLACES:
        return None
    tint = _shift_of_tint(card, chart)
    card = card - np.array([0, *tint, 0])
    far = _TINT_BINS + _MOST_TINT
    x, z = np.concatenate([card, chart])[:, 1:3].T + far
    count = np.bincount(x * (2 * far + 1) + z, minlength=(2 * far + 1) ** 2).reshape(2 * far + 1, -1)
    tints = np.argwhere(count > _COMMON_TINT * count.sum()) - far
    here, there = _histogram(card, tints), _histogram(chart, tints)
    all_here, all_there = here.sum(axis=0, keepdims=True), there.sum(axis=0, keepdims=True)
    shift, overlap = _best_shifts(all_here, all_there)
    sectors = [
        np.column_stack([*_best_shifts(one, other), counts.sum(axis=(1, 2))])
        for one, other, counts in ((here, all_there, here), (all_here, there, there))
    ]
    return _Match(here, there, float(shift[0]), float(overlap[0]), tint, np.stack(sectors))


def _range(match: _Match) -> tuple[float, float]:
    """Return shifts one standard error below and above, or those of the two lights that the surface lies in."""
    if match.agreed < _AGREED:
        same = match.sectors[(match.sectors[..., 1] > _SAME_IN_SECTOR) & (match.sectors[..., 2] > 0)]
        low, high = np.quantile(same[:, 0], _SPREAD, weights=same[:, 2], method="inverted_cdf")
        return float(low), float(high)
    drawn = np.random.default_rng(0).multinomial(_SECTORS, [1.0 / _SECTORS] * _SECTORS, (2, _RESAMPLED))
    pairs = zip(drawn, (match.here, match.there), strict=True)
    low, high = np.quantile(_best_shifts(*(np.tensordot(d, h, axes=1) for d, h in pairs))[0], _ONE_SIGMA)
    return float(low), float(high)


def _shift_of_tint(card: npt.NDArray[np.int64], chart: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Return by how many bins in X/Y and Z/Y the tints beside the card differ from those beside the chart; mostly 0."""
    dense = _over_tints(card, chart)
    reach = (_MOST_TINT, _MOST_TINT, round(_MOST_SHIFT / _COARSE))
    # Fourier transforms of sizes with large factors take several times as long.
    shape = [-(-(n + k) // 16) * 16 for n, k in zip(dense[0].shape, reach, strict=True)]
    waves = np.fft.rfftn(dense[0], shape, _AXES) * np.fft.rfftn(dense[1], shape, _AXES).conj()
    agreement = np.fft.irfftn(waves, shape, _AXES)
    steps, levels = np.arange(-_MOST_TINT, _MOST_TINT + 1), np.arange(-reach[2], reach[2] + 1)
    overlap = agreement[np.ix_(steps, steps, levels)].max(axis=2)
    x, z = np.unravel_index(overlap.argmax(), overlap.shape)
    pays = overlap[x, z] - overlap[_MOST_TINT, _MOST_TINT] > _TINT_PAYS
    return np.array([steps[x], steps[z]]) if pays else np.zeros(2, dtype=np.int64)


def _over_tints(*rings: npt.NDArray[np.int64]) -> list[Floats]:
    """Return square roots of the shares of places by tint, twice, and brightness in coarse bins, of each ring.

    Only the box that holds all places is returned, with a rim for the smoothing, because tables have few tints.
    """
    most = np.array([2 * _TINT_SPAN, 2 * _TINT_SPAN, round(_BINS * _BIN / _COARSE) - 1])
    coarse = [(ring[:, 1:] * [1.0, 1.0, _BIN / _COARSE]).astype(np.int64) for ring in rings]
    cells = [np.clip(ring + [_TINT_SPAN, _TINT_SPAN, 0], 0, most) for ring in coarse]
    held = np.concatenate(cells)
    low, high = np.maximum(held.min(axis=0) - _RIM, 0), np.minimum(held.max(axis=0) + _RIM, most) + 1
    shares = []
    for places in cells:
        counts = np.zeros(high - low)
        np.add.at(counts, tuple((places - low).T), 1.0)
        smooth = gaussian_filter(counts, (0.5, 0.5, 0.7), mode="constant")
        shares.append(np.sqrt(smooth / smooth.sum()))
    return shares


def _histogram(cells: npt.NDArray[np.int64], tints: npt.NDArray[np.int64]) -> Floats:
    """Return smoothed counts of places by sector, tint and brightness, shape (sectors, tints, bins)."""
    counts = np.zeros((_SECTORS, len(tints), _BINS))
    for k, tint in enumerate(tints):
        sector, level = cells[(cells[:, 1:3] == tint).all(axis=1)][:, [0, 3]].T
        np.add.at(counts, (sector, k, level), 1.0)
    smooth: Floats = gaussian_filter1d(counts, _BLUR, axis=-1, mode="constant")
    return smooth


def _best_shifts(here: Floats, there: Floats) -> tuple[Floats, Floats]:
    """Return by how much log brightness here exceeds that there, and how well the shifted distributions agree.

    Parameters
    ----------
    here, there : ndarray, shape (samples, tints, bins)
        Counts.

    Returns
    -------
    shift, overlap : ndarray, shape (samples,)
    """
    most = round(_MOST_SHIFT / _BIN)
    size = -(-(_BINS + most) // 16) * 16
    waves = [np.fft.rfft(np.sqrt(c / np.maximum(c.sum(axis=(1, 2), keepdims=True), 1e-9)), size) for c in (here, there)]
    agreement = np.fft.irfft((waves[0] * waves[1].conj()).sum(axis=1), size)
    near = np.concatenate([agreement[:, -most:], agreement[:, : most + 1]], axis=1)
    best = np.clip(near.argmax(axis=1), 1, 2 * most - 1)
    before, at, after = (np.take_along_axis(near, best[:, None] + k, axis=1)[:, 0] for k in (-1, 0, 1))
    bend = np.minimum(before - 2.0 * at + after, -1e-12)
    return (best - most + np.clip(0.5 * (before - after) / bend, -1.0, 1.0)) * _BIN, at
