"""A strip of the painter's own chips, measured beside a known chart and kept as a chart of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from swatchread.card.card_find import CardFind
from swatchread.chart.chart_detection import accepted, find_chart
from swatchread.chart.definition import ChartDefinition
from swatchread.chart.identification import turns_apart
from swatchread.chart.patch_sampling import ChartSample, sample_chart
from swatchread.colour.cielab import Floats, delta_e_2000
from swatchread.correction.calibration import calibrate, require_trust
from swatchread.correction.uncertainty import estimate_uncertainty
from swatchread.custom_chart.strip_detection import Size, find_strip
from swatchread.errors import PoorReadingError, StripTurnError, UsageError
from swatchread.grid.swatch_grid import Grid
from swatchread.ground.ground_regions import card_score, likely_regions, surface_of
from swatchread.photo import load_photo
from swatchread.plane.lab_image import lab_image_of
from swatchread.plane.rectification import rectify
from swatchread.sampling.card_sampling import ground_in_other_light, sample_ground

TURN_MARGIN = 0.2
"""Misfit of a strip to itself when turned, beyond what a search accepts, so that a photo can show which way it lies."""

_QUIET = 1.6
"""Noise of a surface, CIELAB units, below which it is even enough to show the light."""

_LIGHT_UNKNOWN = 1.5
"""CIEDE2000 that uneven light may cost where no even ground shows it."""

_GLARE = 0.6
"""Unevenness of a chip above which it shines or lies in a shadow (see `ChartSample.unevenness`)."""

_INDEPENDENT = 100.0
"""Independent pixels of a chip, about: neighbouring pixels have errors in common."""

_STRONG = 1.3
"""Factor of the uncertainty: chips are often stronger colours than paint, for which it is too small (simulated)."""

_SAME = 8.0
"""Median CIEDE2000 between two photos of one strip at most."""

_LEAST_SHARED = 0.5
"""Least part of the uncertainty that several photos share: the chart's own errors."""


@dataclass(frozen=True, eq=False)
class StripReading:
    """A strip in one photo.

    Attributes
    ----------
    size : tuple of int
        Rows and columns as it lies there.
    patch_share : float
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree, row by row.
    de00 : ndarray, shape (n,)
        Standard uncertainty.
    even : bool
        Whether an even ground showed how the light falls.
    """

    size: Size
    patch_share: float
    lab: Floats
    de00: Floats
    even: bool


def read_strip(path: Path, chart: ChartDefinition, size: Size | None = None) -> StripReading:
    """Measure a strip of chips that lies beside a known chart.

    Parameters
    ----------
    path : pathlib.Path
        The photo.
    chart : ChartDefinition
        The known chart.
    size : tuple of int, optional
        Rows and columns of the strip.

    Returns
    -------
    StripReading

    Raises
    ------
    PhotoError, NoChartError
        If the photo or the chart cannot be used.
    NoStripError
        If no strip lies beside the chart.
    PoorReadingError
        If the chart's colours cannot be corrected well enough, or a chip is burnt out or shines.
    """
    found = find_chart(load_photo(path), chart)
    patches, strip = sample_chart(found), find_strip(found, size)
    chips = sample_chart(strip)
    _require_plain(chips)
    ground = _ground(patches)
    calibration = calibrate(patches, *ground)
    require_trust(calibration, accept_poor=False)
    error = chips.noise / np.sqrt(_INDEPENDENT)
    colours = estimate_uncertainty(calibration, chips.linear, error, chips.points)
    even = len(ground[0]) > 0
    doubt = np.hypot(_STRONG * colours.de00, 0.0 if even else _LIGHT_UNKNOWN)
    return StripReading((strip.chart.rows, strip.chart.columns), strip.patch_share, colours.lab, doubt, even)


def _require_plain(chips: ChartSample) -> None:
    name, names = chips.find.photo.path.name, np.array(chips.find.chart.patch_names)
    if chips.clipped.any():
        raise PoorReadingError(
            f"Chips of the strip in {name} are over- or under-exposed",
            ", ".join(names[chips.clipped]),
            "Expose so that they are neither burnt out nor drowned, and shoot again",
        )
    if (chips.unevenness > _GLARE).any():
        raise PoorReadingError(
            f"Chips of the strip in {name} are uneven",
            ", ".join(names[chips.unevenness > _GLARE]),
            "Keep glare and shadows off; use flat, matt chips of one colour each",
        )


