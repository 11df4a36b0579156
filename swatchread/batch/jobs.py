"""What passes between the parts of a batch; all of it travels between processes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from swatchread.errors import SwatchreadError

State = Literal["read", "read before", "same photo", "failed", "not reached"]


@dataclass(frozen=True, slots=True)
class Job:
    """A photo to read, and where its results go: ``folder/stem.…``."""

    photo: Path
    folder: Path
    stem: str


@dataclass(frozen=True, slots=True)
class Settings:
    """How to read.

    Attributes
    ----------
    chart : str or None
        A known chart's name or a definition file; None for the usual one.
    accept_poor : bool
    setup : str or None
        File of a kept set-up.
    """

    chart: str | None = None
    accept_poor: bool = False
    setup: str | None = None


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a photo could not be read, as `SwatchreadError` says it."""

    code: str
    what: str
    why: str
    remedy: str

    @classmethod
    def of(cls, error: SwatchreadError) -> Trouble:
        """Take an error's words."""
        return cls(error.code, error.what, error.why, error.remedy)


@dataclass(frozen=True, slots=True)
class Result:
    """What a worker says of one photo.

    Attributes
    ----------
    job : Job
    trouble : Trouble or None
        None if its note stands.
    seconds : float
    memory : int
        Most bytes that the worker has held so far; 0 where the system does not say.
    remark : str
        What else there is to say of its files.
    """

    job: Job
    trouble: Trouble | None
    seconds: float
    memory: int = 0
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """What became of one photo.

    Attributes
    ----------
    photo : pathlib.Path
    state : str
        ``read``, ``read before`` (nothing was to be done), ``same photo`` (as another of this batch), ``failed``, or
        ``not reached`` before the batch was stopped.
    note : pathlib.Path or None
    card : int or None
        Its number in the archive.
    swatches, warnings : int
        As the note counts them.
    remark : str
    trouble : Trouble or None
        If it failed.
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
    trouble: Trouble | None = None
    seconds: float = 0.0
