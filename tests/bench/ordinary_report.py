"""Tables of the bench of ordinary faults: outcomes by fault, clean photos by group, and changes between runs."""

from collections import Counter

import numpy as np

from tests.scene.faults import LAMPS

from .ordinary_pair import OUTCOMES, SILENT_AT_MOST, differences, is_silent, misplaced, silent_swatches
from .tables import aligned, quantiles, spread

NEAR_GREY, SATURATED = 10.0, 45.0  # CIELAB chroma below and above which a colour counts as such


def outcome_table(pairs):
    """Text of the outcomes by kind; photos whose clean reading fails do not count."""
    rows = []
    for kind in dict.fromkeys(p.kind for p in pairs):
        some = [p for p in pairs if p.kind == kind and not p.clean.failure]
        count = Counter(p.outcome for p in some)
        share = count["silent"] / len(some) if some else np.nan
        verdict = "ok" if share <= SILENT_AT_MOST else "MISSES"
        false = sum(max(p.bad.false - p.clean.false, 0) for p in some)
        rows.append([kind, len(some), *(count[name] for name in OUTCOMES), f"{share:.0%}", verdict, false])
    return aligned(rows, ["fault", "photos", *OUTCOMES, "silent", f"≤ {SILENT_AT_MOST:.0%}", "false swatches"])


def warning_lines(pairs):
    """Text of the codes of new warnings and of refusals by kind."""
    lines = []
    for kind in dict.fromkeys(p.kind for p in pairs):
        some = [p for p in pairs if p.kind == kind and not p.clean.failure]
        codes = Counter(code for p in some for code in p.new_warnings)
        codes.update(f"refused ({p.bad.failure})" for p in some if p.bad.failure)
        if codes:
            lines.append(f"{kind}: {', '.join(f'{code} {n}' for code, n in codes.most_common())}")
    return "\n".join(["new warnings, and refusals:", *lines]) if lines else ""


def silent_table(pairs):
    """One line for each silent photo: its seed, its worst swatch, and the scene with the fault's own factors."""
    rows, about = [], [""]
    for pair in pairs:
        if pair.clean.failure or pair.outcome != "silent":
            continue
        spec, bad = pair.bad.spec, pair.silent
        worst = max(bad, key=lambda p: p.error["reader"], default=None)
        told = f"{worst.id} {worst.error['reader']:.1f} ± {worst.u:.1f}" if worst else ""
        rows.append([f"{pair.kind} {spec.seed}", len(bad), told, "shifted" if pair.shifted else ""])
        factors = [f"{name}={value}" for name, value in differences(pair.clean.spec, spec)]
        lain = f"{spec.under} {spec.sheet if spec.under == 'sheet' else spec.table}"
        about.append(", ".join([spec.light, lain, f"{spec.ground} card", *factors]))
    if not rows:
        return ""
    lines = aligned(rows, ["silent", "swatches", "worst", "ids"]).split("\n")
    return "\n".join(f"{line}   {more}".rstrip() for line, more in zip(lines, about, strict=True))


def light_kind(light):
    """Daylight, tungsten, fluorescent or LED."""
    if light.startswith(("FL", "TL")):
        return "fluorescent"
    return "LED" if light.startswith("LED") else "daylight" if light.startswith("D") else "tungsten"


def colour_kind(paint):
    """Near-grey, flesh and earth, saturated, or other."""
    chroma = np.hypot(*paint.lab[1:])
    if chroma < NEAR_GREY:
        return "near-grey"
    return "flesh" if paint.flesh else "saturated" if chroma > SATURATED else "other"


_HEAD = ("swatches", "median", "95th", "≤ 1 u", "≤ 2 u", "median ±", "silent")


def _cells(paints):
    """Cells of a table under `_HEAD`."""
    error, u = np.array([p.error["reader"] for p in paints]), np.array([p.u for p in paints])
    return [*spread(error, u), f"{np.median(u):.2f}", f"{np.mean([is_silent(p) for p in paints]):.1%}"]


