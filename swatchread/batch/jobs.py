"""The records of a batch. All of them can be sent from one process to another."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from swatchread.errors import SwatchreadError

State = Literal["read", "read before", "same photo", "failed", "not reached"]


@dataclass(frozen=True, slots=True)
class Job:
    """A photo to read. The names of its results begin with ``folder/stem``."""

    photo: Path
    folder: Path
    stem: str

    @property
    def note(self) -> Path:
        """The file of its note."""
        return self.folder / f"{self.stem}.note.json"


@dataclass(frozen=True, slots=True)
class Settings:
    """How to read.

    Attributes
    ----------
    chart : str or None
        A known chart's name or a definition file; None for the classic 24-patch chart.
    accept_poor : bool
    setup : pathlib.Path or None
        File of a kept set-up.
    """

    chart: str | None = None
    accept_poor: bool = False
    setup: Path | None = None


@dataclass(frozen=True, slots=True)
class Result:
    """What a process reports of one photo.

    Attributes
    ----------
    job : Job
    error : SwatchreadError or None
        None if its note was written.
    seconds : float
        Spent reading it; 0 if the process ended before it was done.
    remark : str
        What the painter should know about its files, if anything.
    """

    job: Job
    error: SwatchreadError | None
    seconds: float
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """What became of one photo.

    Attributes
    ----------
    photo : pathlib.Path
    state : str
        ``read``, ``read before`` (nothing had to be done), ``same photo`` (as another of this batch), ``failed``, or
        ``not reached`` (the batch was stopped before).
    note : pathlib.Path or None
    card : int or None
        Its card's number in the archive.
    swatches, warnings : int
        How many its note has.
    remark : str
    error : SwatchreadError or None
        Why it failed, if it did.
    seconds : float
        Spent reading it.
    """

    photo: Path
    state: State
    note: Path | None = None
    card: int | None = None
    swatches: int = 0
    warnings: int = 0
    remark: str = ""
    error: SwatchreadError | None = None
    seconds: float = 0.0
