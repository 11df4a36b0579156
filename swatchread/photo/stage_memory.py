"""What a reading's stages have made, kept for the next reading of the same photo."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, TypeVar, TypeVarTuple

import numpy as np

_Inputs = TypeVarTuple("_Inputs")
_Result = TypeVar("_Result")


class StageMemory:
    """The stages of the last reading. A reading that is given the same memory begins at the first that would differ.

    So a photo that is corrected is neither decoded nor searched again where the correction changes nothing of that. All
    results from the first difference on are let go, so that no two photos are held at a time.
    """

    def __init__(self) -> None:
        self._kept: list[tuple[Callable[..., Any], tuple[Any, ...], Any]] = []
        self._next = 0

    def begin(self) -> None:
        """Begin a reading."""
        self._next = 0

    def run(self, stage: Callable[[*_Inputs], _Result], *inputs: *_Inputs) -> _Result:
        """Return what a stage makes of its inputs, from memory if it stood there with the same ones."""
        kept = self._kept[self._next] if self._next < len(self._kept) else None
        if kept is None or kept[0] is not stage or not _same(kept[1], inputs):
            del kept, self._kept[self._next :]
            self._kept.append((stage, inputs, stage(*inputs)))
        result: _Result = self._kept[self._next][2]
        self._next += 1
        return result


def file_stamp(path: Path) -> tuple[int, ...]:
    """Return what tells a file that was written again from the one that was decoded; empty if there is none."""
    try:
        told = path.stat()
    except (OSError, ValueError):
        return ()
    return told.st_mtime_ns, told.st_size, told.st_ino


def _same(one: Any, other: Any) -> bool:
    """Tell whether two inputs of a stage have the same values: hints and charts are made anew for each reading."""
    if one is other:
        return True
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other)
    if isinstance(one, tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    if is_dataclass(one):
        return all(_same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))
    return bool(one == other)