def clean_table(photos):
    """Text of errors and stated uncertainties of the clean photos by groups."""
    paints = [(photo, p) for photo in photos for p in photo.matched]
    groups = {
        "all": lambda *_: "",
        "light": lambda photo, _: light_kind(photo.spec.light),
        "colour": lambda _, p: colour_kind(p),
        "light, colour": lambda photo, p: f"{light_kind(photo.spec.light)}, {colour_kind(p)}",
        "under both": lambda photo, _: photo.spec.under,
    }
    rows = []
    for title, name in groups.items():
        named = [(name(photo, p), p) for photo, p in paints]
        for group in sorted({n for n, _ in named}):
            some = [p for n, p in named if n == group]
            rows.append([f"{title}: {group}" if group else title, *_cells(some)])
    return aligned(rows, ["clean photos", *_HEAD])


def lamp_table(pairs):
    """Text of errors and stated uncertainties under lamps by colour."""
    rows = []
    for kind in dict.fromkeys(p.kind for p in pairs if p.kind in LAMPS):
        paints = [s for p in pairs if p.kind == kind for s in p.bad.matched]
        rows += [
            [f"{kind}: {group}", *_cells([s for s in paints if colour_kind(s) == group])]
            for group in sorted({colour_kind(s) for s in paints})
        ]
    return aligned(rows, ["under lamps", *_HEAD]) if rows else ""


def clean_line(photos):
    """Say how many clean photos were read, are silently wrong, and carry a warning."""
    read = [p for p in photos if not p.failure]
    codes = Counter(code for p in read for code in p.warnings)
    silent = sum(bool(silent_swatches(p)) or misplaced(p) for p in read)
    told = ", ".join(f"{code} {n}" for code, n in codes.most_common()) or "none"
    return f"{len(read)} of {len(photos)} clean photos read; silent: {silent}; warnings: {told}"


# --- against an earlier run


def kept(photos):
    """Plain record of clean photos, to be compared with a later run."""
    return {
        str(p.spec.seed): {
            "failure": p.failure,
            "warnings": list(p.warnings),
            "under": p.spec.under,
            "swatches": {s.id: [s.error["reader"], s.u] for s in p.matched},
        }
        for p in photos
    }


def changes(before, now):
    """Text of what changed between two records on the photos and swatches that both read."""
    both = [(before[seed], now[seed]) for seed in now if seed in before]
    read = [(a, b) for a, b in both if not a["failure"] and not b["failure"]]
    if not read:
        return "nothing to compare with the earlier run"
    fresh = [set(b["warnings"]) - set(a["warnings"]) for a, b in read]
    codes = Counter(code for new in fresh for code in new)
    said = (
        f"since the earlier run: new warnings on {sum(map(bool, fresh))} of {len(read)} photos "
        f"({', '.join(f'{c} {n}' for c, n in codes.most_common()) or 'none'}); newly refused "
        f"{sum(bool(b['failure']) and not a['failure'] for a, b in both)}"
    )
    rows = []
    for under in ("", *sorted({b["under"] for _, b in read})):
        pairs = [
            (*a["swatches"][k], *b["swatches"][k])
            for a, b in read
            if under in ("", b["under"])
            for k in b["swatches"]
            if k in a["swatches"]
        ]
        e0, u0, e1, u1 = np.array(pairs).T
        (m0, _, t0), (m1, _, t1) = quantiles(e0), quantiles(e1)
        ratio = np.median(u1) / np.median(u0)
        rows.append([under or "all", len(e0), *(f"{x:.2f}" for x in (m0, m1, t0, t1, np.median(u1), ratio))])
    head = ["under both", "swatches", "median before", "now", "95th before", "now", "median ±", "ratio of ±"]
    return f"{said}\n{aligned(rows, head)}"
