"""Notes to fill an archive with. All of it is invented: cards, sitters (called by a letter), colours and recipes."""

import hashlib

import numpy as np

from swatchread.colour.cielab import lab_to_lch, value_of_lab
from swatchread.colour.munsell import munsell_notation
from swatchread.note.model import Note

RECIPES = (
    "3 titanium white + 1 yellow ochre + touch cad red",
    "2:1 red ochre, viridian",
    "ivory black with a dot of burnt sienna",
    "2 white + 1 ochre",
    "",
    "1 grandmother's mud + 2 titanium white",
)
SITTERS = ("A", "B", "K")
MEDIUMS = ("oil", "oil on panel", "gouache")


def square(x, y, side=40.0):
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def swatch_data(row, column, lab, **changes):
    lab = tuple(float(x) for x in lab)
    data = {
        "id": f"r{row}c{column}",
        "row": row,
        "column": column,
        "outline": square(100.0 * column, 100.0 * row),
        "lab": lab,
        "lch": tuple(lab_to_lch(lab).tolist()),
        "uncertainty": {"L": 0.5, "a": 0.4, "b": 0.6, "de00": 0.7, "own_de00": 0.3},
        "munsell": "N 5.0",
        "value": float(value_of_lab(np.array(lab))),
        "value_name": "middle",
        "temperature": {
            "warmth": lab[1] / 40.0,
            "name": "warm" if lab[1] > 8 else "cool" if lab[1] < -4 else "neutral",
            "relative": "warmer" if lab[2] > 20 else "even",
            "against": "run",
        },
        "lean": "red" if lab[1] > lab[2] else "none",
        "spread_de00": 0.4,
    }
    return {**data, **changes}


def build_note(
    swatches, *, seed=0, version="0.1.0", made="2026-01-02T10:00:00+00:00", info=None, photo=None, chart=None, card=None
):
    """Return a note of these swatches; of photo, chart and card the fields that are given replace the invented ones."""
    return Note.model_validate(
        {
            "tool": {"version": version},
            "made": made,
            "photo": {
                "file": f"card-{seed}.jpg",
                "sha256": hashlib.sha256(str(seed).encode()).hexdigest(),
                "width": 3000,
                "height": 2000,
                "profile": "assumed sRGB",
                **(photo or {}),
            },
            "chart": {
                "name": "invented chart",
                "corners": square(10, 10),
                "fit": {"model": "linear", "mean_de00": 0.5, "max_de00": 1.5, "cross_validated_de00": 0.9},
                "patches_used": 24,
                **(chart or {}),
            },
            "card": {"corners": square(0, 0, 900), "ground": {"lab": (90, 0, 3), "value": 8.9}, **(card or {})},
            "swatches": swatches,
            "card_info": info or {},
        }
    )


def flesh_colours(count, rng):
    """Invented mixtures: mostly flesh, some greens, blues and blacks; CIELAB, D50."""
    L = rng.uniform(15, 95, count)
    hue = np.where(rng.random(count) < 0.8, rng.normal(60, 18, count), rng.uniform(0, 360, count))
    chroma = np.abs(rng.normal(18, 12, count)) * (1 - np.abs(L - 55) / 90)
    return np.stack([L, chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))], axis=-1)


def sample_card(seed=0, rows=6, columns=2, munsell=True, **kept):
    """Return a note of a whole card; the same seed gives the same card."""
    rng = np.random.default_rng(seed)
    colours = np.round(flesh_colours(rows * columns, rng), 3)
    notations = munsell_notation(colours) if munsell else ["N 5.0"] * len(colours)
    swatches = [
        swatch_data(
            1 + i // columns,
            1 + i % columns,
            lab,
            munsell=notation,
            recipe=RECIPES[(seed + i) % len(RECIPES)],
        )
        for i, (lab, notation) in enumerate(zip(colours, notations, strict=True))
    ]
    info = {
        "title": f"invented evening {seed}",
        "sitter": SITTERS[seed % 3],
        "medium": MEDIUMS[seed % 3],
        "date": f"{2020 + seed % 5}-0{1 + seed % 9}-15" if seed % 4 else "sometime in spring",
    }
    return build_note(swatches, seed=seed, **{"info": info, **kept})
