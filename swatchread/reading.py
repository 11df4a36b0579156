"""The pipeline: one photo in, one measured note out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any, TypeVar, TypeVarTuple

import numpy as np

from swatchread.card.card_detection import CardFind, find_card
from swatchread.card.card_from_corners import card_from_corners
from swatchread.card.card_sampling import CardSample, sample_card
from swatchread.card.given_grid import fit_given_grid
from swatchread.card.manual_hints import ManualHints
from swatchread.card.orientation import stand_upright
from swatchread.card.pointed_swatches import correct_swatches
from swatchread.card.rectification import Plane, rectify
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
    pointed: ManualHints | None = None,
    memory: StageMemory | None = None,
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
    pointed : ManualHints, optional
        What the painter has pointed at, in place of looking for it.
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
    stages = memory or StageMemory()
    stages.begin()
    photo = stages.run(_photo, Path(path), _stamp(Path(path)))
    pointed = pointed or ManualHints()
    pointed.check(photo.width, photo.height)
    found = _chart(stages, photo, chart or load_chart(), pointed)
    patches = stages.run(choose_encoding, stages.run(sample_chart, found))
    plane = stages.run(rectify, patches)
    card = find_single_swatch(plane) if lone else _card(stages, plane, pointed)
    paint = sample_card(card)
    calibration = calibrate(patches, paint.ground_linear, paint.ground_points, paint.places)
    require_trust(calibration, accept_poor=accept_poor)
    calibration = _witnessed(calibration, paint)
    colours = estimate_uncertainty(calibration, paint.linear, paint.error, paint.places)
    doubts = () if pointed.card is None else corner_warnings(plane, pointed.card)
    return Reading(compose_note(paint, calibration, colours, doubts), paint, calibration)


def _witnessed(calibration: Calibration, paint: CardSample) -> Calibration:
    """Return the calibration with what the photo shows of the light between chart and card."""
    plane, beside = paint.card.plane, sample_surroundings(paint.card)
    charts = other_charts(calibration.find)
    calibration = witness_card_light(calibration, paint.places, beside.by_card, beside.by_chart, charts)
    around = brightness_around(plane, calibration.ground_points)
    return doubt_local_tone(calibration, rim_difference(calibration.sample), around)


def _chart(stages: StageMemory, photo: Photo, chart: ChartDefinition, pointed: ManualHints) -> ChartFind:
    if pointed.chart is None:
        return stages.run(find_chart_or_ask, photo, chart)
    return stages.run(chart_from_corners, photo, chart, pointed.chart)


def _card(stages: StageMemory, plane: Plane, pointed: ManualHints) -> CardFind:
    found = stages.run(find_card, plane) if pointed.card is None else stages.run(card_from_corners, plane, pointed.card)
    card = stages.run(stand_upright, found)
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


_Inputs = TypeVarTuple("_Inputs")
_Result = TypeVar("_Result")


class StageMemory:
    """The stages of the last reading. A reading that is given the same memory begins at the first that would differ.

    So a photo that is corrected is neither decoded nor searched again where the correction changes nothing of that. All
    results from the first difference on are let go, so that no two photos are held at a time.
    """

    def __init__(self) -> None:
        self._kept: list[tuple[Callable[..., Any], tuple[Any, ...], Any]] = []
        self._next = 0

    def begin(self) -> None:
        """Begin a reading."""
        self._next = 0

    def run(self, stage: Callable[[*_Inputs], _Result], *inputs: *_Inputs) -> _Result:
        """Return what a stage makes of its inputs, from memory if it stood there with the same ones."""
        kept = self._kept[self._next] if self._next < len(self._kept) else None
        if kept is None or kept[0] is not stage or not _same(kept[1], inputs):
            del kept, self._kept[self._next :]
            self._kept.append((stage, inputs, stage(*inputs)))
        result: _Result = self._kept[self._next][2]
        self._next += 1
        return result


def _same(one: Any, other: Any) -> bool:
    """Tell whether two inputs of a stage have the same values: hints and charts are made anew for each reading."""
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    if is_dataclass(one):
        return all(_same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))
    return bool(one == other)


def _stamp(path: Path) -> tuple[int, ...]:
    """Return what tells a file that was written again from the one that was decoded; empty if there is none."""
    try:
        told = path.stat()
    except (OSError, ValueError):
        return ()
    return told.st_mtime_ns, told.st_size, told.st_ino


def _photo(path: Path, _: tuple[int, ...]) -> Photo:
    return load_photo(path)
