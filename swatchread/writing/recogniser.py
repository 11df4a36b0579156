"""The recogniser of letters: how probable each letter is along a line of writing.

The network lies in the wheel of `rapidocr` and runs in `onnxruntime`; both come with the extra ``swatchread[writing]``.
Nothing is fetched, and nothing leaves the computer.
"""

from __future__ import annotations

import importlib.util
import unicodedata
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from swatchread.errors import MissingPackageError
from swatchread.photo import opencv as cv2
from swatchread.writing.ink_lines import Floats, Picture
from swatchread.writing.installed import is_installed

LETTERS: Final = "abcdefghijklmnopqrstuvwxyz0123456789+/.,:%&-()?½¼¾⅓⅔'\"=→ "
"""What stands in recipes, each capital as its small letter; the space comes last."""

_HEIGHT: Final = 48
"""Pixels of a line's height, as the network was trained."""

_LEAST_WIDTH, _MOST_WIDTH = 48, 2400
"""Pixels of a line's width; a longer one is squeezed."""


class Recogniser:
    """Reads the letters of one line.

    Raises
    ------
    MissingPackageError
        If the extra is not installed.
    """

    def __init__(self) -> None:
        self._session = _session()

    def letters(self, line: Picture) -> Floats:
        """Return how probable each letter is along a line.

        Parameters
        ----------
        line : ndarray, shape (h, w), uint8
            Ink dark on white, from `swatchread.writing.ink_lines.lines_of`.

        Returns
        -------
        ndarray, shape (n, 1 + len(LETTERS))
            Natural logarithms of probabilities, for n places from left to right: no letter first, then `LETTERS`.
        """
        wide = round(_HEIGHT * line.shape[1] / line.shape[0])
        wide = min(max(wide, _LEAST_WIDTH), _MOST_WIDTH)
        drawn = cv2.resize(
            line, (wide, _HEIGHT), interpolation=cv2.INTER_AREA if len(line) > _HEIGHT else cv2.INTER_LINEAR
        )
        given = np.broadcast_to(drawn.astype(np.float32) / 127.5 - 1.0, (1, 3, _HEIGHT, wide))
        seen = self._session.run(None, {self._session.get_inputs()[0].name: np.ascontiguousarray(given)})[0][0]
        known, columns = self._table
        shares = np.zeros((len(seen), 1 + len(LETTERS)))
        np.add.at(shares.T, columns, seen.T[known])
        return np.log(np.maximum(shares, 1e-12))

    @cached_property
    def _table(self) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
        """The network's characters that are letters here, and which."""
        written = self._session.get_modelmeta().custom_metadata_map["character"].split("\n")
        place = {letter: 1 + k for k, letter in enumerate(LETTERS)}
        pairs = [(0, 0)]  # no letter
        for k, character in enumerate([*written, " "]):
            plain = place.get(_plain(character))
            if plain is not None:
                pairs.append((1 + k, plain))
        known, columns = np.array(pairs).T
        return known, columns


@cache
def _session() -> Any:
    if not is_installed():
        raise MissingPackageError("Handwriting cannot be read here", "the recogniser is not installed", _REMEDY)
    import onnxruntime

    place = importlib.util.find_spec("rapidocr")
    folder = Path(str(place and place.origin)).parent / "models"
    models = sorted(folder.glob("*rec*.onnx"))
    if not models:
        raise MissingPackageError("Handwriting cannot be read here", "the recogniser came without its model", _REMEDY)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1  # it works in the background, beside readings
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(str(models[0]), options, providers=["CPUExecutionProvider"])


_REMEDY: Final = "Install it: pip install 'swatchread[writing]'"


def _plain(character: str) -> str:
    """Return the small letter without accent that a character stands for."""
    if character in LETTERS:
        return character
    spelled = unicodedata.normalize("NFKD", character.casefold())
    return {"×": "x", "–": "-", "—": "-", "＋": "+", "’": "'", "”": '"', "“": '"'}.get(character, spelled[:1])
