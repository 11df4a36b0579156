"""Chart definitions: data files with a layout, reference CIELAB and the published source."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from swatchread.colour.cielab import Floats, lab_to_xyz
from swatchread.colour.shipped_data import calibration_folder
from swatchread.errors import ChartDefinitionError, UsageError

DEFAULT_CHART = "classic24"
"""The average of 30 measured charts: the best guess when a chart's batch is unknown."""

NAME_PATTERN = r"^[a-z0-9][a-z0-9-]{0,60}$"
"""What a chart may be called: its name is part of a file's name."""

SUFFIX = ".chart.json"
"""How the names of definition files end."""

MAX_BYTES = 1024 * 1024
"""Largest definition file, bytes: far more than 40 by 40 patches need."""


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


class _Patch(_Strict):
    name: str = Field(min_length=1, max_length=60)
    lab: tuple[
        Annotated[float, Field(ge=0, le=105)],
        Annotated[float, Field(ge=-160, le=160)],
        Annotated[float, Field(ge=-160, le=160)],
    ]
    de00: float = Field(default=0.0, ge=0, le=20, description="standard uncertainty of the values, CIEDE2000")


class _File(_Strict):
    format: Literal["swatchread-chart"]
    version: Literal[1]
    name: str = Field(pattern=NAME_PATTERN)
    title: str = Field(max_length=200)
    source: str = Field(min_length=1, max_length=500, description="where the CIELAB values were published")
    illuminant: Literal["D50"]
    observer: Literal["2 degree"]
    rows: int = Field(ge=1, le=40)
    columns: int = Field(ge=2, le=40)
    patch_share: float = Field(ge=0.4, le=1.0, description="side of a patch over the distance between centres")
    spread_de00: float = Field(ge=0, le=10, description="usual CIEDE2000 of one chart from these values")
    patches: list[_Patch]


_SHARED_FIELDS = {"name", "title", "source", "rows", "columns", "patch_share", "spread_de00"}
"""What a file and a `ChartDefinition` hold alike."""


@dataclass(frozen=True, eq=False)
class ChartDefinition:
    """A chart's layout and reference colours.

    Attributes
    ----------
    name, title, source : str
    rows, columns : int
    patch_share : float
        Side of a patch over the distance between the centres of neighbours.
    spread_de00 : float
        How far a particular chart usually is from these values (batch, age), CIEDE2000.
    patch_names : tuple of str
        Row by row.
    lab : ndarray, shape (rows * columns, 3)
        CIELAB, D50, 2 degree.
    de00 : ndarray, shape (rows * columns,)
        Standard uncertainty of each patch's values, CIEDE2000; 0 where the file says nothing of it.
    """

    name: str
    title: str
    source: str
    rows: int
    columns: int
    patch_share: float
    spread_de00: float
    patch_names: tuple[str, ...]
    lab: Floats
    de00: Floats

    @cached_property
    def xyz(self) -> Floats:
        """Tristimulus values, shape (n, 3), Y = 1 for the perfect diffuser."""
        return lab_to_xyz(self.lab)

    @cached_property
    def centres(self) -> Floats:
        """Patch centres (x, y) in lattice units (distance between neighbours = 1), row by row, shape (n, 2)."""
        y, x = np.mgrid[0 : self.rows, 0 : self.columns]
        return np.stack([x.ravel() + 0.5, y.ravel() + 0.5], axis=-1).astype(np.float64)

    @cached_property
    def corners(self) -> Floats:
        """Outer corners of the patch area in lattice units: first, last of first row, last, first of last row."""
        return self.corners_at(self.patch_share)

    def corners_at(self, patch_share: float) -> Floats:
        """Return the outer corners as `corners` does, for patches that fill another share of the pitch."""
        m = (1.0 - patch_share) / 2.0
        right, bottom = self.columns - m, self.rows - m
        return np.array([[m, m], [right, m], [right, bottom], [m, bottom]])


