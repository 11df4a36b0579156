"""Records that are kept in JSON files: their base, and how a file that is not trusted becomes one."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from swatchread.errors import SwatchreadError, why_unread


class Record(BaseModel):
    """Base of a note, of a kept set-up and of their parts: they cannot be changed, and have no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class _TwiceError(ValueError):
    """A name stands twice in one object."""


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return an object of JSON. RFC 8259 leaves open what a name that stands twice means, so readers disagree."""
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        raise _TwiceError(next(name for name in names if names.count(name) > 1))
    return found


AnyRecord = TypeVar("AnyRecord", bound=Record)
Failure = type[SwatchreadError]


def parse_record(
    record: type[AnyRecord], text: str | bytes, source: str, kind: str, failure: Failure, newer: Failure
) -> AnyRecord:
    """Read a record from JSON text.

    Parameters
    ----------
    record : type
        With the fields `format` and `version`, whose defaults are what this program writes.
    text : str or bytes
        UTF-8 JSON.
    source : str
        Its name in messages, usually that of the file.
    kind : str
        What it should be, in messages: "a note".
    failure, newer : type
        What is raised if it is none, and if a later version of swatchread wrote it.
    """
    expected, latest = (record.model_fields[name].default for name in ("format", "version"))
    try:
        data = json.loads(text, object_pairs_hook=_object)
    except _TwiceError as error:
        raise failure(f"{source} does not hold together", f"it gives {str(error)!r} twice") from error
    except (ValueError, RecursionError) as error:
        raise failure(f"{source} is not {kind}", _why_no_json(text, error)) from error
    if not isinstance(data, dict) or data.get("format") != expected:
        raise failure(f"{source} is not {kind}", f"it does not say that its format is {expected}")
    version = data.get("version")
    if type(version) is int and version > latest:  # true would be an int
        why = f"its version is {version}, this program reads up to {latest}"
        raise newer(f"{source} was written by a newer swatchread", why)
    try:
        # Strictly: "1" and true are no numbers.
        return record.model_validate_json(text, strict=True)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise failure(f"{source} does not hold together", f"{place}: {first['msg']}") from error


def read_capped(path: Path, most: int, kind: str, failure: Failure) -> bytes:
    """Return what a file holds, unless it is too large.

    Parameters
    ----------
    path : pathlib.Path
    most : int
        Largest size, bytes, so that a hostile file fills no memory.
    kind : str
        What it should be, in messages: "a note".
    failure : type
        What is raised if it cannot be read or is too large.
    """
    try:
        if path.stat().st_size > most:
            raise failure(f"{path.name} is too large to be {kind}")
        return path.read_bytes()
    except (OSError, ValueError) as error:  # a NUL in the name is a ValueError
        raise failure(f"{path.name} cannot be read", *why_unread(error)) from error


def _why_no_json(text: str | bytes, error: Exception) -> str:
    """Return for the painter why a file is not JSON.

    Parameters
    ----------
    text : str or bytes
        What the file holds.
    error : Exception
        The parser's error.
    """
    if not text.strip():
        return "it is empty"
    if isinstance(error, UnicodeDecodeError):
        return "it holds no text, as a picture does"
    place = f", line {error.lineno}, column {error.colno}" if isinstance(error, json.JSONDecodeError) else ""
    return f"its text is not JSON{place}"
