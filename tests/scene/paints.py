"""Invented tube paints and their mixtures: two-constant Kubelka–Munk with a surface correction."""

from functools import cache
from typing import NamedTuple

import numpy as np

from . import pigments
from .kubelka import bump, edge, from_masstone, layer
from .spectra import GRID_NM, delta_e_2000, lab_of, smooth_curve

BRIGHT = ("viridian", "cadmium red", "cadmium yellow", "ultramarine", "quinacridone rose", "phthalo green")


class Mixture(NamedTuple):
    """One painted colour: parts by tube, reflectance (71,), and whether it is a flesh or earth mixture."""

    recipe: dict
    reflectance: np.ndarray
    is_flesh_or_earth: bool


@cache
def tubes():
    """Absorption K and scattering S by tube name, each (71,), relative to the white's scattering of 1. Invented."""
    one = np.ones(GRID_NM.size)
    return {
        "titanium white": (0.0006 + 0.6 / (1 + np.exp((GRID_NM - 392) / 6)), one),
        "yellow ochre": from_masstone(edge(535, 26, 0.045, 0.62) - bump(650, 40, 0.05), 0.55),
        "raw sienna": from_masstone(edge(560, 30, 0.03, 0.42), 0.40),
        "red earth": from_masstone(edge(586, 15, 0.045, 0.36) + bump(680, 60, 0.05), 0.42),
        "burnt umber": from_masstone(edge(590, 40, 0.03, 0.14), 0.45),
        "ivory black": from_masstone(0.024 * one + edge(640, 60, 0.0, 0.006), 0.35),
        "viridian": (0.03 + bump(405, 34, 1.7) + bump(640, 50, 3.0), 0.16 * one),
        "cadmium red": from_masstone(edge(602, 9, 0.028, 0.78), 0.62),
        "cadmium yellow": from_masstone(edge(508, 10, 0.03, 0.88), 0.60),
        "ultramarine": (0.05 + bump(585, 58, 3.4) + bump(390, 25, 0.15), 0.22 * one),
        "quinacridone rose": (0.03 + bump(535, 42, 2.6), 0.14 * one),
        "phthalo green": (0.02 + bump(650, 50, 6.0) + bump(395, 30, 2.6), 0.12 * one),
    }


def mix(parts):
    """Reflectance (71,) of an opaque layer of `parts` (tube name -> parts by weight)."""
    total = sum(parts.values())
    table = tubes()
    absorb = sum(amount / total * table[name][0] for name, amount in parts.items())
    scatter = sum(amount / total * table[name][1] for name, amount in parts.items())
    return layer(absorb, scatter)


@cache
def ground_reflectance(kind):
    """Reflectance (71,) of a card's ground. Invented, smooth; no fluorescence."""
    fall = 1 / (1 + np.exp((GRID_NM - 400) / 8))
    return {
        "white": 0.86 - 0.10 * fall,
        "grey": 0.24 + edge(560, 60, -0.004, 0.004),
        "toned": edge(480, 55, 0.47, 0.72) - 0.06 * fall,
        "kraft": edge(575, 48, 0.13, 0.47),
        "canvas": 0.78 - 0.12 * fall + edge(500, 50, -0.05, 0.02),
    }[kind]


def _flesh_parts(rng, depth, warm):
    """Parts for a flesh or earth step: `depth` 0 dark … 1 light, `warm` −1 cool … 1 warm."""
    white = 22.0 * depth**2.6 + 0.05
    parts = {
        "titanium white": white,
        "yellow ochre": rng.uniform(0.5, 1.2),
        "red earth": rng.uniform(0.3, 0.9) * (1.2 if warm > 0 else 0.7),
    }
    if depth < 0.55:
        parts["burnt umber"] = (0.6 - depth) * rng.uniform(1, 3)
    if depth < 0.3 and rng.random() < 0.7:
        parts["ivory black"] = (0.32 - depth) * rng.uniform(1.5, 4)
    if warm > 0.2 and rng.random() < 0.6:
        parts["cadmium red"] = 0.25 * warm * rng.uniform(0.4, 1.0)
    if warm < -0.2:
        cool = "viridian" if rng.random() < 0.6 else "ivory black"
        parts[cool] = parts.get(cool, 0) - 0.35 * warm * rng.uniform(0.4, 1.0)
    if rng.random() < 0.15:
        parts["raw sienna"] = rng.uniform(0.3, 1.5)
    return {name: round(float(amount), 2) for name, amount in parts.items() if amount >= 0.01}


def _tube_parts(rng):
    tube = BRIGHT[rng.integers(len(BRIGHT))]
    parts = {tube: 1.0}
    if rng.random() < 0.7:
        parts["titanium white"] = round(float(rng.uniform(0.15, 3.0)), 2)
    return parts


def _near_ground(rng, ground):
    """Reflectance whose CIEDE2000 from the ground is 4…8: the ground bent by a smooth random factor."""
    bend, wanted = smooth_curve(rng) * 0.7 + rng.choice([-1.0, 1.0]) * 0.5, rng.uniform(4.3, 8.0)
    low, high = 0.0, 0.9
    for _ in range(40):
        middle = (low + high) / 2
        near = delta_e_2000(lab_of(ground), lab_of(np.clip(ground * np.exp(middle * bend), 0.01, 0.93)))
        low, high = (middle, high) if near < wanted else (low, middle)
    return np.clip(ground * np.exp(high * bend), 0.01, 0.93)


def _one(rng, palette, depth, warm, ground):
    if palette == "pigments":
        return Mixture(*pigments.draw_mixture(rng, depth))
    draw = rng.random()
    if palette == "near-ground" and draw < 0.4:
        return Mixture({}, _near_ground(rng, ground), is_flesh_or_earth=False)
    if palette == "with-saturated-tubes" and draw < 0.3:
        parts = _tube_parts(rng)
        return Mixture(parts, mix(parts), is_flesh_or_earth=False)
    parts = _flesh_parts(rng, depth, warm)
    if palette == "six-tubes":
        for tube, instead in (("burnt umber", "ivory black"), ("raw sienna", "yellow ochre")):
            if tube in parts:
                parts[instead] = round(parts.get(instead, 0) + 0.5 * parts.pop(tube), 2)
    return Mixture(parts, mix(parts), is_flesh_or_earth=True)


def paint_card(rng, palette, shape, ground_kind):
    """Mixtures for a card of `shape` (rows, columns), row by row: dark to light downwards, warm left, cool right.

    Every colour is at least CIEDE2000 4 from the ground: a mixture that is not is mixed again, failing that bent away.
    """
    rows, columns = shape
    ground = ground_reflectance(ground_kind)
    upward = rng.random() < 0.5
    mixtures = []
    for row in range(rows):
        for column in range(columns):
            step = (row + 0.5) / rows if rows > 1 else (column + 0.5) / columns
            depth = np.clip((1 - step if upward else step) + rng.normal(0, 0.04), 0.0, 1.0)
            warm = np.clip(1 - 2 * (column + 0.5) / columns + rng.normal(0, 0.2), -1, 1)
            for _ in range(12):
                made = _one(rng, palette, depth, warm, ground)
                if delta_e_2000(lab_of(ground), lab_of(made.reflectance)) >= 4:
                    break
            else:
                made = Mixture({}, _near_ground(rng, ground), is_flesh_or_earth=False)
            mixtures.append(made)
    return mixtures
