"""The pipeline: one photo in, one measured note out for each card in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from swatchread.card.card_detection import find_card
from swatchread.card.card_find import CardFind
from swatchread.card.several_cards import NamedCard, OtherCard, find_cards
from swatchread.chart.chart_detection import ChartFind
from swatchread.chart.definition import ChartDefinition, load_chart
from swatchread.chart.from_corners import chart_from_corners
from swatchread.chart.patch_sampling import other_charts, rim_difference, sample_chart
from swatchread.chart.second_opinion import find_chart_or_ask
from swatchread.correction.calibration import Calibration, calibrate, choose_encoding, require_trust
from swatchread.correction.card_light import witness_card_light
from swatchread.correction.known_stock import KnownStocks
from swatchread.correction.local_tone import doubt_local_tone
from swatchread.correction.stock_witness import witness_stock
from swatchread.correction.uncertainty import estimate_uncertainty
from swatchread.errors import NoSwatchesError
from swatchread.hints.card_from_corners import card_from_corners
from swatchread.hints.given_grid import fit_given_grid
from swatchread.hints.manual_hints import ManualHints
from swatchread.hints.meant_cards import largest_beside_chart, meant_cards
from swatchread.hints.pointed_swatches import correct_swatches
from swatchread.hints.single_swatch import find_single_swatch
from swatchread.ink.orientation import stand_upright
from swatchread.note.card_warnings import chart_warnings, light_warnings
from swatchread.note.composition import compose_note
from swatchread.note.corner_doubts import corner_warnings
from swatchread.note.flags_and_warnings import Warn
from swatchread.note.model import CardInfo, Note
from swatchread.photo import Photo, load_photo
from swatchread.photo.stage_memory import StageMemory, file_stamp
from swatchread.plane.rectification import Plane, rectify
from swatchread.sampling.card_sampling import CardSample, sample_card
from swatchread.sampling.surroundings import brightness_around, sample_surroundings


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
    pointed: ManualHints | None = None,
    stocks: KnownStocks | None = None,
    memory: StageMemory | None = None,
) -> Reading:
    """Read one photo of a swatch card beside a chart; of several the largest that lies beside it.

    Parameters
    ----------
    path : pathlib.Path
    chart : ChartDefinition, optional
        The chart beside the card; the classic 24-patch chart by default.
    accept_poor : bool
        Take a reading whose colour fit is too poor to trust; the note then says so.
    pointed : ManualHints, optional
        What the painter has pointed at, in place of looking for it.
    stocks : KnownStocks, optional
        What earlier cards say of the stock that this card is made of.
    memory : StageMemory, optional
        What the last reading left; its result is the same.

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
    road = _Road(memory or StageMemory(), pointed or ManualHints(), stocks or KnownStocks(), accept_poor)
    cards = road.cards(road.table(path, chart))
    largest = largest_beside_chart(cards)
    return road.reading(NamedCard(replace(largest.find, alone=largest.find.alone and len(cards) == 1)))


