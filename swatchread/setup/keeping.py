"""From a reading with its chart to a kept set-up."""

from __future__ import annotations

import json
from datetime import UTC, datetime

from swatchread import __version__
from swatchread.chart.definition import definition_json
from swatchread.correction.calibration import TRUSTED_DE00
from swatchread.errors import UnfitSetupError
from swatchread.note.composition import photo_facts
from swatchread.note.model import Tool
from swatchread.photo.camera_settings import camera_settings
from swatchread.reading import Reading
from swatchread.setup.setup_file import GroundPlace, Patch, Setup

_LEAST_GROUND = 12
"""Pieces of bare ground that a kept set-up needs."""

_BURNT, _MOST_BURNT = 0.985, 0.1
"""Linear value from which ground is burnt out, and the share of the ground that may be."""


def keep_setup(reading: Reading) -> Setup:
    """Make a set-up of what a photo of card and chart shows.

    Parameters
    ----------
    reading : Reading

    Returns
    -------
    Setup

    Raises
    ------
    UnfitSetupError
        If its correction is poor, or its bare ground cannot show later whether the light is the same.
    """
    calibration = reading.calibration
    _require_fit(reading)
    find, sample = calibration.find, calibration.sample
    a, b, c = (tuple(float(v) for v in row) for row in find.homography)
    return Setup(
        tool=Tool(version=__version__),
        made=datetime.now(UTC).isoformat(timespec="seconds"),
        photo=photo_facts(find.photo),
        scene_linear=find.photo.encoding.scene_linear,
        settings=camera_settings(find.photo.path),
        chart=json.loads(definition_json(find.chart)),
        view=(a, b, c),
        patch_share=find.patch_share,
        patches=tuple(
            Patch(linear=tuple(linear), noise=tuple(noise), clipped=bool(clipped), unevenness=float(uneven))
            for linear, noise, clipped, uneven in zip(
                sample.linear.tolist(), sample.noise.tolist(), sample.clipped, sample.unevenness, strict=True
            )
        ),
        ground=tuple(
            GroundPlace(at=tuple(at), linear=tuple(linear))
            for at, linear in zip(calibration.ground_points.tolist(), calibration.ground_linear.tolist(), strict=True)
        ),
    )


def _require_fit(reading: Reading) -> None:
    calibration, ground = reading.calibration, reading.calibration.ground_linear
    why = ""
    if calibration.cross_validated_de00 > TRUSTED_DE00:
        why = f"the chart's colours come out {calibration.cross_validated_de00:.1f} CIEDE2000 off"
    elif len(ground) < _LEAST_GROUND:
        why = f"bare ground shows in {len(ground)} places only, {_LEAST_GROUND} are needed to recognise the light later"
    elif float((ground.max(axis=1) > _BURNT).mean()) > _MOST_BURNT:
        why = "the bare ground is burnt out, so it cannot show whether the light changes"
    if why:
        raise UnfitSetupError(f"{calibration.find.photo.path.name} cannot be kept as a set-up", why)
