"""Writing the note: measured colours and their doubts, in the painter's words."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime

import numpy as np

from swatchread import __version__
from swatchread.card.card_sampling import CardSample
from swatchread.colour.cielab import Floats, delta_e_2000, value_of_lab, xyz_to_lab
from swatchread.colour.order import median, medians
from swatchread.correction.calibration import Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.description import describe
from swatchread.note.doubts import card_warnings, swatch_flags
from swatchread.note.model import (
    CardFacts,
    ChartFacts,
    Corners,
    Fit,
    Ground,
    Note,
    Point,
    Swatch,
    Tool,
    Triple,
    Uncertainty,
    Warn,
)
from swatchread.note.photo_facts import PhotoFacts
from swatchread.photo import Photo


def compose_note(
    paint: CardSample, calibration: Calibration, colours: UncertainColours, doubts: tuple[Warn, ...] = ()
) -> Note:
    """Put a reading into a note.

    Parameters
    ----------
    paint : CardSample
    calibration : Calibration
    colours : UncertainColours
        One row for each swatch of `paint`.
    doubts : tuple of Warn
        Further warnings.

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
            ground=Ground(lab=_triple(ground_lab), value=_number(value_of_lab(ground_lab), 2)),
        ),
        swatches=tuple(_swatches(paint, colours, spread, flags)),
        warnings=card_warnings(paint, calibration, colours) + doubts,
    )


def ground_colour(paint: CardSample, calibration: Calibration) -> Floats:
    """Return CIELAB of the card's bare ground, shape (3,)."""
    if not len(paint.ground_linear):
        return np.asarray(paint.card.surface.lab, dtype=np.float64)
    lab = calibration.lab(paint.ground_linear, paint.ground_points)
    return medians(lab)


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
            outline=_points(sample.outline),
            uncertainty=Uncertainty(
                L=_number(sigma[k, 0]),
                a=_number(sigma[k, 1]),
                b=_number(sigma[k, 2]),
                de00=_number(colours.de00[k]),
                own_de00=_number(colours.own_de00[k]),
            ),
            spread_de00=_number(spread[k], 2),
            flags=flags[k],
            **described[k],
        )


def _spread(paint: CardSample, calibration: Calibration, lab: Floats) -> Floats:
    """Return the median CIEDE2000 between each swatch's pixels and its colour, in the light at its middle."""
    counts = [len(s.pixels) for s in paint.swatches]
    log_light = np.repeat(calibration.log_light(paint.places), counts)
    seen = xyz_to_lab(calibration.xyz(np.concatenate([s.pixels for s in paint.swatches]), log_light))
    colour = np.repeat(lab + calibration.residual_field.at(lab), counts, axis=0)  # both as fitted
    off = np.split(delta_e_2000(seen, colour), np.cumsum(counts)[:-1])
    return np.array([median(part) if len(part) else 0.0 for part in off])


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
            mean_de00=_number(calibration.mean_de00),
            max_de00=_number(calibration.max_de00),
            cross_validated_de00=_number(calibration.cross_validated_de00),
        ),
        patches_used=int(calibration.used.sum()),
        patches_left_out=tuple(
            name for name, used in zip(chart.patch_names, calibration.used, strict=True) if not used
        ),
    )


def _number(value: float | Floats, digits: int = 3) -> float:
    return round(float(value), digits)


def _triple(values: Floats) -> Triple:
    a, b, c = (_number(v) for v in values)
    return a, b, c


def _points(points: Floats) -> tuple[Point, ...]:
    return tuple((_number(x, 1), _number(y, 1)) for x, y in points)


def _corners(points: Floats) -> Corners:
    a, b, c, d = _points(points)
    return a, b, c, d