def _ground(patches: ChartSample) -> tuple[Floats, Floats]:
    """Sample the most even surface beside the chart, to see how the light falls; empty where there is none."""
    plane = rectify(patches)
    image = lab_image_of(plane)
    regions = [r.doubled(image) for r in likely_regions(image.halved(), 3)]
    surfaces = [s for r in regions if (s := surface_of(r, image)) is not None and s.noise < _QUIET]
    if not surfaces:
        return np.zeros((0, 3)), np.zeros((0, 2))
    card = CardFind(plane, max(surfaces, key=card_score), Grid((), 0.0, 0.0))
    return sample_ground(card, ground_in_other_light(card))


def learn_strip(readings: Sequence[StripReading], name: str, beside: str) -> ChartDefinition:
    """Make a chart of a strip that was measured in one photo or several.

    Parameters
    ----------
    readings : sequence of StripReading
    name : str
        Of the new chart.
    beside : str
        Name of the known chart.

    Returns
    -------
    ChartDefinition
        With the mean of the readings and its uncertainty. Averaging does not lower the part that all photos share.

    Raises
    ------
    UsageError
        If the photos show different strips.
    StripTurnError
        If the strip's colours cannot show which way round it lies.
    """
    first = readings[0]
    orders = [np.arange(len(first.lab)), *(_order_of(r, first) for r in readings[1:])]
    lab = np.stack([r.lab[order] for r, order in zip(readings, orders, strict=True)])
    count = len(readings)
    variance = np.stack([r.de00[order] ** 2 for r, order in zip(readings, orders, strict=True)])
    weight = (1.0 / variance) / (1.0 / variance).sum(axis=0)
    mean = (lab * weight[..., None]).sum(axis=0)
    scatter = (weight * delta_e_2000(lab, mean[None]) ** 2).sum(axis=0) * count / max(count - 1, 1)
    single = (weight * variance).sum(axis=0)
    shared = np.maximum(single - scatter, _LEAST_SHARED**2 * single) if count > 1 else single
    de00 = np.sqrt(shared + scatter / count if count > 1 else single)
    strip = ChartDefinition(
        name=name,
        title=f"Home-made strip of {first.size[0]} × {first.size[1]} chips",
        source=f"Measured in {count} photo{'s' if count > 1 else ''} beside {beside}, CIELAB for D50, 2 degree",
        rows=first.size[0],
        columns=first.size[1],
        patch_share=round(float(np.median([r.patch_share for r in readings])), 3),
        spread_de00=round(float(np.sqrt((de00**2).mean())), 2),
        patch_names=tuple(f"chip {k + 1}" for k in range(len(mean))),
        lab=mean,
        de00=de00,
    )
    _require_turn(strip)
    return strip


def _order_of(reading: StripReading, first: StripReading) -> npt.NDArray[np.int64]:
    """Return the order that brings a later reading's chips into the first one's: the strip may lie turned."""
    place: npt.NDArray[np.int64] = np.arange(len(reading.lab)).reshape(reading.size)
    turns = [np.rot90(place, k).ravel() for k in range(4) if np.rot90(place, k).shape == first.size]
    off = [float(np.median(delta_e_2000(reading.lab[turn], first.lab))) for turn in turns]
    if not off or min(off) > _SAME:
        why = f"their chips are CIEDE2000 {min(off):.0f} apart" if off else "they have other rows and columns"
        raise UsageError("The photos do not show the same strip", why, "Give photos of one strip only")
    return turns[int(np.argmin(off))]


def _require_turn(strip: ChartDefinition) -> None:
    apart, least = turns_apart(strip), accepted(strip) + TURN_MARGIN
    if apart < least:
        raise StripTurnError(
            "The strip's colours cannot show which way round it lies",
            f"turned or mirrored, it fits itself with a misfit of {apart:.2f} (at least {least:.2f} is needed)",
        )
