"""Reading a photo with a kept set-up: it needs no chart, but the same camera in the same place and the same light."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from swatchread.card.card_detection import find_card
from swatchread.chart.chart_detection import ChartFind, find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import ChartSample, sample_chart
from swatchread.colour.cielab import Floats
from swatchread.correction.calibration import calibrate, require_trust
from swatchread.correction.known_stock import KnownStocks
from swatchread.correction.light_field import spacing
from swatchread.correction.uncertainty import estimate_uncertainty
from swatchread.errors import NoChartError, OtherSetupError
from swatchread.hints.manual_hints import ManualHints
from swatchread.ink.orientation import stand_upright
from swatchread.note.composition import compose_note
from swatchread.note.flags_and_warnings import Warn, warn
from swatchread.photo import Photo, load_photo
from swatchread.photo.camera_settings import changed
from swatchread.photo.stage_memory import StageMemory
from swatchread.plane.rectification import rectify
from swatchread.reading import Reading, read_card, read_cards
from swatchread.sampling.card_sampling import CardSample, sample_card
from swatchread.setup.light_check import Drift, ground_drift, require_same_light, widened
from swatchread.setup.setup_file import Setup, load_setup

_ALIKE, _SHARE = 0.15, 0.25
"""Relative change of linear values that still counts as the same patch, and the share of patches that must be so."""

_DARKEST = 0.01
"""Linear value below which a patch is too dark to compare."""

_FRAME = 0.22
"""Width of a chart's frame, in distances between its patches."""


def read_in_setup(path: Path, setup: Setup, *, accept_poor: bool = False) -> Reading:
    """Read a photo of a card with a kept set-up.

    Parameters
    ----------
    path : pathlib.Path
        A photo from the same fixed camera, of the same size, in the same light.
    setup : Setup
    accept_poor : bool
        As for `swatchread.reading.read_card`.

    Returns
    -------
    Reading
        Its note carries the warning ``kept_setup``.

    Raises
    ------
    PhotoError
        If the file is not a readable colour photo.
    OtherSetupError
        If the photo is of another camera, size or colour space.
    ChangedLightError
        If the bare ground shows other light, or too little of it shows.
    NoSwatchesError
        If no card with painted swatches is in it.
    PoorReadingError
        If the kept correction is too poor.
    """
    photo = load_photo(Path(path))
    _require_same_camera(photo, setup)
    sample = _chart_in(setup, photo)
    card = stand_upright(find_card(rectify(sample, chart_there=_still_there(sample))))
    card = replace(card, turn_sure=True)  # one that lies alone stands as the chart did
    paint = sample_card(card)
    kept = calibrate(sample, setup.ground_linear, setup.ground_points)
    require_trust(kept, accept_poor=accept_poor)
    drift = ground_drift(kept, setup, paint.ground_linear, paint.ground_points)
    settings = changed(setup.settings, photo.settings)
    require_same_light(drift, photo.path.name, settings)
    calibration = calibrate(sample, *_joined_ground(setup, paint), paint.places)
    colours = widened(estimate_uncertainty(calibration, paint.linear, paint.error, paint.places), drift)
    note = compose_note(paint, calibration, colours)
    warnings = _warnings(setup, drift, settings)
    return Reading(note.model_copy(update={"warnings": (*warnings, *note.warnings)}), paint, calibration)


def _joined_ground(setup: Setup, paint: CardSample) -> tuple[Floats, Floats]:
    """Return this card's ground, and kept ground where this card has none: the light is the same for both.

    Both must not stand in one place, because the light field takes its reach from the distance between places.
    """
    points, kept = paint.ground_points, setup.ground_points
    free = np.linalg.norm(kept[:, None] - points[None], axis=-1).min(axis=1) > spacing(points)
    linear = np.concatenate([paint.ground_linear, setup.ground_linear[free]])
    return linear, np.concatenate([points, kept[free]])


