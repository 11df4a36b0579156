"""The pipeline: one photo in, one measured note out for each card in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from swatchread.card.card_detection import CardFind
from swatchread.card.card_sampling import CardSample, sample_card
from swatchread.card.given_grid import fit_given_grid
from swatchread.card.manual_hints import ManualHints
from swatchread.card.orientation import stand_upright
from swatchread.card.pointed_swatches import correct_swatches
from swatchread.card.rectification import Plane, rectify
from swatchread.card.several_cards import NamedCard, OtherCard, pointed_cards
from swatchread.card.single_swatch import find_single_swatch
from swatchread.card.surroundings import brightness_around, sample_surroundings
from swatchread.chart.chart_detection import ChartFind
from swatchread.chart.definition import ChartDefinition, load_chart
from swatchread.chart.from_corners import chart_from_corners
from swatchread.chart.patch_sampling import other_charts, rim_difference, sample_chart
from swatchread.chart.second_opinion import find_chart_or_ask
from swatchread.correction.calibration import Calibration, calibrate, choose_encoding, require_trust
from swatchread.correction.card_light import witness_card_light
from swatchread.correction.local_tone import doubt_local_tone
from swatchread.correction.uncertainty import estimate_uncertainty
from swatchread.note.composition import compose_note
from swatchread.note.corner_doubts import corner_warnings
from swatchread.note.flags_and_warnings import Warn
from swatchread.note.model import Note
from swatchread.photo import Photo, load_photo


@dataclass(frozen=True, eq=False)
class Reading:
    """A note with what it was read from.

    Attributes
    ----------
    note : Note
    sample : CardSample
        What was sampled and what was left out.
    calibration : Calibration
    others : tuple of OtherCard
        The other cards in the photo.
    """

    note: Note
    sample: CardSample
    calibration: Calibration
    others: tuple[OtherCard, ...] = ()


def read_card(
    path: Path,
    chart: ChartDefinition | None = None,
    *,
    accept_poor: bool = False,
    lone: bool = False,
    pointed: ManualHints | None = None,
) -> Reading:
    """Read one photo of a swatch card beside a chart; of several cards the one with most swatches.

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
    pointed : ManualHints, optional
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
        If the chart's colours cannot be corrected well enough.
    """
    pointed = pointed or ManualHints()
    plane = _table(path, chart, pointed)
    if lone:
        return _measured(NamedCard(find_single_swatch(plane)), accept_poor=accept_poor)
    cards = pointed_cards(plane, pointed)
    largest = max(cards, key=lambda card: len(card.find.grid.cells))
    alone = largest.find.alone and len(cards) == 1
    return _read(NamedCard(replace(largest.find, alone=alone)), pointed, accept_poor=accept_poor)


def read_cards(
    path: Path,
    chart: ChartDefinition | None = None,
    *,
    accept_poor: bool = False,
    pointed: ManualHints | None = None,
) -> tuple[Reading, ...]:
    """Read one photo of one or several swatch cards beside a chart.

    Parameters
    ----------
    path : pathlib.Path
        The photo.
    chart : ChartDefinition, optional
        The chart beside the cards; the classic 24-patch chart by default.
    accept_poor : bool
        Take readings whose colour fit is too poor to trust; their notes then say so.
    pointed : ManualHints, optional
        What the painter has pointed at. Where that means one card, it alone is read.

    Returns
    -------
    tuple of Reading
        In reading order. The notes of several cards carry letters.

    Raises
    ------
    SeveralCardsError
        If rows and columns, or single swatches, were told of one of several cards and not of which.
    SwatchreadError
        As `read_card` does.
    """
    pointed = pointed or ManualHints()
    cards = pointed_cards(_table(path, chart, pointed), pointed)
    return tuple(_read(card, pointed, accept_poor=accept_poor) for card in cards)


def _table(path: Path, chart: ChartDefinition | None, pointed: ManualHints) -> Plane:
    """Return the table in a photo, seen from straight above by its chart."""
    photo = load_photo(Path(path))
    pointed.check(photo.width, photo.height)
    found = _chart(photo, chart or load_chart(), pointed)
    return rectify(choose_encoding(sample_chart(found)))


def _read(card: NamedCard, pointed: ManualHints, *, accept_poor: bool) -> Reading:
    """Measure one card as the painter has told about it."""
    doubts = () if pointed.card is None else corner_warnings(card.find.plane, pointed.card)
    return _measured(replace(card, find=_corrected(card.find, pointed)), doubts, accept_poor=accept_poor)


def _measured(card: NamedCard, doubts: tuple[Warn, ...] = (), *, accept_poor: bool) -> Reading:
    """Measure one card; `doubts` are warnings that its note carries beside its own."""
    patches, paint = card.find.plane.sample, sample_card(card.find)
    calibration = calibrate(patches, paint.ground_linear, paint.ground_points, paint.places)
    require_trust(calibration, accept_poor=accept_poor)
    calibration = _witnessed(calibration, paint)
    colours = estimate_uncertainty(calibration, paint.linear, paint.error, paint.places)
    note = compose_note(paint, calibration, colours, doubts)
    if card.letter:
        facts = note.card.model_copy(update={"letter": card.letter, "cards": len(card.others) + 1})
        note = note.model_copy(update={"card": facts})
    return Reading(note, paint, calibration, card.others)


def _witnessed(calibration: Calibration, paint: CardSample) -> Calibration:
    """Return the calibration with what the photo shows of the light between chart and card."""
    plane, beside = paint.card.plane, sample_surroundings(paint.card)
    charts = other_charts(calibration.find)
    calibration = witness_card_light(calibration, paint.places, beside.by_card, beside.by_chart, charts)
    around = brightness_around(plane, calibration.ground_points)
    return doubt_local_tone(calibration, rim_difference(calibration.sample), around)


def _chart(photo: Photo, chart: ChartDefinition, pointed: ManualHints) -> ChartFind:
    return find_chart_or_ask(photo, chart) if pointed.chart is None else chart_from_corners(photo, chart, pointed.chart)


def _corrected(card: CardFind, pointed: ManualHints) -> CardFind:
    """Return a card upright, with what the painter has told about its swatches."""
    card = stand_upright(card)
    card = replace(card, grid=card.grid.turned(pointed.quarters % 4))
    return correct_swatches(card if pointed.grid is None else fit_given_grid(card, pointed.grid), pointed)


def read_photo(path: Path | str, chart: ChartDefinition | None = None, *, accept_poor: bool = False) -> Note:
    """Read one photo of a swatch card into a note: `read_card` without the working.

    Parameters
    ----------
    path : pathlib.Path or str
        The photo.
    chart : ChartDefinition, optional
        The chart beside the card; the classic 24-patch chart by default.
    accept_poor : bool
        Take a reading whose colour fit is too poor to trust; the note then says so.

    Returns
    -------
    Note

    Raises
    ------
    SwatchreadError
        As `read_card` does.

    Examples
    --------
    >>> note = swatchread.read_photo("samples/grey-card.jpg")
    >>> [(swatch.id, swatch.lab, swatch.uncertainty.de00) for swatch in note.swatches]
    """
    return read_card(Path(path), chart, accept_poor=accept_poor).note
