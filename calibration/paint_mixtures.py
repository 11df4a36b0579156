"""Reflectances of mixtures that painters could mix: Kubelka-Munk theory on pigments measured, described and varied.

Measured: eleven oil paints and the white that they were let down with, `oil-paints.csv` (Geldof, Proaño Gaibor,
Ligterink & Kirchner 2018, Heritage Science 6:17, data published with the paper, free for use with this citation;
reflectance in percent with the gloss included). They hold no earths or cadmiums. Described, from memory: the smooth
spectra of `pigment-guesses.json`. Others: the CIE 2017 colour fidelity samples that colour-science carries, for
pigments that nobody thought of.
"""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from calibration.camera_prior import GRID_NM, Floats, fidelity_samples, response_weights
from swatchread.colour.cielab import xyz_to_lab

HERE = Path(__file__).parent

_OUTER, _INNER = 0.04, 0.6
"""Reflection at the paint's surface from outside and inside, refractive index 1.5 (Saunderson 1942)."""

_PALETTE = {
    "yellow ochre": 4, "raw sienna": 2, "burnt sienna": 2, "red ochre": 2, "light red": 2, "venetian red": 1,
    "indian red": 1, "raw umber": 2, "burnt umber": 3, "ivory black": 3, "bone black": 1, "cadmium red": 1.5,
    "vermilion": 1, "cadmium yellow": 1, "alizarin crimson": 1, "viridian": 1, "chromium oxide green": 0.5,
    "green earth": 1, "ultramarine": 1.5, "cobalt blue": 1, "cerulean blue": 0.5, "transparent red oxide": 1,
}  # fmt: skip
"""How often a painter of portraits reaches for a tube beside the white (common practice)."""

_USUAL = 0.8
"""Share of mixtures from that palette; the others are of any pigments."""

_MEASURED, _DESCRIBED = 0.4, 0.45
"""Shares of the measured and the described pigments among any pigments; the rest are fidelity samples."""

_SHIFT_NM, _VARIED, _REACH_NM = 5.0, 0.12, 45.0
"""How far one maker's pigment departs from another's: its bands, ln K, and the wavelengths over which that is alike."""

_FINE, _FINE_NM, _COARSE_NM = 2.0, 25.0, 40.0
"""Structure that a spectrum described every 50 nm cannot hold, of ln K: how many times what the described spectrum
departs from its own mean over `_COARSE_NM`, and the wavelengths over which it is alike. With it the described pigments
depart from their means over 15, 25 and 40 nm as much as the measured paints do; without it half as much."""

_GREY_CHROMA, _GREY_LEAN, _LEAST_END = 10.0, 3.0, 20.0
"""A grey mixed of complements: its chroma at most, the standard deviation of a* and b* that the painter leaves, and the
least chroma of either pigment at that white, CIELAB units."""


@cache
def measured() -> dict[str, tuple[Floats, float]]:
    """Return absorption, shape (71,), and scattering of the measured paints, relative to the scattering of white.

    A tint in white tells the absorption at every wavelength. The masstone tells the scattering, if it is not too dark.
    """
    with (HERE / "oil-paints.csv").open(encoding="utf-8") as file:
        header, *rows = csv.reader(file)
    nm, table = np.array(header[2:], float), {(r[0], float(r[1])): np.array(r[2:], float) / 100.0 for r in rows}
    white = _ratio(table.pop(("zinc white", 0.0)))
    paints = {}
    for (name, share), tint in table.items():
        if share == 1.0:
            continue
        mass, let_down = _ratio(table[name, 1.0]), _ratio(tint)
        white_part = 1.0 - share
        scatter = white_part * (let_down - white) / np.maximum(share * (mass - let_down), 1e-3)
        strength = float(np.median(np.clip(scatter, 0.02, 3.0)))
        absorb = (let_down * (share * strength + white_part) - white_part * white) / share
        paints[name] = _on_grid(nm, np.maximum(absorb, 1e-4)), strength
    return paints


@cache
def described() -> dict[str, tuple[Floats, float]]:
    """Return absorption and scattering of the described pigments, as `measured` does."""
    guesses = json.loads((HERE / "pigment-guesses.json").read_text(encoding="utf-8"))
    nm, paints = np.array(guesses["wavelengths"], float), {}
    for name, tube in guesses["tubes"].items():
        reflects = np.array(tube["reflects"]) / 100.0
        paints[name] = _on_grid(nm, tube["scatters"] * (1.0 - reflects) ** 2 / (2.0 * reflects)), tube["scatters"]
    return paints


def _ratio(reflectance: Floats) -> Floats:
    """Return K/S of a measured reflectance, gloss included."""
    below = (reflectance - _OUTER) / ((1.0 - _OUTER) * (1.0 - _INNER) + _INNER * (reflectance - _OUTER))
    below = np.clip(below, 0.002, 0.99)
    return np.asarray((1.0 - below) ** 2 / (2.0 * below))


def _on_grid(nm: Floats, positive: Floats) -> Floats:
    return np.exp(PchipInterpolator(nm, np.log(positive))(np.clip(GRID_NM, nm[0], nm[-1])))


