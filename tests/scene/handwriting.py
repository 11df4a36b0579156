"""Handwriting: a small invented stroke alphabet, bent and jittered, as polylines to be drawn on the card."""

import numpy as np

# Points "xy" on a coarse grid: x 0…4, y 0 ascender, 3 top of small letters, 6 baseline, 8 descender; "/" lifts the pen.
_GLYPHS = {
    "a": "43 13 04 05 16 36 43 45 56",
    "b": "00 06 / 04 23 34 35 26 06",
    "c": "43 13 04 05 16 46",
    "d": "43 13 04 05 16 36 40 46",
    "e": "05 44 33 13 04 05 16 46",
    "f": "30 20 11 16 / 03 33",
    "g": "43 13 04 05 16 45 43 47 28 07",
    "h": "00 06 / 04 13 33 44 46",
    "i": "03 05 16 / 02 01",
    "k": "00 06 / 33 05 / 14 36",
    "l": "10 15 26",
    "m": "03 06 / 04 13 24 26 / 24 33 44 46",
    "n": "03 06 / 04 13 33 44 46",
    "o": "23 04 05 26 45 44 23",
    "p": "03 08 / 04 23 44 45 26 05",
    "q": "43 13 04 05 16 45 43 48",
    "r": "03 06 / 05 13 33",
    "s": "43 13 04 25 45 26 06",
    "t": "10 15 26 36 / 02 32",
    "u": "03 05 16 36 43 46",
    "v": "03 26 43",
    "w": "03 16 24 36 43",
    "x": "03 46 / 43 06",
    "y": "03 15 35 / 43 28 08",
    "z": "03 43 06 46",
    "0": "20 02 05 26 45 42 20",
    "1": "01 20 26",
    "2": "01 20 41 33 06 46",
    "3": "00 30 41 23 44 36 06",
    "4": "30 04 44 / 30 36",
    "5": "40 10 03 33 45 36 06",
    "6": "40 12 05 26 45 33 04",
    "7": "00 40 16",
    "8": "20 01 44 26 05 41 20",
    "9": "41 20 02 23 41 36",
    ".": "16 15",
    "?": "01 20 41 24 / 26 25",
    "+": "23 26 / 14 34",
}

_SHORT = {
    "titanium white": "white",
    "quinacridone rose": "rose",
    "cadmium red": "cad red",
    "cadmium yellow": "cad yel",
}


def recipe_lines(recipe):
    """Two or three short lines of writing for a recipe (tube -> parts)."""
    if not recipe:
        return ["?"]
    parts = sorted(recipe.items(), key=lambda pair: -pair[1])[:3]
    return [f"{round(amount, 1):g} {_SHORT.get(tube, tube.split()[-1])}" for tube, amount in parts]


_STEP = np.arange(5)[:, None] / 5
_HERMITE = np.hstack(
    [(1 + 2 * _STEP) * (1 - _STEP) ** 2, _STEP * (1 - _STEP) ** 2, _STEP**2 * (3 - 2 * _STEP), _STEP**2 * (_STEP - 1)]
)  # cubic Hermite polynomials, five steps a span


def _smooth(points):
    """Catmull–Rom through a glyph's points, five steps a span."""
    if len(points) < 3:
        return points
    slopes = np.gradient(points, axis=0)
    spans = np.stack([points[:-1], slopes[:-1], points[1:], slopes[1:]])
    return np.concatenate([np.einsum("ts,snc->ntc", _HERMITE, spans).reshape(-1, points.shape[1]), points[-1:]])


def _advance(letter):
    """How far the pen moves on after a letter."""
    widths = [int(pair[0]) for pair in _GLYPHS.get(letter, "").replace("/", " ").split()]
    return max(widths) + 1.5 if widths else 3.2


def write(rng, lines, box):
    """Strokes (list of (n, 2) arrays, mm) of `lines` within `box` (x, y, width, height), sloped by a shaky hand."""
    x0, y0, width, height = box
    longest = max(sum(map(_advance, line)) for line in lines)
    unit = min(width / (longest * 1.07), height / (len(lines) * 9.6))
    strokes = []
    slant, drift = rng.normal(-0.18, 0.06), rng.normal(0, 0.03)
    for number, line in enumerate(lines):
        x, y = x0 + rng.uniform(0, 2) * unit, y0 + number * 9.6 * unit
        for letter in line:
            size = unit * rng.uniform(0.92, 1.06)
            for stroke in _GLYPHS.get(letter, "").split("/"):
                points = np.array([[int(c) for c in pair] for pair in stroke.split()], float)
                if not len(points):
                    continue
                points += rng.normal(0, 0.18, points.shape)
                points = _smooth(points) * size
                points[:, 0] -= slant * (6 * size - points[:, 1])
                strokes.append(points + np.array([x, y + drift * (x - x0)]))
            x += _advance(letter) * size * rng.uniform(0.93, 1.07)
    return strokes