def parse_chart(text: str | bytes, source: str) -> ChartDefinition:
    """Read a chart definition from JSON text.

    Parameters
    ----------
    text : str or bytes
    source : str
        The name for it in messages.

    Returns
    -------
    ChartDefinition

    Raises
    ------
    ChartDefinitionError
        If it is malformed or contradicts itself.
    """
    try:
        file = _File.model_validate_json(text)
    except ValidationError as error:
        raise _malformed(source, error) from error
    if len(file.patches) != file.rows * file.columns:
        raise ChartDefinitionError(
            f"{source} does not hold together",
            f"{file.rows} rows of {file.columns} need {file.rows * file.columns} patches, it has {len(file.patches)}",
        )
    return ChartDefinition(
        **file.model_dump(include=_SHARED_FIELDS),
        patch_names=tuple(p.name for p in file.patches),
        lab=np.array([p.lab for p in file.patches], dtype=np.float64),
        de00=np.array([p.de00 for p in file.patches], dtype=np.float64),
    )


def _malformed(source: str, error: ValidationError) -> ChartDefinitionError:
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"]) or "the file"
    return ChartDefinitionError(f"{source} is not a chart definition", f"{place}: {first['msg']}")


def load_chart(name_or_path: str = DEFAULT_CHART) -> ChartDefinition:
    """Return a chart by its name, or from a definition file of the user's own.

    Parameters
    ----------
    name_or_path : str
        A name that `known_charts` lists, or a path.

    Returns
    -------
    ChartDefinition

    Raises
    ------
    ChartDefinitionError
        If there is no such chart, or its file cannot be used.
    """
    shipped = calibration_folder() / f"{name_or_path}{SUFFIX}"
    named = "/" not in name_or_path and "\\" not in name_or_path
    path = shipped if named and shipped.is_file() else Path(name_or_path)
    try:
        if path.stat().st_size > MAX_BYTES:
            raise ChartDefinitionError(f"{path.name} is too large to be a chart definition")
        text = path.read_bytes()
    except (OSError, ValueError) as error:
        mine = Path(f"{name_or_path}{SUFFIX}")
        remedy = f"Name a definition file, or one of: {', '.join(chart_names())}"
        if mine.is_file():
            remedy = f"There is a file {mine.name}: name that"
        why = "no chart of that name is shipped, and there is no such file"
        if isinstance(error, OSError) and not isinstance(error, FileNotFoundError):
            why = f"{path.name}: {error.strerror}"
        raise ChartDefinitionError(f"There is no chart {name_or_path!r}", why, remedy) from error
    return parse_chart(text, path.name)


def chart_names() -> list[str]:
    """Return the names of the charts that are shipped, in order."""
    return sorted(p.name.removesuffix(SUFFIX) for p in calibration_folder().glob(f"*{SUFFIX}"))


def known_charts() -> list[ChartDefinition]:
    """Return the charts that are shipped."""
    return [load_chart(name) for name in chart_names()]


def definition_json(chart: ChartDefinition) -> str:
    """Return a chart as the text of a definition file; `parse_chart` reads it back.

    Parameters
    ----------
    chart : ChartDefinition

    Returns
    -------
    str
        JSON; values are rounded to three decimals.

    Raises
    ------
    ChartDefinitionError
        If the chart holds values that no definition file may hold.
    """
    patches = zip(chart.patch_names, chart.lab.round(3).tolist(), chart.de00.round(3).tolist(), strict=True)
    try:
        file = _File(
            format="swatchread-chart",
            version=1,
            illuminant="D50",
            observer="2 degree",
            patches=[_Patch(name=name, lab=lab, de00=de00) for name, lab, de00 in patches],
            **{name: getattr(chart, name) for name in _SHARED_FIELDS},
        )
    except ValidationError as error:
        raise _malformed(chart.name, error) from error
    return file.model_dump_json(indent=1, exclude_defaults=True) + "\n"


def check_name(name: str) -> None:
    """Refuse a name that a chart file cannot carry, or that a shipped chart has.

    Raises
    ------
    UsageError
    """
    if not re.fullmatch(NAME_PATTERN, name):
        raise UsageError(
            f"{name!r} cannot be the name of a chart", "", "Use small letters, figures and hyphens, at most 61 of them"
        )
    if name in chart_names():
        raise UsageError(f"{name} is the name of a chart that comes with the program", "", "Choose another name")
