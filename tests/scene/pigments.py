"""Paints shaped like real pigments, and mixtures of them as painters make them: greys of complements, flesh, tints.

Absorption and scattering are smooth and relative to the white's scattering. Where bands, edges and rises lie follows
what is commonly published of each pigment's spectrum; widths, heights, tinting strengths are from memory and invented.
"""

from functools import cache

import numpy as np

from .kubelka import bump, edge, from_masstone, layer
from .spectra import GRID_NM, lab_of

WHITE = "titanium white"
#: Pairs, and two of three, whose mixtures pass near grey (common practice).
COMPLEMENTS = (
    ("ultramarine", "burnt sienna"),
    ("ultramarine", "raw umber"),
    ("phthalo green", "quinacridone rose"),
    ("viridian", "cadmium red"),
    ("phthalo green", "pyrrole red"),
    ("cobalt blue", "cadmium orange"),
    ("phthalo blue", "burnt sienna"),
    ("chromium oxide green", "quinacridone rose"),
    ("ultramarine", "cadmium orange"),
    ("dioxazine violet", "cadmium yellow"),
    ("cobalt blue", "red earth"),
)
STRONG = (
    "cadmium yellow", "cadmium orange", "cadmium red", "pyrrole red", "quinacridone rose", "ultramarine", "cobalt blue",
    "phthalo blue", "phthalo green", "viridian", "dioxazine violet", "chromium oxide green",
)  # fmt: skip
_EARTHS = ("yellow ochre", "raw sienna", "cadmium orange")
_REDS = ("red earth", "cadmium red", "pyrrole red", "quinacridone rose", "burnt sienna")
_COOLS = ("ultramarine", "viridian", "cobalt blue", "raw umber", "phthalo green")


def _transparent(scatter, floor, *bands):
    """Absorption and scattering of a dye-like pigment: bands (nm, nm, height) on a floor."""
    return floor + sum(bump(*band) for band in bands), np.full(GRID_NM.size, scatter)


@cache
def pigments():
    """Absorption K and scattering S by name, each (71,), relative to the white's scattering of 1."""
    one = np.ones(GRID_NM.size)
    return {
        # Rutile absorbs below about 400 nm.
        WHITE: (0.0007 + 0.9 / (1 + np.exp((GRID_NM - 398) / 5)), one),
        # Goethite: an edge near 545 nm with a shoulder at 450…480 nm and a shallow band near 650 nm.
        "yellow ochre": from_masstone(edge(547, 17, 0.05, 0.46) + bump(462, 18, 0.012) - bump(660, 35, 0.035), 0.55),
        "raw sienna": from_masstone(edge(556, 22, 0.035, 0.34) + bump(465, 18, 0.006) - bump(660, 35, 0.02), 0.38),
        # Hematite: a steep edge near 580 nm, and a dip towards 650 nm.
        "burnt sienna": from_masstone(edge(583, 13, 0.032, 0.22) + edge(690, 25, 0.0, 0.06), 0.36),
        "red earth": from_masstone(edge(582, 10, 0.042, 0.27) + edge(695, 25, 0.0, 0.09), 0.48),
        "raw umber": from_masstone(edge(575, 42, 0.032, 0.12), 0.42),
        "ivory black": from_masstone(0.024 * one + edge(650, 60, 0.0, 0.006), 0.35),
        # Cadmium sulphides and selenides: semiconductors with one steep edge.
        "cadmium yellow": from_masstone(edge(506, 8, 0.035, 0.87), 0.60),
        "cadmium orange": from_masstone(edge(558, 8, 0.03, 0.82), 0.60),
        "cadmium red": from_masstone(edge(603, 8, 0.028, 0.76), 0.60),
        "pyrrole red": from_masstone(edge(594, 9, 0.03, 0.72) + bump(440, 25, 0.01), 0.30),
        # Quinacridone: twin bands near 525 and 560 nm.
        "quinacridone rose": _transparent(0.13, 0.05, (527, 17, 2.2), (562, 13, 2.0), (490, 24, 1.1), (395, 30, 0.35)),
        "dioxazine violet": _transparent(0.09, 0.06, (530, 22, 3.2), (570, 18, 3.6), (612, 20, 4.2), (390, 25, 0.6)),
        # Cobalt in fours: bands at 545, 590 and 630 nm; ultramarine: one broad band near 600 nm; both rise in the red.
        "cobalt blue": _transparent(0.34, 0.05, (545, 16, 0.9), (588, 18, 1.7), (628, 18, 1.6)),
        "ultramarine": _transparent(0.20, 0.05, (598, 46, 3.2), (650, 40, 1.3), (388, 22, 0.12)),
        # Phthalocyanines: a narrow band above 600 nm, another near 700 nm, and the tail of one in the near ultraviolet.
        "phthalo blue": _transparent(0.10, 0.12, (614, 32, 5.2), (700, 36, 6.0), (560, 30, 0.9), (375, 24, 1.2)),
        "phthalo green": _transparent(0.10, 0.10, (640, 34, 5.8), (712, 40, 5.0), (400, 34, 2.6)),
        # Chromium(III): two broad bands near 420…460 and 600 nm, and a rise from 700 nm.
        "viridian": _transparent(0.16, 0.06, (422, 38, 2.2), (608, 44, 2.5), (660, 34, 1.5)),
        "chromium oxide green": _transparent(0.55, 0.16, (455, 30, 1.5), (602, 40, 1.9), (390, 40, 1.0)),
    }


