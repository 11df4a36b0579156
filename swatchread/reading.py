"""The pipeline: one photo in, one measured note out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from swatchread.charts.at import find_chart_at
from swatchread.charts.definition import ChartDefinition, load_chart
from swatchread.charts.find import ChartFind, find_chart
from swatchread.charts.sample import sample_chart
from swatchread.compose import compose
from swatchread.correction.calibrate import Calibration, calibrate, require_trust
from swatchread.correction.encoding import settle_encoding
from swatchread.correction.uncertainty import uncertain
from swatchread.doubts import corner_warnings
from swatchread.note import Note
from swatchread.photo import Photo, load_photo
from swatchread.pointed import Pointed
from swatchread.swatches.at import find_card_at
from swatchread.swatches.find import CardFind, find_card
from swatchread.swatches.fixed import fit_grid
from swatchread.swatches.lone import find_lone
from swatchread.swatches.plane import Plane, rectify
from swatchread.swatches.sample import CardSample, sample_card
from swatchread.swatches.upright import stand_upright


@dataclass(frozen=True, eq=False)
class Reading:
    """A note with what it was read from.

    Attributes
    ----------
    note : Note
    sample : CardSample
        What was sampled and what was left out.
    calibration : Calibration
    """

    note: Note
    sample: CardSample
    calibration: Calibration


def read_card(
    path: Path,
    chart: ChartDefinition | None = None,
    *,
    accept_poor: bool = False,
    lone: bool = False,
    pointed: Pointed | None = None,
) -> Reading:
    """Read one photo of a swatch card beside a chart.

    Parameters
    ----------
    path : pathlib.Path
        The photo.
    chart : ChartDefinition, optional
        The chart beside the card; the classic 24-patch chart by default.
    accept_poor : bool
        Take a reading whose colour fit is too poor to trust; the note then says so.
    lone : bool
        The photo shows a single swatch, not a card with rows of them.
    pointed : Pointed, optional
        What the painter has pointed at, in place of looking for it.

    Returns
    -------
    Reading

    Raises
    ------
    PhotoError
        If the file is not a readable colour photo.
    CornersError
        If what was pointed at lies outside the photo.
    NoChartError
        If the chart is not in it, or the photo is mirrored.
    NoSwatchesError
        If no card with painted swatches is in it, or not in the rows and columns asked for.
    PoorReadingError
        If the chart's colours cannot be brought right.
    """
    photo = load_photo(Path(path))
    pointed = pointed or Pointed()
    pointed.check(photo.width, photo.height)
    found = _chart(photo, chart or load_chart(), pointed)
    patches = settle_encoding(sample_chart(found))
    plane = rectify(patches)
    card = find_lone(plane) if lone else _card(plane, pointed)
    paint = sample_card(card)
    calibration = calibrate(patches, paint.ground_linear, paint.ground_points, paint.places)
    require_trust(calibration, accept_poor=accept_poor)
    colours = uncertain(calibration, paint.linear, paint.error, paint.places)
    doubts = () if pointed.card is None else corner_warnings(plane, pointed.card)
    return Reading(compose(paint, calibration, colours, doubts), paint, calibration)


def _chart(photo: Photo, chart: ChartDefinition, pointed: Pointed) -> ChartFind:
    return find_chart(photo, chart) if pointed.chart is None else find_chart_at(photo, chart, pointed.chart)


def _card(plane: Plane, pointed: Pointed) -> CardFind:
    card = stand_upright(find_card(plane) if pointed.card is None else find_card_at(plane, pointed.card))
    return card if pointed.grid is None else fit_grid(card, pointed.grid)


def read_photo(path: Path | str, chart: ChartDefinition | None = None, *, accept_poor: bool = False) -> Note:
    """Read one photo of a swatch card into a note: `read_card` without the working."""
    return read_card(Path(path), chart, accept_poor=accept_poor).note
