"""The note is composed from the measured colours, their flags and the warnings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

import numpy as np

from swatchread import __version__
from swatchread.card.card_sampling import CardSample
from swatchread.colour.cielab import Floats, delta_e_2000, value_of_lab, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.card_warnings import card_warnings
from swatchread.note.description import describe, rounded, rounded_points, rounded_triple
from swatchread.note.model import (
    CardFacts,
    ChartFacts,
    Corners,
    Fit,
    Ground,
    Note,
    Swatch,
    Tool,
    Uncertainty,
    Warn,
)
from swatchread.note.photo_facts import PhotoFacts
from swatchread.note.swatch_flags import swatch_flags
from swatchread.photo import Photo


def compose_note(
    paint: CardSample, calibration: Calibration, colours: UncertainColours, more_warnings: tuple[Warn, ...] = ()
) -> Note:
    """Compose the note of a reading.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours
        One row for each swatch of `paint`.
    more_warnings : tuple of Warn
        Warnings that follow those that are found here.

    Returns
    -------
    Note
    """
    ground_lab = ground_colour(paint, calibration)
    spread = _spread(paint, calibration, colours.lab)
    flags = swatch_flags(paint, calibration, colours, ground_lab, spread)
    return Note(
        tool=Tool(version=__version__),
        made=datetime.now(UTC).isoformat(timespec="seconds"),
        photo=photo_facts(calibration.find.photo),
        chart=chart_facts(calibration),
        card=CardFacts(
            corners=_corners(paint.card.corners),
            ground=Ground(lab=rounded_triple(ground_lab), value=rounded(value_of_lab(ground_lab), 2)),
        ),
        swatches=tuple(_swatches(paint, colours, spread, flags)),
        warnings=card_warnings(paint, calibration, colours) + more_warnings,
    )


def ground_colour(paint: CardSample, calibration: Calibration) -> Floats:
    """Return CIELAB of the card's bare ground, shape (3,)."""
    if not len(paint.ground_linear):
        return np.array(paint.card.surface.lab)
    ground: Floats = np.median(calibration.lab(paint.ground_linear, paint.ground_points), axis=0)
    return ground


def _swatches(
    paint: CardSample, colours: UncertainColours, spread: Floats, flags: list[tuple[str, ...]]
) -> Iterable[Swatch]:
    sigma = np.sqrt(np.einsum("nii->ni", colours.covariance))
    described = describe(colours.lab, colours.covariance)
    for k, sample in enumerate(paint.swatches):
        yield Swatch(
            id=sample.cell.id,
            row=sample.cell.row,
            column=sample.cell.column,
            outline=rounded_points(sample.outline),
            uncertainty=Uncertainty(
                L=rounded(sigma[k, 0]),
                a=rounded(sigma[k, 1]),
                b=rounded(sigma[k, 2]),
                de00=rounded(colours.de00[k]),
                own_de00=rounded(colours.own_de00[k]),
            ),
            spread_de00=rounded(spread[k], 2),
            flags=flags[k],
            **described[k],
        )


def _spread(paint: CardSample, calibration: Calibration, lab: Floats) -> Floats:
    """Return the median CIEDE2000 of each swatch's pixels to its colour, in the light at its middle."""
    counts = [len(s.pixels) for s in paint.swatches]
    log_light = np.repeat(calibration.log_light(paint.places), counts)
    pixel_lab = xyz_to_lab(calibration.xyz(np.concatenate([s.pixels for s in paint.swatches]), log_light))
    # The residual field was taken off the swatches, but not off the pixels.
    colour = np.repeat(lab + calibration.residual_field.at(lab), counts, axis=0)
    differences = np.split(delta_e_2000(pixel_lab, colour), np.cumsum(counts)[:-1])
    return np.array([np.median(part) if len(part) else 0.0 for part in differences])


def photo_facts(photo: Photo) -> PhotoFacts:
    """Return what a note says of its photo."""
    return PhotoFacts(
        file=photo.path.name,
        sha256=photo.sha256,
        width=photo.width,
        height=photo.height,
        taken=photo.taken,
        camera=photo.camera,
        profile=photo.encoding.name,
    )


def chart_facts(calibration: Calibration) -> ChartFacts:
    """Return what a note says of the chart and of the fit on it."""
    chart = calibration.find.chart
    return ChartFacts(
        name=chart.name,
        corners=_corners(calibration.find.corners),
        fit=Fit(
            model=calibration.fitted.model.shape.name,
            mean_de00=rounded(calibration.mean_de00),
            max_de00=rounded(calibration.max_de00),
            cross_validated_de00=rounded(calibration.cross_validated_de00),
        ),
        patches_used=int(calibration.used.sum()),
        patches_left_out=tuple(
            name for name, used in zip(chart.patch_names, calibration.used, strict=True) if not used
        ),
    )


def _corners(points: Floats) -> Corners:
    a, b, c, d = rounded_points(points)
    return a, b, c, d
