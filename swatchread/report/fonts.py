"""Fonts for the PDF sheets: a recipe may hold any letter, and a PDF must carry the fonts it is set in."""

from __future__ import annotations

import importlib.util
import os
import sys
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

_SUFFIXES = frozenset({".ttf", ".otf"})
_KNOWN = (
    ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
    ("LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf"),
)
"""Free families that cover many scripts, the widest first."""

_MOST_FILES = 1500
_PLAIN_LETTERS = frozenset(chr(code) for code in (*range(32, 127), *range(160, 256)))
"""What the fonts that every PDF reader has can set: ISO 8859-1."""

_STAND_INS: Final = {
    "†": "*", "‡": "**", "Δ": "d", "∆": "d", "−": "-", "–": "-", "—": "-", "…": "...",
    "‘": "'", "’": "'", "“": '"', "”": '"', "•": "·", "≤": "<=", "≥": ">=", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L",
}  # fmt: skip
_MISSING = ("\u25a1", "?")


@dataclass(frozen=True)
class Fonts:
    """Fonts that together set a text.

    Parameters
    ----------
    regular, bold : pathlib.Path or None
        None where the computer has no font to embed; then the reader's own serve, with fewer letters.
    others : tuple of pathlib.Path
        For letters that the first lacks.
    letters : frozenset of str
        What they can set.
    """

    regular: Path | None
    bold: Path | None
    others: tuple[Path, ...]
    letters: frozenset[str]

    def settable(self, text: str) -> str:
        """Return the text with each letter that no font has replaced by its like, or by an empty box."""
        return "".join(self._stand_in(letter) for letter in text)

    def _stand_in(self, letter: str) -> str:
        if letter in self.letters:
            return letter
        simpler = unicodedata.normalize("NFKD", letter)
        bare = "".join(part for part in simpler if not unicodedata.combining(part))
        for other in (_STAND_INS.get(letter, ""), simpler, bare):
            if other and self.letters.issuperset(other):
                return other
        if unicodedata.category(letter) in {"Cf", "Mn", "Me"}:
            return ""  # joiners and marks have no shape of their own
        return next(mark for mark in _MISSING if mark in self.letters)


def choose_fonts(letters: Iterable[str], folders: Sequence[Path] | None = None) -> Fonts:
    """Choose fonts that set these letters, out of those the computer has.

    Parameters
    ----------
    letters : iterable of str
        Every letter that shall be set.
    folders : sequence of pathlib.Path, optional
        Where to look. Default: those of the computer and of the installed libraries.

    Returns
    -------
    Fonts
        Without any file where there is none.
    """
    files = _font_files(tuple(font_folders() if folders is None else folders))
    regular, bold = _first_pair(files)
    if regular is None:
        return Fonts(None, None, (), _PLAIN_LETTERS)
    covered = set(_letters_of(regular) & _letters_of(bold or regular))
    missing = {letter for letter in letters if letter not in covered}
    others = []
    for file in files:
        if not missing:
            break
        found = _letters_of(file) & missing
        if found and file not in {regular, bold}:
            others.append(file)
            covered |= found
            missing -= found
    return Fonts(regular, bold, tuple(others), frozenset(covered))


def font_folders() -> list[Path]:
    """Return the folders where fonts usually lie: the libraries', the user's, the computer's."""
    folders = []
    vision = importlib.util.find_spec("cv2")  # some of its builds carry fonts; it is not imported
    if vision is not None and vision.origin:
        folders.append(Path(vision.origin).parent / "qt" / "fonts")
    home = Path.home()
    if sys.platform == "win32":
        folders += [Path(os.environ.get("WINDIR", "C:\\Windows")) / "Fonts"]
        folders += [Path(os.environ.get("LOCALAPPDATA", home)) / "Microsoft" / "Windows" / "Fonts"]
    elif sys.platform == "darwin":
        folders += [home / "Library" / "Fonts", Path("/Library/Fonts"), Path("/System/Library/Fonts")]
    else:
        folders += [home / ".local" / "share" / "fonts", home / ".fonts", Path("/usr/local/share/fonts")]
        folders += [Path("/usr/share/fonts")]
    return folders


@cache
def _font_files(folders: tuple[Path, ...]) -> tuple[Path, ...]:
    return tuple(file for _, file in zip(range(_MOST_FILES), _walk(folders), strict=False))


def _walk(folders: Sequence[Path]) -> Iterator[Path]:
    for folder in folders:
        for at, inner, names in os.walk(folder):
            inner.sort()
            yield from (Path(at) / name for name in sorted(names) if Path(name).suffix.lower() in _SUFFIXES)


def _first_pair(files: Sequence[Path]) -> tuple[Path | None, Path | None]:
    """Return a regular and a bold font of one family: a known free one, else any upright sans serif."""
    by_name: dict[str, Path] = {}
    for file in files:
        by_name.setdefault(file.name, file)
    for regular, bold in _KNOWN:
        if regular in by_name and _letters_of(by_name[regular]):
            return by_name[regular], by_name.get(bold)
    looks = {file: _looks(file) for file in files}
    for file, look in looks.items():
        if look is not None and not look[1] and _PLAIN_LETTERS - {"\xa0", "\xad"} <= _letters_of(file):
            return file, next((other for other, its in looks.items() if its == (look[0], True)), None)
    return None, None


@cache
def _looks(file: Path) -> tuple[str, bool] | None:
    """Return family and boldness of an upright, proportional sans serif text font; None for any other."""
    from fontTools.ttLib import TTFont

    try:
        with file.open("rb") as opened, TTFont(opened, lazy=True) as font:
            os2, family = font["OS/2"], font["name"].getBestFamilyName()
            # PANOSE: Latin text, sans serif (11 to 15), not monospaced (9); OpenType 1.9.1, OS/2.
            panose = os2.panose
            sans = panose.bFamilyType == 2 and 11 <= panose.bSerifStyle <= 15 and panose.bProportion != 9
            upright = font["post"].italicAngle == 0 and os2.usWidthClass == 5
            return (family, os2.usWeightClass == 700) if sans and upright and os2.usWeightClass in {400, 700} else None
    except Exception:  # noqa: BLE001 - any damaged file in a font folder: this one is not used
        return None


@cache
def _letters_of(file: Path) -> frozenset[str]:
    """Return the letters that a font draws; none for one that is damaged or holds only pictures."""
    from fontTools.ttLib import TTFont

    try:
        with file.open("rb") as opened, TTFont(opened, lazy=True) as font:
            if not ("glyf" in font or "CFF " in font) or "fvar" in font:
                return frozenset()
            return frozenset(chr(code) for code in font.getBestCmap())
    except Exception:  # noqa: BLE001 - as above
        return frozenset()
