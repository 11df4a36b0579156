"""The accuracy bench's tables: figures beside the targets they are held to."""

from .measure import CLIPPED, DOUBTS
from .tables import FAR, aligned, bins, coverage_by_u, errors_of, figures, paired, quantiles, spread
from .tables import judged as beside_targets

#: figure -> (lowest, highest) allowed; None is open: for upright cards in ordinary light; for colour at its hardest.
TARGETS = {
    "easy": {
        "photos read": (1.0, None),
        "recall": (0.97, None),
        "false": (None, 0.02),
        "median": (None, 2.0),
        "library / reader, median": (1.5, None),
    },
    "colour": {
        "median": (None, 1.2),
        "p95": (None, 4.0),
        "flesh median": (None, 1.0),
        "flesh p95": (None, 3.0),
        "value within 0.25": (0.95, None),
        "inside 1 u": (0.62, 0.75),
        "inside 2 u": (0.92, 0.98),
        "silent": (None, 0.005),
        **dict.fromkeys(("undoubted error/u, L*", "undoubted error/u, a*", "undoubted error/u, b*"), (0.75, 1.25)),
        "reader / photo limit, median": (None, 1.3),
        "reader / photo limit, p95": (None, 1.0),
        "library / reader, median": (2.8, None),
        "raw files read, of the JPEGs read": (1.0, None),
        "jpeg / dng, median": (1.3, None),
    },
}
SHARES = {"photos read", "raw files read, of the JPEGs read", "recall", "false", "right row and column",
          "value within 0.25", "inside 1 u", "inside 2 u", "silent", "doubted"}  # fmt: skip
_METHODS = ("reader", "library", "library, chart given", "photo", "photo, unclipped")


def ratios(photos):
    """Ratios between the reader and what stands beside it, each on the swatches that both measured."""
    made = {}
    for method, name in (("photo", "photo limit"), ("photo, unclipped", "photo limit, unclipped fit")):
        ours, limit = paired(photos, method)
        if len(ours):
            (m, _, t), (m0, _, t0) = quantiles(ours), quantiles(limit)
            made |= {f"reader / {name}, median": m / m0, f"reader / {name}, p95": t / t0}
    for method in ("library", "library, chart given"):
        ours, theirs = paired(photos, method)
        if len(ours):
            made[f"{method} / reader, median"] = quantiles(theirs)[0] / quantiles(ours)[0]
    return made


def judged(kind, made):
    """Rows of (figure, number, target, verdict)."""
    return beside_targets(made, TARGETS.get(kind, {}), lambda name, x: f"{x:.1%}" if name in SHARES else f"{x:.3g}")


def all_figures(photos, extra=None):
    return figures(photos) | ratios(photos) | (extra or {})


def full_report(kind, photos, extra=None, by=()):
    """Text of all tables."""
    parts = [aligned(judged(kind, all_figures(photos, extra)), ["figure", "measured", "target", ""])]
    rows = [
        [m, len(e), *(f"{q:.2f}" for q in quantiles(e)),
         *(f"{q:.2f}" for q in quantiles(errors_of(photos, m, lambda p: p.flesh)))]
        for m in _METHODS if len(e := errors_of(photos, m))
    ]  # fmt: skip
    parts.append(aligned(rows, ["ΔE00 on the swatches read", "n", "median", "90th", "95th", "flesh", "90th", "95th"]))
    if quarters := coverage_by_u(photos):
        parts.append(aligned(quarters, ["stated u (quartiles)", "n", "median ΔE00", "95th", "≤ 1 u", "≤ 2 u"]))
    parts += [_by_flag(photos), *(_by(photos, factor) for factor in by)]
    if silent := _silent(photos):
        parts.append(silent)
    parts.append(_each(photos))
    return "\n\n".join(parts)


def _by_flag(photos):
    """Errors of the swatches that carry each flag, of those that carry none, and of what the photo could not record."""
    paints = [p for photo in photos for p in photo.matched]
    flags = sorted({f for p in paints for f in p.flags} & DOUBTS)
    groups = [(f, [p for p in paints if f in p.flags]) for f in flags]
    lost = [p for p in paints if p.clipped > CLIPPED]
    groups += [("none of these", [p for p in paints if not p.doubted]), ("(truly clipped)", lost)]
    groups.append(("(truly clipped, not so flagged)", [p for p in lost if "clipped" not in p.flags]))
    rows = []
    for name, some in groups:
        rows.append([name, *spread([p.error["reader"] for p in some], [p.u for p in some])])
    return aligned(rows, ["swatches flagged", "n", "median", "95th", "≤ 1 u", "≤ 2 u"])


def _silent(photos):
    """One line for each swatch that is far off, with nothing to warn of it."""
    rows = []
    for photo in photos:
        for p in photo.matched:
            error = p.error["reader"]
            if error > FAR and error > 2 * p.u and not p.doubted:
                limit = f"{p.error['photo']:.1f}" if "photo" in p.error else ""
                off = " ".join(f"{x:+.1f}" for x in p.read - p.lab)
                true = " ".join(f"{x:.0f}" for x in p.lab)
                rows.append([f"{photo.spec.seed} {p.id}", f"  {true}", off, f"{error:.1f}", f"{p.u:.1f}", limit])
    return aligned(rows, ["far off without warning", "true L a b", "off by", "ΔE00", "u", "limit"]) if rows else ""


def _by(photos, factor):
    rows = []
    for name, some in bins(photos, factor):
        made = figures(some)
        row = [f"{made['photos read']:.0%}", f"{made['recall']:.0%}"]
        row += [f"{made[k]:.2f}" for k in ("median", "p95")]
        row += [f"{quantiles(errors_of(some, 'photo'))[k]:.2f}" for k in (0, 2)]
        rows.append([name, len(some), *row, f"{made['inside 1 u']:.0%}", f"{made['inside 2 u']:.0%}"])
    head = [factor, "photos", "read", "recall", "median", "95th", "limit", "95th", "≤ 1 u", "≤ 2 u"]
    return aligned(rows, head)


def _each(photos):
    """One line a photo."""
    rows = []
    for p in photos:
        ours, limit = quantiles(errors_of([p], "reader")), quantiles(errors_of([p], "photo"))
        missed = "library misses" if p.library_missed else ""
        about = f"{p.spec.camera} {p.spec.light} {p.spec.exposure:+.2f} {p.spec.ground} shadow:{p.spec.shadow}"
        rows.append(
            [p.spec.seed, p.failure or "read", f"{len(p.matched)}/{len(p.paints)}", p.false, f"{ours[0]:.2f}",
             f"{ours[2]:.2f}", f"{limit[0]:.2f}", f"{limit[2]:.2f}", f"{p.fit.get('cross_validated', 0):.2f}",
             f"{p.seconds['wall']:.1f}", f"  {about} {','.join(p.warnings)} {missed}"]
        )  # fmt: skip
    head = ["seed", "", "found", "false", "median", "95th", "limit", "95th", "held out", "s", ""]
    return aligned(rows, head)
