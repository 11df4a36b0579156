"""Invented cards and readings of them, made without the reader: places, colours and errors are drawn from a seed.

A card lies on a table beside a chart of 6 x 4 patches; a camera looks at both. Nothing here was measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.archive_data import build_note, swatch_data

CLASSIC = "classic24"
STATED = {"L": 0.37, "a": 0.9, "b": 1.0, "de00": 0.8, "own_de00": 0.15}
"""As of simulated photos: of a* and b* more than twice the errors drawn below; here all colours share most of them."""


@dataclass(frozen=True)
class Card:
    """A painted card: places in chart pitches, colours in CIELAB, and the mixtures' recipes."""

    places: np.ndarray
    lab: np.ndarray
    recipes: tuple = ()
    ground: tuple = (88.0, 0.5, 3.0)
    info: tuple = ()


def painted(seed, rows=5, columns=3, scatter=0.04, recipes=()):
    """Paint a card by hand: flesh and earths, dark to light, each a little out of its place."""
    rng = np.random.default_rng([seed, 77])
    y, x = np.mgrid[:rows, :columns].reshape(2, -1)
    places = np.stack([x, y], axis=-1) * 1.4 + rng.normal(0, 1.4 * scatter, (rows * columns, 2))
    L = 25 + 55 * y / max(rows - 1, 1) + rng.normal(0, 5, rows * columns)
    chroma, hue = rng.uniform(6, 30, rows * columns), np.radians(rng.uniform(20, 85, rows * columns))
    lab = np.stack([L, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    return Card(places, lab, tuple(recipes[k % len(recipes)] for k in range(rows * columns)) if recipes else ())


def photographed(card, seed, *, turn=0.0, shift=(0, 0, 0), missed=(), extra=0, taken=None, noise=1.0, info=None):
    """Read a card as a photo would show it: turned by degrees, its swatches numbered anew by rows and columns.

    `shift` is what really changed, (3,) or (n, 3). Every photo has errors of its own: an offset and a slope over L*
    that all swatches share, and a small part that each has alone. Of L* they are as large as between simulated photos:
    0.3 together, and 0.12 of it not shared by the nearest colour; of a* and b* all share 0.4 and 0.5.
    """
    rng = np.random.default_rng([seed, 78])
    lab = card.lab + np.asarray(shift, dtype=float)
    error = noise * (rng.normal(0, [0.2, 0.3, 0.35]) + (lab[:, :1] - 50) / 50 * rng.normal(0, [0.15, 0.25, 0.3]))
    lab = lab + error + noise * rng.normal(0, [0.085, 0.1, 0.1], lab.shape)
    ground = np.array(card.ground) + noise * rng.normal(0, [0.3, 0.4, 0.4])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    places = (card.places - card.places.mean(axis=0)) @ np.array([[c, s], [-s, c]]) + [12.0, 3.0]
    keep = [k for k in range(len(places)) if k not in missed]
    places, lab, recipes = places[keep], lab[keep], [card.recipes[k] if card.recipes else "" for k in keep]
    if extra:
        places = np.vstack([places, rng.uniform(14, 30, (extra, 2)) * [1, 1.3]])
        lab = np.vstack([lab, rng.uniform([20, -30, -30], [90, 30, 30], (extra, 3))])
        recipes += [""] * extra
    return _note(rng, (places, lab, recipes), ground, seed, taken, info)


def beside_another_print(note, size):
    """Show the note's chart so many times as large about its first corner, in the same place and the same view."""
    corners = np.array(note.chart.corners)
    larger = [tuple(point) for point in (corners[0] + size * (corners - corners[0])).tolist()]
    return note.model_copy(update={"chart": note.chart.model_copy(update={"corners": larger})})


def _note(rng, swatches, ground, seed, taken, info):
    places, lab, recipes = swatches
    view = _view(rng)
    made = []
    for (row, column), place, colour, recipe in zip(_numbered(places), places, lab, recipes, strict=True):
        angle = np.linspace(0, 2 * np.pi, 20, endpoint=False)
        radius = 0.42 + rng.normal(0, 0.01, 20)
        outline = place + np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=-1)
        outline = [tuple(p) for p in _seen(view, outline).tolist()]
        made.append(swatch_data(row, column, colour, outline=outline, uncertainty=STATED, recipe=recipe))
    corners = [tuple(p) for p in _seen(view, np.array([[0, 0], [6, 0], [6, 4], [0, 4]])).tolist()]
    return build_note(
        sorted(made, key=lambda s: (s["row"], s["column"])),
        seed=f"shot {seed}",
        info=info,
        photo={"file": f"shot-{seed}.jpg", "width": 4000, "height": 3000, "taken": taken},
        chart={"name": CLASSIC, "corners": corners},
        card={"corners": corners, "ground": {"lab": tuple(ground.tolist()), "value": 8.7}},
    )


def _numbered(places):
    """Give each place its number by rows and columns as they lie in the photo."""
    rows, columns = _lines(places[:, 1]), _lines(places[:, 0])
    taken = set()
    for row, column in zip(rows, columns, strict=True):
        spot = (row, column)
        while spot in taken:
            spot = (spot[0], spot[1] + 100)
        taken.add(spot)
        yield spot


def _lines(values):
    order = np.argsort(values)
    lines = np.empty(len(values), dtype=int)
    lines[order] = 1 + np.concatenate([[0], np.cumsum(np.diff(values[order]) > 0.7)])
    return lines.tolist()


def _view(rng):
    """Draw a camera: a homography from the table to a photo of 4000 x 3000."""
    tilt = rng.uniform(-0.008, 0.008, 2)
    angle = np.radians(rng.uniform(-5, 5))
    c, s = np.cos(angle), np.sin(angle)
    scale = rng.uniform(80, 130)
    return np.array([[scale * c, -scale * s, 400], [scale * s, scale * c, 700], [tilt[0], tilt[1], 1.0]])


def _seen(view, points):
    mapped = points @ view[:, :2].T + view[:, 2]
    return mapped[:, :2] / mapped[:, 2:]
