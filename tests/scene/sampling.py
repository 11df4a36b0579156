"""Drawing factors: specs for each purpose, reproducible by seed."""

from dataclasses import replace

import numpy as np

from .layout import CHART_PITCH_MM, make_plan
from .spec import GROUNDS, PALETTES, SHAPES, SIDES, TABLES, SceneSpec
from .spectra import CAMERAS

FULL_SIZE = (4032, 3024)
DAYLIGHT = ("D50", "D55", "D65")
LED = ("LED-B2", "LED-B3", "LED-B4", "LED-V1")
LAMPS = ("A", "B3200", "FL2", "FL9", "FL11", "TL84", "LED-B1", "LED-B3", "LED-B5", "LED-V2")


def _pick(rng, choices, weights=None):
    return choices[rng.choice(len(choices), p=weights)]


def _maybe(rng, share):
    return bool(rng.random() < share)


def _phone(rng):
    """Draw the rendering habits of a random phone."""
    return {
        "camera": _pick(rng, CAMERAS),
        "tone": _pick(rng, ("plain", "phone-soft", "phone-contrast", "phone-bright"), [0.1, 0.4, 0.25, 0.25]),
        "saturation": rng.uniform(1.0, 1.18),
        "local_tone": rng.uniform(0.02, 0.15) if _maybe(rng, 0.4) else 0.0,
        "sharpening": rng.uniform(0.0, 0.6),
        "space": _pick(rng, ("sRGB", "Display P3"), [0.5, 0.5]),
        "quality": int(rng.integers(85, 96)),
        "iso": _pick(rng, (50.0, 100.0, 200.0, 400.0)),
        "denoise": rng.uniform(0.3, 0.9),
        "vignetting": rng.uniform(0.0, 0.25),
    }


