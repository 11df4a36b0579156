"""Where the data files shipped with the program are: `calibration/` in a checkout and inside the wheel."""

from __future__ import annotations

from functools import cache
from pathlib import Path


@cache
def calibration_folder() -> Path:
    """Return the folder of chart definitions and published tables."""
    package = Path(__file__).parent.parent
    installed = package / "calibration"
    return installed if installed.is_dir() else package.parent / "calibration"


def data_file(name: str) -> Path:
    """Return the path of one shipped data file."""
    return calibration_folder() / name
