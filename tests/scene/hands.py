"""Crops of handwriting beside swatches, in hands that differ, with the text that was meant.

The letters are those of free handwriting typefaces, each bent, sloped and spaced anew for every word, drawn in pencil
or ball-pen on paper, and photographed. Nothing here is shared with the reader.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import gaussian_filter

FONTS = Path("/usr/share/fonts")
HANDS = {
    "breip": "truetype/breip/Breip.ttf",
    "build": "opentype/bwht/BecauseWeBuild-Regular.otf",
    "connect": "opentype/bwht/BecauseWeConnect-Regular.otf",
    "create": "opentype/bwht/BecauseWeCreate-Regular.otf",
    "learn": "opentype/bwht/BecauseWeLearn-Regular.otf",
    "mentor": "opentype/bwht/BecauseWeMentor-Regular.otf",
    "organize": "opentype/bwht/BecauseWeOrganize-Regular.otf",
    "femke": "truetype/femkeklaver/femkeklaver.ttf",
    "klee": "truetype/klee/KleeOne-Regular.ttf",
    "humor": "truetype/humor-sans/Humor-Sans.ttf",
    "steve": "truetype/sjfonts/SteveHand.ttf",
    "delphine": "truetype/sjfonts/Delphine.ttf",
    "dkg": "truetype/fifthhorseman/dkg.ttf",
    "ruf": "truetype/rufscript/Rufscript010.ttf",
}
"""Hand -> file below `FONTS`, as Debian's packages of handwriting typefaces place it."""

_DRAWN = 96
"""Pixels of a letter's height while it is drawn; the photo shows far fewer."""

_PENS = {"pencil": ((70, 70, 74), 0.62), "pencil, soft": ((52, 52, 54), 0.8), "blue pen": ((38, 52, 130), 0.95),
         "black pen": ((28, 28, 30), 0.95), "red pen": ((150, 36, 40), 0.9)}  # fmt: skip
"""Colour of the ink in sRGB, and how much of the paper it covers."""

_PAPERS = ((246, 244, 238), (236, 228, 210), (205, 203, 198), (168, 150, 128))


@dataclass(frozen=True)
class Crop:
    """A picture of writing, and what it says.

    Attributes
    ----------
    pixels : ndarray, shape (h, w, 3), uint8, sRGB
    lines : tuple of str
        What was meant, line by line; a crossed-out word is no part of it.
    struck : tuple of str
        The crossed-out words.
    """

    pixels: np.ndarray
    lines: tuple[str, ...]
    struck: tuple[str, ...] = ()


def hands():
    """Names of the hands whose typefaces are installed."""
    return [name for name, path in HANDS.items() if (FONTS / path).is_file()]


_SHORT = {
    "titanium white": "white",
    "cadmium red": "cad red",
    "cadmium yellow": "cad yel",
    "ivory black": "black",
    "yellow ochre": "ochre",
    "burnt umber": "umber",
    "raw sienna": "sienna",
}

STRUCK = 0.06
"""Share of the lines in which a word is struck out."""


def write_crop(hand, lines, seed, struck=STRUCK):
    """Draw a few lines as one photographed crop.

    Parameters
    ----------
    hand : str
        From `hands`.
    lines : sequence of str
    seed : int
    struck : float
        Share of the lines in which a word is struck out.

    Returns
    -------
    Crop
    """
    rng, out = np.random.default_rng([seed, *hand.encode()]), []
    return Crop(_photographed(rng, write_ink(rng, hand, lines, (struck, out))), tuple(lines), tuple(out))


def write_ink(rng, hand, lines, struck=(0.0, [])):
    """Return the ink of a few lines, 0 to 1; `struck` is the share of lines with a crossed-out word, and their list."""
    font = ImageFont.truetype(str(FONTS / HANDS[hand]), _DRAWN)
    habit = np.random.default_rng(list(hand.encode()))  # what a hand keeps to
    slope, pressure = habit.normal(0.0, 0.06), habit.uniform(-0.6, 0.9)
    rows = [_line(rng, font, line, slope, struck) for line in lines]
    ink = _stacked(rng, rows, rng.uniform(1.15, 1.4) * _DRAWN)
    return _pressed(ink, pressure + rng.normal(0, 0.25))


def recipe_lines(recipe):
    """Return what a painter writes beside a mixture (tube -> parts): whole parts, three tubes at most."""
    if not recipe:
        return ["?"]
    parts = sorted(recipe.items(), key=lambda pair: -pair[1])[:3]
    least = min(amount for _, amount in parts)
    return [f"{min(round(amount / least), 12)} {_SHORT.get(tube, tube)}" for tube, amount in parts]


def _line(rng, font, line, slope, struck):
    """Return the ink of a line, 0 to 1: word after word, each a little higher or lower, one now and then struck out.

    `struck` is the share of lines with such a word, and the list to which the word is added.
    """
    words = line.split(" ")
    if rng.random() < struck[0]:
        at = int(rng.integers(len(words)))
        struck[1].append(str(rng.choice(["white", "ochre", "red", "sienna"])))
        words.insert(at, "\0" + struck[1][-1])
    pieces = [_word(rng, font, word.lstrip("\0"), slope, word.startswith("\0")) for word in words]
    space = rng.uniform(0.28, 0.5) * _DRAWN
    width = int(sum(p.shape[1] for p in pieces) + space * (len(pieces) + 2))
    ink = np.zeros((3 * _DRAWN, width), np.float32)
    x = space
    for piece in pieces:
        y = int(0.5 * _DRAWN + rng.normal(0, 0.05) * _DRAWN)
        at = int(x)
        part = ink[y : y + piece.shape[0], at : at + piece.shape[1]]
        np.maximum(part, piece[: part.shape[0], : part.shape[1]], out=part)
        x += piece.shape[1] + space * rng.uniform(0.75, 1.3)
    return ink


