"""Figures from records, and plain aligned tables of them."""

import numpy as np

FAR = 3.0  # ΔE00 of an error that must be flagged or covered


def aligned(rows, head=None):
    """Plain text table: columns padded, the first to the left, the others to the right."""
    rows = [[str(c) for c in row] for row in ([head] if head else []) + list(rows)]
    widths = [max(len(r[k]) for r in rows if k < len(r)) for k in range(max(map(len, rows)))]
    return "\n".join(
        "  ".join(
            c.ljust(w) if k == 0 else c.rjust(w) for k, (c, w) in enumerate(zip(r, widths, strict=False))
        ).rstrip()
        for r in rows
    )


def fits(number, target):
    """Say whether a figure lies within its target (lowest, highest), of which None is open."""
    low, high = target
    return (low is None or number >= low) and (high is None or number <= high)


def judged(made, targets, shown):
    """Rows of (figure, number, target, verdict); `shown(name, number)` writes a number of a figure."""
    rows = []
    for name, number in made.items():
        target = targets.get(name, (None, None))
        bounds = [f"{sign} {shown(name, x)}" for sign, x in zip("≥≤", target, strict=True) if x is not None]
        verdict = ("ok" if fits(number, target) else "MISSES") if bounds else ""
        rows.append([name, shown(name, number), " ".join(bounds), verdict])
    return rows


def misses(made, targets):
    """Return the figures that miss their targets; one that could not be measured misses too."""
    found = {name: made.get(name, np.nan) for name in targets}
    return {name: number for name, number in found.items() if not fits(number, targets[name])}


def quantiles(errors):
    """(median, 90th, 95th percentile), NaN without errors."""
    errors = np.asarray(errors, float)
    return tuple(np.quantile(errors, [0.5, 0.9, 0.95])) if errors.size else (np.nan,) * 3


def _three(name, errors):
    return dict(zip((f"{name}median", f"{name}p90", f"{name}p95"), quantiles(errors), strict=True))


def share(flags):
    return float(np.mean(flags)) if len(flags) else np.nan


def honesty(name, errors, u):
    """Figures of errors (n,) with their stated uncertainties (n,)."""
    errors, u = np.asarray(errors), np.asarray(u)
    median, _, tail = quantiles(errors)
    return {
        f"{name}: median error": median,
        f"{name}: 95 %": tail,
        f"{name}: inside 1 u": share(errors <= u),
        f"{name}: inside 2 u": share(errors <= 2 * u),
    }


def spread(errors, u):
    """Cells of a table: how many errors, their median and 95th percentile, and how many lie inside 1 u and 2 u."""
    made = honesty("", errors, u)
    inside = [f"{made[f': inside {k} u']:.0%}" for k in (1, 2)]
    return [len(errors), f"{made[': median error']:.2f}", f"{made[': 95 %']:.2f}", *inside]


def errors_of(photos, method, keep=lambda _: True):
    """Errors of a method over the swatches that the reader measured."""
    return np.array([p.error[method] for photo in photos for p in photo.matched if method in p.error and keep(p)])


def paired(photos, method):
    """Errors of (reader, method) over the swatches that both measured."""
    both = [p.error for photo in photos for p in photo.matched if method in p.error]
    return np.array([e["reader"] for e in both]), np.array([e[method] for e in both])


def figures(photos):
    """All headline figures of the reader over some photos, as a dict of numbers."""
    read = [p for p in photos if not p.failure]
    paints = [p for photo in read for p in photo.matched]
    there = sum(len(p.paints) for p in photos)
    found = sum(p.found for p in read)
    error = np.array([p.error["reader"] for p in paints])
    u = np.array([p.u for p in paints])
    value = np.abs([p.value_read - p.value for p in paints])
    silent = np.array([p.error["reader"] > FAR and not p.doubted and p.error["reader"] > 2 * p.u for p in paints])
    return {
        "photos": len(photos),
        "photos read": len(read) / max(len(photos), 1),
        "swatches": there,
        "recall": len(paints) / max(there, 1),
        "false": sum(p.false for p in read) / max(found, 1),
        "right row and column": sum(p.placed for p in read) / max(len(paints), 1),
        **_three("", error),
        **_three("flesh ", error[np.array([p.flesh for p in paints], bool)]),
        **_three("undoubted ", error[~np.array([p.doubted for p in paints], bool)]),
        "doubted": share([p.doubted for p in paints]),
        "value p95": float(np.quantile(value, 0.95)) if value.size else np.nan,
        "value within 0.25": share(value <= 0.25),
        "inside 1 u": share(error <= u),
        "inside 2 u": share(error <= 2 * u),
        "silent": share(silent),
        **_over_stated([p for p in paints if not p.doubted]),
        "wall": float(np.median([p.seconds["wall"] for p in photos])),
        "cpu": float(np.median([p.seconds["cpu"] for p in photos])),
    }


def _over_stated(paints):
    """Root mean square of the errors of L*, a* and b* over their stated uncertainties: 1 if these are true."""
    ratio = np.array([(p.read - p.lab) / p.u_lab for p in paints]).reshape(-1, 3)
    rms = np.sqrt((ratio**2).mean(axis=0)) if len(ratio) else [np.nan] * 3
    return {f"undoubted error/u, {name}": float(x) for name, x in zip(("L*", "a*", "b*"), rms, strict=True)}


def coverage_by_u(photos):
    """Rows of coverage by quartile of the stated uncertainty."""
    paints = [p for photo in photos for p in photo.matched]
    u, error = np.array([p.u for p in paints]), np.array([p.error["reader"] for p in paints])
    if len(u) < 8:
        return []
    edges = np.quantile(u, [0, 0.25, 0.5, 0.75, 1])
    quarter = np.clip(np.searchsorted(edges, u, side="right") - 1, 0, 3)
    return [
        [f"{edges[k]:.2f} to {edges[k + 1]:.2f}", *spread(error[quarter == k], u[quarter == k])]
        for k in range(4)
        if (quarter == k).any()
    ]


def bins(photos, factor, most=5):
    """Photos by a factor of their spec: names as they are, numbers in about `most` equal shares."""
    values = [getattr(p.spec, factor) for p in photos]
    if not all(isinstance(v, float | int) for v in values) or len(set(values)) <= most:
        named = [f"{v:.2f}" if isinstance(v, float) else str(v) for v in values]
        return [(n, [p for p, own in zip(photos, named, strict=True) if own == n]) for n in sorted(set(named))]
    edges = np.unique(np.quantile(values, np.linspace(0, 1, most + 1)))
    place = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, len(edges) - 2)
    return [
        (f"{edges[k]:.2f} to {edges[k + 1]:.2f}", [p for p, at in zip(photos, place, strict=True) if at == k])
        for k in range(len(edges) - 1)
        if (place == k).any()
    ]