def mixed(names, parts):
    """Reflectances (..., 71) of opaque layers of `parts` (..., n) of the named paints."""
    parts = np.asarray(parts, float)
    share = parts / parts.sum(-1, keepdims=True)
    absorb, scatter = (np.array([pigments()[name][k] for name in names]) for k in (0, 1))
    return layer(share @ absorb, share @ scatter)


def grey_parts(rng, depth):
    """Parts of two complements and white that come near a wanted near-grey: `depth` 0 dark … 1 light."""
    names = (*COMPLEMENTS[rng.integers(len(COMPLEMENTS))], WHITE)
    # A darkest grey of about L* 22, a lightest of 88, leaning a few units any way.
    wanted = np.array([22 + 66 * depth, *rng.normal(0, 3.0, 2)])
    first, white = np.meshgrid(np.geomspace(0.01, 0.995, 60), np.r_[0, np.geomspace(0.02, 400, 60)])
    # Strong paints need little: the first one's share is spaced evenly in its logarithm, from both ends.
    share = np.concatenate([first.ravel(), 1 - first.ravel()])
    parts = np.stack([share, 1 - share, np.tile(white.ravel(), 2)], axis=-1)
    lab = lab_of(mixed(names, parts))
    best = parts[np.argmin(((lab - wanted) ** 2 * [0.3, 1, 1]).sum(-1))]
    return dict(zip(names, best.tolist(), strict=True))


def flesh_parts(rng, depth):
    """Parts of a flesh mixture: white, an earth or orange, a red, a little of something cool."""
    white = 24.0 * depth**2.2 + 0.4
    red = _REDS[rng.integers(len(_REDS))]
    strength = 0.25 if red in ("pyrrole red", "quinacridone rose", "cadmium red") else 0.8
    cool = _COOLS[rng.integers(len(_COOLS))]
    weak = 0.04 if cool == "phthalo green" else 0.25
    dark = {} if depth > 0.5 else {("burnt sienna", "raw umber")[rng.integers(2)]: (0.6 - depth) * rng.uniform(1, 4)}
    return dark | {
        WHITE: white,
        _EARTHS[rng.integers(len(_EARTHS))]: rng.uniform(0.4, 1.1),
        red: strength * rng.uniform(0.4, 1.2),
        cool: weak * rng.uniform(0.0, 1.0) * (1.6 - depth) + 0.005,
    }


def tint_parts(rng, _depth):
    """Parts of one strong paint, mostly with some white."""
    return {STRONG[rng.integers(len(STRONG))]: 1.0, WHITE: rng.uniform(0.05, 3.0) if rng.random() < 0.8 else 0.001}


def draw_mixture(rng, depth):
    """Draw (parts, reflectance (71,), is flesh): two near-greys to two flesh mixtures to one tint."""
    kind = rng.choice(["grey", "flesh", "tint"], p=[0.4, 0.4, 0.2])
    parts = {"grey": grey_parts, "flesh": flesh_parts, "tint": tint_parts}[kind](rng, depth)
    return parts, mixed(tuple(parts), list(parts.values())), kind == "flesh"