def _word(rng, font, word, slope, struck):
    """Return a word's ink, letters bent and set anew."""
    size = int(2.0 * _DRAWN)
    wide = int(font.getlength(word) + _DRAWN)
    picture = Image.new("L", (wide, size), 0)
    drawing = ImageDraw.Draw(picture)
    x = 0.3 * _DRAWN
    for letter in word:
        drawing.text((x, 0.2 * _DRAWN + rng.normal(0, 0.02) * _DRAWN), letter, fill=255, font=font)
        x += font.getlength(letter) + rng.normal(0, 0.015) * _DRAWN
    ink = np.asarray(picture, np.float32) / 255.0
    ink = ink[:, : int(x + 0.3 * _DRAWN)]
    if struck:
        used = np.flatnonzero(ink.max(axis=1) > 0.3)
        middle = float(used.mean()) if len(used) else size / 2
        left, right = 0.15 * _DRAWN, ink.shape[1] - 0.15 * _DRAWN
        if rng.random() < 0.25:  # to and fro
            x = np.linspace(left, right, int((right - left) / (0.22 * _DRAWN)) + 2)
            y = middle + 0.2 * _DRAWN * (-1.0) ** np.arange(len(x)) + rng.normal(0, 5, len(x))
            cv2.polylines(ink, [np.stack([x, y], axis=-1).astype(np.int32)], False, 1.0, 5, cv2.LINE_AA)
        else:
            for _ in range(int(rng.integers(1, 3))):
                ends = (left, middle + rng.normal(0, 6)), (right, middle + rng.normal(0, 6))
                cv2.line(ink, *(tuple(map(int, end)) for end in ends), 1.0, 6, cv2.LINE_AA)
    return _bent(rng, ink, slope)


def _bent(rng, ink, slope):
    high, wide = ink.shape
    y, x = np.mgrid[:high, :wide].astype(np.float32)
    bend = [gaussian_filter(rng.normal(size=(high, wide)).astype(np.float32), _DRAWN / 4) for _ in range(2)]
    dx, dy = (b / (b.std() + 1e-9) * _DRAWN * 0.022 for b in bend)
    lean = (slope + rng.normal(0, 0.03)) * (y - high / 2)
    return cv2.remap(ink, x + dx + lean, y + dy, cv2.INTER_LINEAR)


def _stacked(rng, rows, gap):
    high = int(gap * (len(rows) - 1)) + rows[0].shape[0]
    sheet = np.zeros((high, max(row.shape[1] for row in rows) + _DRAWN), np.float32)
    for k, row in enumerate(rows):
        x, y = int(rng.uniform(0, 0.6) * _DRAWN), int(k * gap)
        part = sheet[y : y + row.shape[0], x : x + row.shape[1]]
        np.maximum(part, row[: part.shape[0]], out=part)
    used_y, used_x = np.flatnonzero(sheet.max(axis=1) > 0.2), np.flatnonzero(sheet.max(axis=0) > 0.2)
    pad = int(0.22 * _DRAWN)
    top, left = max(used_y[0] - pad, 0), max(used_x[0] - pad, 0)
    return sheet[top : used_y[-1] + pad, left : used_x[-1] + pad]


def _pressed(ink, pressure):
    """Return strokes that are thicker (positive) or thinner."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    for _ in range(int(abs(round(pressure * 2)))):
        ink = cv2.dilate(ink, kernel[1:4, 1:4]) if pressure > 0 else ink
    return ink


def _photographed(rng, ink):
    """Return the ink on paper as a phone shows it: uneven light, blur, noise and JPEG."""
    colour, cover = list(_PENS.values())[int(rng.integers(len(_PENS)))]
    paper = np.array(_PAPERS[int(rng.choice(len(_PAPERS), p=[0.5, 0.2, 0.2, 0.1]))], np.float32)
    grain = gaussian_filter(rng.normal(size=ink.shape).astype(np.float32), 2.0)
    grain /= grain.std()
    cover = ink * np.clip(cover + 0.16 * grain, 0, 1) if cover < 0.9 else ink * cover
    high = rng.uniform(20, 40)  # pixels of a letter's em in the photo
    scale = high / _DRAWN
    cover = gaussian_filter(cover, 0.45 / scale)
    turn = cv2.getRotationMatrix2D((ink.shape[1] / 2, ink.shape[0] / 2), rng.normal(0, 1.2), 1.0)
    cover = cv2.warpAffine(cover, turn, ink.shape[::-1])
    small = (max(8, round(ink.shape[1] * scale)), max(8, round(ink.shape[0] * scale)))
    cover = cv2.resize(cover, small, interpolation=cv2.INTER_AREA)[..., None]
    seen = paper * (1 - cover) + np.array(colour, np.float32) * cover
    slope = np.linspace(1.0, rng.uniform(0.9, 1.0), small[0], dtype=np.float32)[None, :, None]
    seen = gaussian_filter(seen * slope, (rng.uniform(0.3, 0.8),) * 2 + (0,))
    seen = np.clip(seen + rng.normal(0, rng.uniform(0.8, 3.0), seen.shape), 0, 255).astype(np.uint8)
    coded = cv2.imencode(".jpg", seen[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(72, 95))])[1]
    seen = cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1]
    enlarged = max(1.0, 96 / seen.shape[0])
    return np.ascontiguousarray(cv2.resize(seen, None, fx=enlarged, fy=enlarged, interpolation=cv2.INTER_CUBIC))
