"""The pipeline: one photo in, one measured note out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from swatchread.charts.definition import ChartDefinition, load_chart
from swatchread.charts.find import find_chart
from swatchread.charts.sample import sample_chart
from swatchread.compose import compose
from swatchread.correction.calibrate import Calibration, calibrate, require_trust
from swatchread.correction.encoding import settle_encoding
from swatchread.correction.uncertainty import uncertain
from swatchread.note import Note
from swatchread.photo import load_photo
from swatchread.swatches.find import find_card
from swatchread.swatches.lone import find_lone
from swatchread.swatches.plane import rectify
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
    path: Path, chart: ChartDefinition | None = None, *, accept_poor: bool = False, lone: bool = False
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

    Returns
    -------
    Reading

    Raises
    ------
    PhotoError
        If the file is not a readable colour photo.
    NoChartError
        If the chart is not in it, or the photo is mirrored.
    NoSwatchesError
        If no card with painted swatches is in it.
    PoorReadingError
        If the chart's colours cannot be brought right.
    """
    photo = load_photo(Path(path))
    found = find_chart(photo, chart or load_chart())
    patches = settle_encoding(sample_chart(found))
    plane = rectify(patches)
    card = find_lone(plane) if lone else stand_upright(find_card(plane))
    paint = sample_card(card)
    calibration = calibrate(patches, paint.ground_linear, paint.ground_points)
    require_trust(calibration, accept_poor=accept_poor)
    colours = uncertain(calibration, paint.linear, paint.error, paint.places)
    return Reading(compose(paint, calibration, colours), paint, calibration)


def read_photo(path: Path | str, chart: ChartDefinition | None = None, *, accept_poor: bool = False) -> Note:
    """Read one photo of a swatch card into a note: `read_card` without the working."""
    return read_card(Path(path), chart, accept_poor=accept_poor).note
