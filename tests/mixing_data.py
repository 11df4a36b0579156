"""Invented archives to mix with: what another mixing model than the fitted one says paint would do.

Everything is invented and nothing was measured: the pigments' spectra (drawn with a few edges and humps at 5 nm,
not those that swatchread guesses at), the surface's constants, the cards and the recipes. It shares no conversion with
the package: light and observer come from colour-science, CIELAB is colour-science's own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from tests.archive_data import build_note, swatch_data

WAVELENGTHS = np.arange(380.0, 781.0, 5.0)
TUBES = (
    "titanium white",
    "yellow ochre",
    "red ochre",
    "cadmium red",
    "cadmium yellow",
    "viridian",
    "ultramarine blue",
    "burnt sienna",
    "ivory black",
)
STRONG = ("cadmium red", "cadmium yellow", "viridian", "ultramarine blue", "ivory black")
RECIPE_ERROR = 0.15
TOUCH = (0.022, 0.5)
"""Median share of the told parts, and standard deviation of its logarithm."""
OWN_SD, SHARED_SD = np.array([0.5, 0.45, 0.5]), np.array([0.6, 0.55, 0.6])


def _below(edge, width):
    return 1.0 / (1.0 + np.exp((WAVELENGTHS - edge) / width))


def _hump(centre, width):
    return np.exp(-0.5 * ((WAVELENGTHS - centre) / width) ** 2)


def _sloped(height, power):
    return height * (WAVELENGTHS / 550.0) ** power


@cache
def pigments():
    """Return invented K and S, each (tube, wavelength)."""
    spectra = {
        "titanium white": (0.003 + 0.9 * _below(402, 6), _sloped(1.0, -0.35)),
        "yellow ochre": (0.85 * _below(505, 17) + 0.13 * _below(585, 24) + 0.03, _sloped(0.38, -0.7)),
        "red ochre": (1.7 * _below(563, 13) + 0.24 * _below(625, 38) + 0.09, _sloped(0.5, -0.4)),
        "cadmium red": (3.6 * _below(595, 9) + 0.012, _sloped(0.6, 0.3) + 0.25 * _hump(610, 30)),
        "cadmium yellow": (2.8 * _below(515, 9) + 0.008, _sloped(0.55, 0.1) + 0.2 * _hump(530, 30)),
        "viridian": (0.8 * _hump(425, 32) + 1.0 * _hump(615, 58) + 0.07, _sloped(0.05, -1.0)),
        "ultramarine blue": (1.5 * _hump(588, 58) + 0.22 * _hump(680, 40) + 0.05, _sloped(0.1, -0.5)),
        "burnt sienna": (1.7 * _below(558, 28) + 0.3 * _below(645, 40) + 0.07, _sloped(0.14, -0.9)),
        "ivory black": (_sloped(2.2, -0.25), _sloped(0.09, -0.8)),
    }
    return np.array([spectra[t][0] for t in TUBES]), np.array([spectra[t][1] for t in TUBES])


@cache
def _light():
    import colour

    shape = colour.SpectralShape(380, 780, 5)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape).values
    return observer * light[:, None] / (observer[:, 1] @ light)


def true_lab(amounts, crowding=0.0):
    """Return the invented truth: CIELAB (D50, 2 degree) of exact amounts, shape (n, 3).

    `crowding` takes scattering away where scattering pigment is dense, which the fitted theory knows nothing of.
    """
    import colour

    K, S = pigments()
    share = amounts / amounts.sum(axis=1, keepdims=True)
    k, s = share @ K, share @ S
    s = s * (1.0 - crowding * s / S[0])
    q = k / s
    R = 1.0 + q - np.sqrt(q * q + 2.0 * q)
    surface = 0.6 * 0.043 + (1.0 - 0.043) * (1.0 - 0.62) * R / (1.0 - 0.62 * R)
    light = _light()
    white = light.sum(axis=0)
    return colour.XYZ_to_Lab(surface @ light, colour.XYZ_to_xy(white))


@dataclass(frozen=True)
class World:
    """An invented archive.

    Attributes
    ----------
    notes : list of Note
    exact : list of ndarray
        What really went into each swatch, card by card, (swatch, tube).
    """

    notes: list
    exact: list = field(repr=False)


def recipe_text(parts):
    """Write {tube: parts or 'touch'} as a painter would."""
    return " + ".join(f"touch of {t}" if p == "touch" else f"{p} {t}" for t, p in parts.items())


def draw_recipe(palette, rng):
    """Draw a mixture from a palette: mostly white and earths, the strong tubes often as a touch."""
    count = int(rng.choice([2, 3, 4], p=[0.35, 0.45, 0.2]))
    chosen = list(rng.choice(palette, size=min(count, len(palette)), replace=False))
    if "titanium white" not in chosen and rng.random() < 0.7:
        chosen = ["titanium white", *chosen[: max(1, count - 1)]]
    parts = {}
    for tube in chosen:
        if tube == "titanium white":
            parts[tube] = int(rng.integers(1, 9))
        elif tube in STRONG and rng.random() < 0.4:
            parts[tube] = "touch"
        else:
            parts[tube] = int(rng.integers(1, 4))
    if all(p == "touch" for p in parts.values()):
        parts[chosen[0]] = 1
    return parts


def exact_amounts(parts, rng, error=RECIPE_ERROR):
    """Return what goes into the mixture when a painter doses `parts`, shape (tube,)."""
    told = sum(p for p in parts.values() if p != "touch")
    amounts = np.zeros(len(TUBES))
    for tube, p in parts.items():
        if p == "touch":
            amounts[TUBES.index(tube)] = told * TOUCH[0] * np.exp(TOUCH[1] * rng.standard_normal())
        else:
            amounts[TUBES.index(tube)] = p * np.exp(error * rng.standard_normal())
    return amounts


def invented_world(cards=40, swatches=10, seed=0, crowding=0.0):
    """Return an invented archive: two cards of tubes alone and in steps with white, then cards of mixtures."""
    rng = np.random.default_rng(seed)
    notes, exact = [], []
    for number in range(cards):
        if number in {3, 17}:
            half = TUBES[1:5] if number == 3 else TUBES[5:]
            drawn = [r for t in half for r in ({t: 1}, {t: 1, "titanium white": 1}, {t: 1, "titanium white": 5})]
            drawn.append({"titanium white": 1})
        else:
            palette = ["titanium white", *rng.choice(TUBES[1:], size=int(rng.integers(3, 6)), replace=False)]
            drawn = [draw_recipe(palette, rng) for _ in range(swatches)]
        amounts = np.array([exact_amounts(parts, rng) for parts in drawn])
        lab = true_lab(amounts, crowding) + SHARED_SD * rng.standard_normal(3)
        lab = lab + OWN_SD * rng.standard_normal((len(drawn), 3))
        sd = np.hypot(OWN_SD, SHARED_SD)
        stated = {"L": sd[0], "a": sd[1], "b": sd[2], "de00": 1.0, "own_de00": 0.65}
        data = [
            swatch_data(1 + i // 2, 1 + i % 2, row, recipe=recipe_text(parts), uncertainty=stated)
            for i, (row, parts) in enumerate(zip(lab, drawn, strict=True))
        ]
        info = {"title": f"invented card {number}", "sitter": "AKM"[number % 3], "medium": "oil"}
        notes.append(build_note(data, seed=1000 * seed + number, info=info))
        exact.append(amounts)
    return World(notes, exact)
