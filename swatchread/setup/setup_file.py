"""The file of a kept set-up: the measurements of the photo with the chart, from which its correction is made again.

The fit itself is not kept. A later version of the program can fit the same measurements better, and less in the file
has to be trusted.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from swatchread import __version__
from swatchread.chart.chart_detection import ChartFind
from swatchread.chart.definition import ChartDefinition, definition_json, parse_chart
from swatchread.chart.patch_sampling import ChartSample
from swatchread.colour.cielab import Floats
from swatchread.correction.calibration import TRUSTED_DE00
from swatchread.errors import ChartDefinitionError, NewerSetupError, SetupFileError, UnfitSetupError
from swatchread.note.composition import photo_facts
from swatchread.note.model import PhotoFacts, Tool
from swatchread.note.record_files import Record, parse_record, read_capped
from swatchread.note.safe_files import write_text
from swatchread.photo import Photo
from swatchread.photo.camera_settings import Settings
from swatchread.reading import Reading

SETUP_VERSION = 1
"""Version of the file; raised when a reader of the old one would misread the new one."""

MAX_BYTES = 1024 * 1024
"""Size of a file at most, so that a hostile one fills no memory."""

_MOST_GROUND, _MOST_PATCHES = 400, 1600
"""Pieces of ground and patches in a file at most, for the same reason."""

Value = Annotated[float, Field(ge=0, le=2)]
Linear = tuple[Value, Value, Value]
Big = Annotated[float, Field(ge=-1e6, le=1e6)]
Row = tuple[Big, Big, Big]

_LEAST_GROUND = 12
"""Pieces of bare ground that a kept set-up needs."""

_BURNT, _MOST_BURNT = 0.985, 0.1
"""Linear value from which ground is burnt out, and the share of the ground that may be."""


class Patch(Record):
    """What the photo showed on one patch of the chart."""

    linear: Linear = Field(description="linear RGB through the photo's own encoding")
    noise: Linear
    clipped: bool
    unevenness: Annotated[float, Field(ge=0, le=100)]


class GroundPlace(Record):
    """A small piece of the card's bare ground."""

    at: tuple[Big, Big] = Field(description="photo pixels")
    linear: Linear


class Setup(Record):
    """A kept set-up."""

    format: Literal["swatchread-setup"] = "swatchread-setup"
    version: int = Field(default=SETUP_VERSION, ge=1)
    tool: Tool
    made: str = Field(max_length=60, description="ISO 8601, UTC")
    photo: PhotoFacts
    scene_linear: bool
    settings: Settings
    chart: dict[str, Any] = Field(description="the chart's definition, whole")
    view: tuple[Row, Row, Row] = Field(description="homography from the chart's lattice to photo pixels")
    patch_share: Annotated[float, Field(gt=0.2, le=1)]
    patches: tuple[Patch, ...] = Field(max_length=_MOST_PATCHES)
    ground: tuple[GroundPlace, ...] = Field(min_length=6, max_length=_MOST_GROUND)

    @property
    def ground_linear(self) -> Floats:
        """Linear RGB of the bare ground, shape (m, 3)."""
        return np.array([g.linear for g in self.ground], dtype=np.float64)

    @property
    def ground_points(self) -> Floats:
        """Where it is, in photo pixels, shape (m, 2)."""
        return np.array([g.at for g in self.ground], dtype=np.float64)

    def chart_definition(self) -> ChartDefinition:
        """Return the chart that the set-up was measured with."""
        return parse_chart(json.dumps(self.chart), "the chart in the set-up")

    def sample_in(self, photo: Photo) -> ChartSample:
        """Return the kept measurement of the chart as if it lay in another photo of the same set-up.

        Parameters
        ----------
        photo : Photo
        """
        chart = self.chart_definition()
        find = ChartFind(photo, chart, np.array(self.view, dtype=np.float64), self.patch_share)
        return ChartSample(
            find=find,
            **{name: np.array([getattr(patch, name) for patch in self.patches]) for name in Patch.model_fields},
            overlaid=np.zeros(len(self.patches), dtype=bool),
            points=find.to_photo(chart.centres),
        )

    def save(self, path: Path) -> None:
        """Write the set-up as UTF-8 JSON; an interruption leaves an older file whole.

        Raises
        ------
        OutputError
            If the file cannot be written.
        """
        write_text(path, json.dumps(self.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n")


def parse_setup(text: str | bytes, source: str = "the set-up") -> Setup:
    """Read a kept set-up from JSON text, which is not trusted.

    Parameters
    ----------
    text : str or bytes
    source : str
        Its name in messages, usually the file's.

    Returns
    -------
    Setup

    Raises
    ------
    NewerSetupError
        If a later version of swatchread kept it.
    SetupFileError
        If it is not a kept set-up, or contradicts itself.
    """
    setup = parse_record(Setup, text, source, "a kept set-up", SetupFileError, NewerSetupError)
    _require_sense(setup, source)
    return setup


def load_setup(path: Path) -> Setup:
    """Read a kept set-up from a file.

    Raises
    ------
    SetupFileError
        If the file cannot be read, is too large or is no kept set-up.
    """
    return parse_setup(read_capped(path, MAX_BYTES, "a kept set-up", SetupFileError), path.name)


def _require_sense(setup: Setup, source: str) -> None:
    """Check what no single field shows: as many patches as the chart has, and a view that shows it in the photo."""
    try:
        chart = setup.chart_definition()
    except ChartDefinitionError as error:
        raise SetupFileError(f"{source} does not hold together", error.why or error.what) from error
    if len(setup.patches) != len(chart.lab):
        why = f"its chart has {len(chart.lab)} patches, but {len(setup.patches)} were kept"
        raise SetupFileError(f"{source} does not hold together", why)
    view = np.array(setup.view, dtype=np.float64)
    ends = np.array([[0.0, 0.0], [chart.columns, 0.0], [chart.columns, chart.rows], [0.0, chart.rows]])
    depth = ends @ view[2, :2] + view[2, 2]
    seen = ends @ view[:2, :2].T + view[:2, 2]
    size = np.array([setup.photo.width, setup.photo.height], dtype=np.float64)
    fine = (
        bool((depth > 1e-9).all())
        and bool((np.abs(seen / depth[:, None] - size / 2.0) < size).all())
        and abs(float(np.linalg.det(view))) > 1e-9
        and bool((np.abs(setup.ground_points - size / 2.0) <= size).all())
    )
    if not fine:
        raise SetupFileError(f"{source} does not hold together", "its chart or its ground lies outside the photo")


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
        settings=find.photo.settings,
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
