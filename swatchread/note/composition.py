"""The note is composed from the measured colours, their flags and the warnings."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, SupportsFloat

import numpy as np

from swatchread import __version__
from swatchread.colour.cielab import Floats, delta_e_2000, lab_to_lch, value_of_lab, xyz_to_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.colour.painter_terms import (
    lean,
    relative_to,
    run_at,
    run_scatter,
    value_name,
    warmth,
    warmth_name,
    warmth_uncertainty,
)
from swatchread.correction.calibration import Calibration
from swatchread.correction.uncertainty import UncertainColours
from swatchread.note.card_warnings import card_warnings
from swatchread.note.flags_and_warnings import Warn
from swatchread.note.model import (
    CardFacts,
    ChartFacts,
    Corners,
    Fit,
    Ground,
    Note,
    PhotoFacts,
    Point,
    Swatch,
    Temperature,
    Tool,
    Triple,
    Uncertainty,
)
from swatchread.note.safe_files import readable_name
from swatchread.note.swatch_flags import swatch_flags
from swatchread.photo import Photo
from swatchread.sampling.card_sampling import CardSample

_VALUE_DIGITS = 6
"""Decimals of a value in a note: a search for values from 4 to 5 must not take 3.996 for 4."""


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
            light_shown=calibration.card_light.proven,
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
                mixture_de00=rounded(colours.mixture_de00[k]),
                burnt_de00=rounded(colours.burnt_de00[k]),
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
        file=readable_name(photo.path.name),
        sha256=photo.sha256,
        width=photo.width,
        height=photo.height,
        taken=photo.taken,
        camera=photo.camera,
        profile=photo.encoding.name,
    )


def chart_facts(calibration: Calibration) -> ChartFacts:
    """Return what a note says of the chart and of the fit on it."""
    chart, lamp = calibration.find.chart, calibration.lamp
    return ChartFacts(
        name=chart.name,
        corners=_corners(calibration.find.corners),
        fit=Fit(
            model=calibration.fitted.model.shape.name,
            mean_de00=rounded(calibration.mean_de00),
            max_de00=rounded(calibration.max_de00),
            cross_validated_de00=rounded(calibration.cross_validated_de00),
            departure_de00=rounded(lamp.departure),
            light=lamp.kind,
            daylight=rounded(lamp.daylight, 2),
        ),
        patches_used=int(calibration.used.sum()),
        patches_left_out=tuple(
            name for name, used in zip(chart.patch_names, calibration.used, strict=True) if not used
        ),
    )


def _corners(points: Floats) -> Corners:
    a, b, c, d = rounded_points(points)
    return a, b, c, d


def describe(lab: Floats, covariance: Floats) -> list[dict[str, Any]]:
    """Describe the swatches of one card, each of them relative to the card's own run.

    Parameters
    ----------
    lab : ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    covariance : ndarray, shape (n, 3, 3)

    Returns
    -------
    list of dict
        The fields `lab`, `lch`, `munsell`, `value`, `value_name`, `temperature` and `lean` of a
        `swatchread.note.model.Swatch`.
    """
    # What a note says of a colour holds for the CIELAB that it states.
    stated = [rounded_triple(colour) for colour in lab]
    lch, value, munsell = lab_to_lch(stated), value_of_lab(stated), munsell_notation(stated)
    sigma = np.sqrt(np.einsum("nii->ni", covariance))
    warm, warm_u = warmth(lab), warmth_uncertainty(lab, covariance)
    run = np.stack([lab[:, 0], run_at(value, lab[:, 1]), run_at(value, lab[:, 2])], axis=-1)
    run_warm, scatter = run_at(value, warm), run_scatter(lab, run)
    terms = []
    for k in range(len(lab)):
        has_run = bool(np.isfinite(run[k]).all())  # otherwise too few swatches are near in value
        terms.append(
            {
                "lab": stated[k],
                "lch": rounded_triple(lch[k]),
                "munsell": munsell[k],
                "value": rounded(value[k], _VALUE_DIGITS),
                "value_name": value_name(float(value[k])),
                "temperature": Temperature(
                    warmth=rounded(warm[k]),
                    name=warmth_name(float(warm[k]), float(warm_u[k])),
                    relative=relative_to(float(np.nan_to_num(warm[k] - run_warm[k])), float(warm_u[k])),
                    against="run",
                ),
                "lean": lean(lab[k], run[k], float(np.hypot(*sigma[k, 1:])), scatter) if has_run else "none",
            }
        )
    return terms


def rounded(value: SupportsFloat, digits: int = 3) -> float:
    """Return a number as it stands in a note: a thousandth is far below any uncertainty."""
    return round(float(value), digits)


def rounded_triple(values: Floats) -> Triple:
    """Return a colour as it stands in a note."""
    a, b, c = (rounded(value) for value in values)
    return a, b, c


def rounded_points(points: Floats) -> tuple[Point, ...]:
    """Return places in a photo as they stand in a note, in tenths of a pixel."""
    return tuple((rounded(x, 1), rounded(y, 1)) for x, y in points)