def draw_mixtures(rng: np.random.Generator, count: int) -> Floats:
    """Draw reflectances of mixtures of one to four pigments, most with white, shape (count, 71)."""
    parts = rng.choice([1, 2, 3, 4], count, p=[0.15, 0.35, 0.3, 0.2])
    mixture = np.repeat(np.arange(count), parts)
    usual = (rng.random(count) < _USUAL)[mixture]
    absorb, scatter = _draw_pigments(rng, usual)
    # Painters take less of what tints strongly.
    amount = np.exp(rng.normal(0.0, 1.0, len(mixture))) / np.maximum(absorb[:, 8:-6].mean(axis=1), 0.02) ** 0.7
    amount /= np.bincount(mixture, amount, count)[mixture]
    white = np.where(rng.random(count) < 0.12, 0.0, 1.0 / (1.0 + np.exp(-rng.normal(1.0, 2.0, count))))
    amount *= (1.0 - white)[mixture]
    white_absorbs, white_scatters = described()["titanium white"]
    total, scattered = white[:, None] * white_absorbs, white * white_scatters
    np.add.at(total, mixture, amount[:, None] * absorb)
    np.add.at(scattered, mixture, amount * scatter)
    return _painted(rng, total / scattered[:, None])


def draw_greys(rng: np.random.Generator, count: int) -> Floats:
    """Draw reflectances of near-greys, shape (count, 71): two coloured pigments that cancel, with white.

    Painters mix their liveliest greys so (common practice). By chance hardly any mixture is one of them: the near-greys
    among `draw_mixtures` are mostly earths, black and white.
    """
    white_absorbs, white_scatters = described()["titanium white"]
    weights, made = response_weights(), []
    while len(made) < count:
        absorb, scatter = _draw_pigments(rng, np.full(2, rng.random() < _USUAL))
        share = 1.0 / (1.0 + np.exp(-np.linspace(-4.0, 4.0, 61)))
        parts = np.stack([share, 1.0 - share], axis=1) / np.maximum(absorb[:, 8:-6].mean(axis=1), 0.02)
        white = np.exp(rng.uniform(np.log(0.02), np.log(30.0)))
        ratio = (parts @ absorb + white * white_absorbs) / (parts @ scatter + white * white_scatters)[:, None]
        mixed = _painted(rng, ratio)
        lab = xyz_to_lab(mixed @ weights, weights.sum(axis=0))
        chroma, wanted = np.hypot(lab[:, 1], lab[:, 2]), rng.normal(0.0, _GREY_LEAN, 2)
        best = int(np.argmin(((lab[:, 1:] - wanted) ** 2).sum(axis=1)))
        if chroma[best] < _GREY_CHROMA and min(chroma[0], chroma[-1]) > _LEAST_END:
            made.append(mixed[best])
    return np.array(made)


def _painted(rng: np.random.Generator, ratio: Floats) -> Floats:
    """Return reflectances of opaque layers of these K/S, shape (n, 71)."""
    below = 1.0 + ratio - np.sqrt(ratio * (ratio + 2.0))
    # Of the gloss, a matt paint sends more into the camera than a smooth one.
    gloss = _OUTER * rng.uniform(0.1, 0.9, len(ratio))[:, None]
    return np.asarray(gloss + (1.0 - _OUTER) * (1.0 - _INNER) * below / (1.0 - _INNER * below))


def _draw_pigments(rng: np.random.Generator, usual: Floats) -> tuple[Floats, Floats]:
    """Draw absorption, shape (n, 71), and scattering, shape (n,), of pigments from the usual palette or any."""
    known, others = described() | measured(), [n for n in described() if "white" not in n]
    weight = np.array(list(_PALETTE.values())) / sum(_PALETTE.values())
    absorb, scatter, fine = np.empty((len(usual), len(GRID_NM))), np.empty(len(usual)), np.zeros(len(usual))
    for k, from_palette in enumerate(usual):
        kind, name = rng.random(), ""
        if from_palette:
            name = str(rng.choice(list(_PALETTE), p=weight))
            pigment = known[name]
        elif kind < _MEASURED:
            pigment = measured()[rng.choice(list(measured()))]
        elif kind < _MEASURED + _DESCRIBED:
            name = str(rng.choice(others))
            pigment = described()[name]
        else:
            sample = fidelity_samples()[rng.integers(99)] ** rng.uniform(1.0, 2.0)
            strength = float(np.exp(rng.uniform(np.log(0.1), np.log(0.8))))
            pigment = strength * (1.0 - sample) ** 2 / (2.0 * sample), strength
        absorb[k], scatter[k] = np.interp(GRID_NM + rng.normal(0.0, _SHIFT_NM), GRID_NM, pigment[0]), pigment[1]
        if name in described() and pigment is described()[name]:
            fine[k] = _FINE * _described_roughness(name)
    varied = _VARIED * smooth_curves(rng, len(usual)) + fine[:, None] * smooth_curves(rng, len(usual), _FINE_NM)
    return absorb * np.exp(varied), scatter


@cache
def _described_roughness(name: str) -> float:
    return roughness(described()[name][0], _COARSE_NM)


def roughness(absorb: Floats, span_nm: float) -> float:
    """Return by how much the logarithm of a spectrum departs from its own mean over a span, standard deviation."""
    log = np.log(absorb)
    return float(np.std(log - gaussian_filter1d(log, span_nm / (GRID_NM[1] - GRID_NM[0]), mode="nearest")))


def smooth_curves(rng: np.random.Generator, count: int, reach_nm: float = _REACH_NM) -> Floats:
    """Draw smooth curves of unit variance over the grid, shape (count, 71)."""
    return np.asarray(rng.normal(size=(count, len(GRID_NM))) @ _smoothing(reach_nm))


@cache
def _smoothing(reach_nm: float) -> Floats:
    apart = GRID_NM[:, None] - GRID_NM[None]
    alike = np.exp(-(apart**2) / (2.0 * reach_nm**2)) + 1e-6 * np.eye(len(GRID_NM))
    return np.asarray(np.linalg.cholesky(alike).T)