def _lying(rng, rows, columns):
    """Draw what lies on the table with a card of this many cells, at sizes that fit."""
    return {
        "rows": rows,
        "columns": columns,
        "missing": int(rng.integers(0, max(1, rows * columns // 5) + 1)) if _maybe(rng, 0.4) else 0,
        "fill": rng.uniform(0.58, 0.8),
        "brush": rng.uniform(0.01, 0.05),
        "margin": rng.uniform(0.25, 0.8),
        "fall_off": rng.uniform(0.0, 0.2),
        "fall_off_shape": _pick(rng, ("linear", "quadratic")),
        "fall_off_direction": rng.uniform(0, 360),
        "chart_pitch_ratio": rng.uniform(0.82, 0.92),
        "tilt_direction": rng.uniform(0, 360),
    }


def easy_spec(seed, size=FULL_SIZE):
    """Draw an upright card, tilted at most 15°, 3–8 rows × 2–6 columns, in usual light, white balance a little off."""
    rng = np.random.default_rng([seed, 1001])
    light = _pick(rng, (_pick(rng, DAYLIGHT), _pick(rng, LED), _pick(rng, ("A", "B3200"))), [0.5, 0.3, 0.2])
    return SceneSpec(
        seed=seed,
        width=size[0],
        height=size[1],
        **_phone(rng),
        **_lying(rng, int(rng.integers(3, 9)), int(rng.integers(2, 7))),
        ground=_pick(rng, ("white", "grey", "toned"), [0.5, 0.25, 0.25]),
        shape=_pick(rng, SHAPES, [0.5, 0.25, 0.25]),
        writing=_pick(rng, ("beside", "below", "none"), [0.5, 0.3, 0.2]),
        palette=_pick(rng, PALETTES[:2], [0.7, 0.3]),
        chart_side=_pick(rng, SIDES),
        chart_turn=rng.uniform(-4, 4),
        card_turn=rng.uniform(-3, 3),
        tilt=rng.uniform(0, 15),
        chart_fraction=rng.uniform(0.2, 0.36),
        light=light,
        white_balance=_pick(rng, ("auto", "correct"), [0.8, 0.2]),
        white_balance_error=rng.uniform(0.01, 0.04),
        exposure=rng.uniform(-0.6, 0.15),
        table=_pick(rng, TABLES, [0.5, 0.2, 0.2, 0.1]),
        tubes=int(rng.integers(0, 3)),
        brushes=int(rng.integers(0, 2)),
    )


def _hard_card(rng):
    """Card factors of the finding bench, each drawn on its own."""
    rows, columns = int(rng.integers(1, 13)), int(rng.integers(1, 9))
    while rows * columns > 60:
        rows, columns = int(rng.integers(1, 13)), int(rng.integers(1, 9))
    touching = _maybe(rng, 0.15)
    factors = _lying(rng, rows, columns) | {
        "ground": _pick(rng, GROUNDS),
        "torn": _maybe(rng, 0.2),
        "margin": _pick(rng, (0.02, 0.15, 0.5, 0.9)),
        "pencil_frames": _maybe(rng, 0.15),
        "tape": _maybe(rng, 0.15),
        "two_blocks": _maybe(rng, 0.15) and rows * columns > 3,
        "shape": _pick(rng, SHAPES),
        "size_scatter": rng.uniform(0.0, 0.15),
        "place_scatter": 0.0 if touching else rng.uniform(0.0, 0.05),
        "writing": "none" if touching else _pick(rng, ("beside", "below", "none"), [0.45, 0.3, 0.25]),
        "palette": _pick(rng, PALETTES),
    }
    if factors["writing"] != "none" and factors["margin"] >= 0.5 and _maybe(rng, 0.4):
        factors["title"] = _pick(rng, ("sitter k", "sitter r 16.11", "evening 2", "flesh + earth"))
    if touching:
        factors |= {"fill": rng.uniform(0.94, 1.0), "size_scatter": rng.uniform(0.0, 0.03)}
    factors["missing"] = min(factors["missing"], rows * columns - 1)
    return factors


def _hard_photo(rng):
    """Photo factors of the finding bench, each drawn on its own."""
    shadow = _pick(rng, ("none", "chart", "card"), [0.6, 0.25, 0.15])
    return {
        "light": _pick(rng, DAYLIGHT + LAMPS),
        "second_light": _pick(rng, ("A", "LED-B3", "D65")) if _maybe(rng, 0.12) else None,
        "white_balance": _pick(rng, ("auto", "correct", "none"), [0.5, 0.2, 0.3]),
        "white_balance_error": rng.uniform(0.0, 0.06),
        "exposure": rng.uniform(-2.0, 2.0) if _maybe(rng, 0.4) else rng.uniform(-0.7, 0.3),
        "fall_off": rng.uniform(0.0, 0.35),
        "shadow": shadow,
        "shadow_depth": rng.uniform(0.25, 0.6),
        "shadow_width": rng.uniform(0.02, 0.2),
        "glints": int(rng.integers(0, 5)) if _maybe(rng, 0.3) else 0,
        "distortion": rng.uniform(-0.03, 0.03) if _maybe(rng, 0.4) else 0.0,
        "defocus": rng.uniform(0.0, 3.0) if _maybe(rng, 0.3) else 0.0,
        "motion": rng.uniform(0.0, 6.0) if _maybe(rng, 0.15) else 0.0,
        "table": _pick(rng, TABLES),
        "tubes": int(rng.integers(0, 5)),
        "brushes": int(rng.integers(0, 3)),
        "rag": _maybe(rng, 0.25),
        "second_chart": _maybe(rng, 0.12),
        "portrait": (portrait := _maybe(rng, 0.35)),
        "exif_orientation": _pick(rng, (1, 6, 8) if portrait else (1, 1, 3)),
    }


def finding_spec(seed, size=FULL_SIZE):
    """All factors of finding a chart and a card, drawn independently of one another.

    The card lies within 20° of the chart's orientation, so that "rows follow the chart" and "rows follow the writing"
    agree.
    """
    rng = np.random.default_rng([seed, 1002])
    card_factors = _hard_card(rng)
    turn = rng.uniform(-20, 20) if _maybe(rng, 0.5) else rng.uniform(-4, 4)
    return SceneSpec(
        seed=seed,
        width=size[0],
        height=size[1],
        **_phone(rng),
        **(card_factors | _hard_photo(rng)),
        chart_side=_pick(rng, SIDES),
        chart_turn=rng.uniform(0, 360),
        card_turn=turn,
        tilt=rng.uniform(0, 40),
        chart_fraction=rng.uniform(1 / 8, 1 / 2.5),
        chart_covered=int(rng.integers(1, 5)) if _maybe(rng, 0.15) else 0,
        chart_glare=rng.uniform(0.1, 0.5) if _maybe(rng, 0.1) else 0.0,
    )


def chartless_spec(seed, size=FULL_SIZE):
    """Draw a photo without a chart: cards (often square swatches in rows), busy tables, tubes, or a bare table."""
    rng = np.random.default_rng([seed, 1003])
    spec = finding_spec(seed, size)
    traps = {
        "rows": 4,
        "columns": 6,
        "shape": "square",
        "palette": "with-saturated-tubes",
        "writing": "none",
        "two_blocks": False,
        "size_scatter": 0.02,
        "fill": 0.85,
        "missing": 0,
    }
    return replace(
        spec,
        chart_present=False,
        second_chart=False,
        chart_covered=0,
        chart_glare=0.0,
        shadow="none" if spec.shadow == "chart" else spec.shadow,
        card_present=_maybe(rng, 0.8),
        tubes=int(rng.integers(0, 9)),
        **(traps if _maybe(rng, 0.3) else {}),
    )


def colour_spec(seed, size=FULL_SIZE):
    """Colour at its hardest in an easy lay-out: every camera, every light, fall-off to 35 %, bright tube colours."""
    rng = np.random.default_rng([seed, 1004])
    lights = ("D50", "D65", "A", "B3200", "LED-B1", "LED-B3", "LED-B5", "LED-V1", "FL2", "FL11", "TL84")
    return replace(
        easy_spec(seed, size),
        camera=CAMERAS[seed % len(CAMERAS)],
        light=_pick(rng, lights),
        palette="with-saturated-tubes",
        fall_off=rng.uniform(0.0, 0.35),
        exposure=rng.uniform(-0.9, 0.35),
        rows=int(rng.integers(4, 8)),
        columns=int(rng.integers(3, 6)),
        glints=int(rng.integers(0, 3)),
        shadow=_pick(rng, ("none", "card"), [0.88, 0.12]),
        shadow_depth=rng.uniform(0.2, 0.5),
    )


#: What stays when a card is shot again: the card itself, and the chart's make.
OF_THE_CARD = (
    "ground", "torn", "margin", "pencil_frames", "tape", "rows", "columns", "missing", "two_blocks", "shape", "fill",
    "size_scatter", "place_scatter", "writing", "title", "palette", "brush", "chart_pitch_ratio",
)  # fmt: skip


def pair_specs(seed, shift=0.0, size=FULL_SIZE):
    """One card shot twice: before, and after in other light from another angle.

    Half the swatches (chosen at random) shift in CIELAB L* by ±`shift`; both truths carry the exact colours.
    """
    rng = np.random.default_rng([seed, 1005])
    before, after = shot_specs(seed, 2, size)
    count = before.rows * before.columns
    shifts = np.where(rng.random(count) < 0.5, rng.choice([-1.0, 1.0], count) * shift, 0.0)
    return before, replace(after, lightness_shift=tuple(shifts.tolist()))


def shot_specs(seed, count, size=FULL_SIZE):
    """One card shot several times with one camera, each time in other light, from another angle and rendered anew."""
    first = easy_spec(seed, size)
    kept = {name: getattr(first, name) for name in (*OF_THE_CARD, "camera")}
    pitch = make_plan(first).cell_mm / CHART_PITCH_MM
    others = (easy_spec(seed + 500_000 * k, size) for k in range(1, count))
    return first, *(replace(other, **kept, card_seed=first.of_card, cell_pitch=pitch) for other in others)