def read_cards(
    path: Path,
    chart: ChartDefinition | None = None,
    *,
    accept_poor: bool = False,
    pointed: ManualHints | None = None,
    stocks: KnownStocks | None = None,
    memory: StageMemory | None = None,
) -> tuple[Reading, ...]:
    """Read one photo of one or several swatch cards beside a chart.

    Parameters
    ----------
    path, chart, accept_poor, stocks, memory
        As for `read_card`.
    pointed : ManualHints, optional
        Where what the painter has pointed at means one card, it alone is read.

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
    road = _Road(memory or StageMemory(), pointed or ManualHints(), stocks or KnownStocks(), accept_poor)
    return tuple(map(road.reading, road.cards(road.table(path, chart))))


def read_lone_swatch(path: Path, chart: ChartDefinition | None = None) -> Reading:
    """Read one photo of a single swatch beside a chart, whether or not it stands on a card.

    Parameters
    ----------
    path, chart
        As for `read_card`.

    Raises
    ------
    SwatchreadError
        As `read_card` does.
    """
    road = _Road(StageMemory(), ManualHints(), KnownStocks(), accept_poor=False)
    return road.measured(NamedCard(find_single_swatch(road.table(path, chart))))


def judge_chart(path: Path, chart: ChartDefinition | None = None) -> tuple[Calibration, tuple[Warn, ...]]:
    """Judge the chart in a photo, and the light on a card if one lies beside it.

    Parameters
    ----------
    path, chart
        As for `read_card`.

    Returns
    -------
    calibration : Calibration
        However poor it is.
    warnings : tuple of Warn
        Of the photo, its chart and its light, as a reading of the card would carry them.

    Raises
    ------
    SwatchreadError
        As `read_card` does, but for photos without a card.
    """
    road = _Road(StageMemory(), ManualHints(), KnownStocks(), accept_poor=True)
    plane = road.table(path, chart)
    try:
        paint = sample_card(find_card(plane))
    except NoSwatchesError:
        calibration = calibrate(plane.sample)
        require_trust(calibration, accept_poor=True)
        calibration = doubt_local_tone(calibration, rim_difference(plane.sample), np.zeros((0, 0)))
        return calibration, chart_warnings(calibration) + light_warnings(calibration)
    calibration = road.calibrated(paint)
    return calibration, chart_warnings(calibration) + light_warnings(calibration, paint)


@dataclass(frozen=True, eq=False)
class _Road:
    """The stages of a reading, with what was asked of it."""

    stages: StageMemory
    pointed: ManualHints
    stocks: KnownStocks
    accept_poor: bool

    def table(self, path: Path, chart: ChartDefinition | None) -> Plane:
        """Return the table in a photo, seen from straight above by its chart."""
        self.stages.begin()
        photo = self.stages.run(_photo, Path(path), file_stamp(Path(path)))
        self.pointed.check(photo.width, photo.height)
        patches = self.stages.run(choose_encoding, self.stages.run(sample_chart, self._chart(photo, chart)))
        return self.stages.run(rectify, patches)

    def _chart(self, photo: Photo, chart: ChartDefinition | None) -> ChartFind:
        if self.pointed.chart is None:
            return self.stages.run(find_chart_or_ask, photo, chart or load_chart())
        return self.stages.run(chart_from_corners, photo, chart or load_chart(), self.pointed.chart)

    def cards(self, plane: Plane) -> tuple[NamedCard, ...]:
        """Return the cards that are meant."""
        found = self.stages.run(_searched, plane)
        if self.pointed.card is not None:
            corner_warnings(plane, self.pointed.card)  # corners from a smaller picture are an error
            given = self.stages.run(card_from_corners, plane, self.pointed.card)
            return meant_cards(() if isinstance(found, NoSwatchesError) else found, given, self.pointed)
        if isinstance(found, NoSwatchesError):
            raise found
        return meant_cards(found, None, self.pointed)

    def reading(self, card: NamedCard) -> Reading:
        """Measure one card as the painter has told about it."""
        doubts = () if self.pointed.card is None else corner_warnings(card.find.plane, self.pointed.card)
        find = self.stages.run(stand_upright, card.find)
        told = not card.letter or self.pointed.quarters > 0 or self.pointed.grid is not None
        find = replace(find, grid=find.grid.turned(self.pointed.quarters % 4), turn_sure=find.turn_sure or told)
        find = find if self.pointed.grid is None else fit_given_grid(find, self.pointed.grid)
        return self.measured(replace(card, find=correct_swatches(find, self.pointed)), doubts)

    def measured(self, card: NamedCard, doubts: tuple[Warn, ...] = ()) -> Reading:
        """Measure one card; its note carries `doubts` too."""
        paint = sample_card(card.find)
        calibration = self.calibrated(paint)
        colours = estimate_uncertainty(calibration, paint.linear, paint.error, paint.places)
        note = compose_note(paint, calibration, colours, doubts)
        if card.letter:
            facts = note.card.model_copy(update={"letter": card.letter, "cards": len(card.others) + 1})
            note = note.model_copy(update={"card": facts})
        if self.stocks.named:
            note = note.model_copy(update={"card_info": CardInfo(support=self.stocks.named)})
        return Reading(note, paint, calibration, card.others)

    def calibrated(self, paint: CardSample) -> Calibration:
        """Return the correction, with what photo and stock say of the light between chart and card."""
        plane = paint.card.plane.table
        calibration = calibrate(plane.sample, paint.ground_linear, paint.ground_points, paint.places)
        require_trust(calibration, accept_poor=self.accept_poor)
        beside = sample_surroundings(paint.card)
        calibration = witness_card_light(calibration, paint.places, beside, other_charts(calibration.find))
        calibration = witness_stock(calibration, self.stocks)
        around = brightness_around(plane, calibration.ground_points)
        return doubt_local_tone(calibration, rim_difference(calibration.sample), around)


def _photo(path: Path, _: tuple[int, ...]) -> Photo:
    return load_photo(path)


def _searched(plane: Plane) -> tuple[CardFind, ...] | NoSwatchesError:
    """Return the cards that are found, or why there are none: the painter may have pointed at one."""
    try:
        return find_cards(plane)
    except NoSwatchesError as error:
        return error


def read_photo(path: Path | str, chart: ChartDefinition | None = None, *, accept_poor: bool = False) -> Note:
    """Read one photo of a swatch card into a note: `read_card` without the working.

    Parameters
    ----------
    path : pathlib.Path or str
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