def _require_same_camera(photo: Photo, setup: Setup) -> None:
    then = setup.photo
    found = []
    if (photo.width, photo.height) != (then.width, then.height):
        found.append(f"it is {photo.width} × {photo.height} pixels, the set-up {then.width} × {then.height}")
    if photo.camera and then.camera and photo.camera != then.camera:
        found.append(f"it was taken with {photo.camera}, the set-up with {then.camera}")
    if (photo.encoding.name, photo.encoding.scene_linear) != (then.profile, setup.scene_linear):
        found.append(f"its colour space is {photo.encoding.name}, the set-up's {then.profile}")
    if found:
        raise OtherSetupError(f"{photo.path.name} does not come from the set-up that was kept", "; ".join(found))


def _chart_in(setup: Setup, photo: Photo) -> ChartSample:
    """Return the kept chart in this photo; a chart that is visible is marked, so that it is not taken for a card."""
    sample = setup.sample_in(photo)
    try:
        seen: tuple[Floats, ...] = (_outline_with_frame(find_chart(photo, sample.find.chart)),)
    except NoChartError:
        seen = ()
    return replace(sample, find=replace(sample.find, others=seen))


def _outline_with_frame(find: ChartFind) -> Floats:
    right, bottom = find.chart.columns + _FRAME, find.chart.rows + _FRAME
    return find.to_photo(np.array([[-_FRAME, -_FRAME], [right, -_FRAME], [right, bottom], [-_FRAME, bottom]]))


def _still_there(sample: ChartSample) -> bool:
    """Tell whether the chart, or a good part of it, still lies where it lay: its patches look the same."""
    now = sample_chart(sample.find)
    clear = ~sample.clipped & (sample.linear > _DARKEST).all(axis=1)
    ratio = now.linear / np.maximum(sample.linear, 1e-6)
    alike = (np.abs(ratio - 1.0) < _ALIKE).all(axis=1) & clear
    return bool(alike.sum() >= _SHARE * max(int(clear.sum()), 1))


def _warnings(setup: Setup, drift: Drift, settings: tuple[str, ...]) -> tuple[Warn, ...]:
    off = 100.0 * (np.exp(drift.brightness) - 1.0)
    word = "brighter" if off > 0 else "darker"
    kept = f"kept on {setup.made[:10]} from {setup.photo.file}; the bare ground is {abs(off):.1f} % {word}, "
    kept += f"{np.hypot(drift.a, drift.b):.1f} CIELAB units off in colour"
    found = [warn("kept_setup", kept)]
    if settings:
        found.append(warn("setup_settings", ", ".join(settings)))
    return tuple(found)


def reader(
    chart: str | None,
    setup: Path | None,
    *,
    accept_poor: bool,
    pointed: ManualHints | None = None,
    stocks: KnownStocks | None = None,
) -> Callable[[Path], Reading]:
    """Return a function that reads one card in a photo; see `cards_reader`."""
    if setup is None:
        definition = load_chart(chart) if chart else load_chart()
        return lambda path: read_card(path, definition, accept_poor=accept_poor, pointed=pointed, stocks=stocks)
    kept = load_setup(setup)
    return lambda path: read_in_setup(path, kept, accept_poor=accept_poor)


def cards_reader(
    chart: str | None,
    setup: Path | None,
    *,
    accept_poor: bool,
    pointed: ManualHints | None = None,
    stocks: KnownStocks | None = None,
    memory: StageMemory | None = None,
) -> Callable[[Path], tuple[Reading, ...]]:
    """Return a function that reads all cards in a photo; with a kept set-up, one.

    Parameters
    ----------
    chart : str or None
        A known chart's name or a definition file; None for the usual one.
    setup : pathlib.Path or None
        File of a kept set-up, which contains its own chart.
    accept_poor : bool
    pointed : ManualHints, optional
        What the painter pointed at; not for a kept set-up.
    stocks : KnownStocks, optional
        What earlier cards say of the stock; not for a kept set-up, which knows its ground.
    memory : StageMemory, optional
        What the last reading left; not for a kept set-up.

    Returns
    -------
    callable
        From a photo's path to a `Reading` for each card.

    Raises
    ------
    ChartDefinitionError, SetupFileError
        If a file cannot be used.
    """
    if setup is None:
        definition = load_chart(chart) if chart else load_chart()
        return lambda path: read_cards(
            path, definition, accept_poor=accept_poor, pointed=pointed, stocks=stocks, memory=memory
        )
    kept = load_setup(setup)
    return lambda path: (read_in_setup(path, kept, accept_poor=accept_poor),)
