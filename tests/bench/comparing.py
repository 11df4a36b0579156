"""How well two photos of one card tell what changed: `python -m tests.bench.comparing --seeds 32`.

Each seed gives one card. Half of its swatches shift by ±SHIFT L* between the photos. The later one is shot in the same
light, in another daylight and under a lamp, beside a chart of the first one's size and of others. Each pair is compared
without anchors, with a few unchanged swatches named, and with the bare ground. With --cache, drawn scenes and their
readings are kept: only what reads anew is read again. With --fit, the comparison's constants are found anew on these
pairs and printed; judge them on other seeds.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from swatchread.comparison.anchoring import GROUND
from tests.bench.comparing_fit import case_of, fitted, printed
from tests.bench.pairs import LIGHTS, SIZE, Tally, count, pair_of, pooled, shoot, unchanged_anchors
from tests.bench.running import options, scene_folder, seeds_of

FIRST = 8000
SHIFT = 2.5
ANCHORS = ("none", "row", "ground")
CHARTS = (1.0, 0.6, 1.6)
STEPS = (8.0, 16.0, 30.0, np.inf)


def run(seeds, shift=SHIFT, *, size=SIZE, lights=LIGHTS, charts=CHARTS, cache=None):
    """Return tallies by (chart's size, light, anchors), and what could not be read."""
    tallies, unread = {}, {}
    for (seed, light, chart), before, after in _shot(seeds, shift, size, product(lights, charts), cache):
        if before.note is None or after.note is None:
            unread[seed, light, chart] = before.why or after.why
            continue
        for kind in ANCHORS:
            anchors = _anchors(kind, before, after)
            if anchors or kind == "none":
                count(tallies.setdefault((chart, light, kind), Tally()), before, after, anchors)
    return tallies, unread


def fit(seeds, shift=SHIFT, *, size=SIZE, charts=CHARTS, cache=None):
    """Return the constants under which the errors of these pairs are likeliest."""
    shots = _shot(seeds, shift, size, product(LIGHTS, charts), cache)
    cases = [case_of(key[0], *pair) for key, *pair in shots if all(shot.note for shot in pair)]
    return fitted([case for case in cases if case is not None])


def _shot(seeds, shift, size, kinds, cache):
    """Yield (seed, light, chart's size) and both photos of each pair."""
    with scene_folder(cache) as folder:
        for seed, (light, chart) in product(seeds, list(kinds)):
            specs = pair_of(seed, shift, light=light, chart=chart, size=size)
            yield (seed, light, chart), *(shoot(spec, folder) for spec in specs)


def _anchors(kind, before, after):
    if kind == "row":
        return unchanged_anchors(before, after)
    return (GROUND,) if kind == "ground" else ()


def report(tallies, unread):
    """Print one line a cell: chart, light and anchors; then the uncertainty by the distance to the nearest anchor."""
    print(
        "chart light    anchors | pairs refused widened | false alarms, of near-greys, of others | told"
        " | wrong sign mismatched | L*: median |error|, rms of error/u, inside 1 u, 2 u"
    )
    for (chart, light, kind), t in sorted(tallies.items(), key=_order):
        grey, other = t.part(lambda one: one.near_grey), t.part(lambda one: not one.near_grey)
        print(
            f"{chart:5.1f} {light:8s} {kind:7s} | {t.pairs:3d} {len(t.refused):3d} {t.widened:3d}"
            f" | {_false(t)} {_false(grey)} {_false(other)} | {100 * t.told_share:5.1f} % of {len(t.changed):<4d}"
            f" | {t.wrong_sign:2d} {t.mismatched:2d} | {_honesty(t)}"
        )
    print("swatches by the nearest anchor's distance in CIELAB | number, L* as above")
    for kind in ANCHORS[1:]:
        for light in LIGHTS:
            t = pooled(found for key, found in tallies.items() if key[1:] == (light, kind))
            for farther, nearer in zip((0.0, *STEPS), STEPS, strict=False):
                part = t.part(lambda one, low=farther, high=nearer: low <= one.anchor_away < high)
                where = f"{kind:7s} {light:8s} {farther:3.0f} to {nearer:3.0f}"
                print(f"{where} | {len(part.outcomes):4d} {_honesty(part)}")
    for key, t in tallies.items():
        for why in t.refused:
            print(f"refused {key}: {why}")
    for key, why in unread.items():
        print(f"unread {key}: {why}")


def _order(item):
    chart, light, kind = item[0]
    return (chart != 1.0, chart, LIGHTS.index(light), ANCHORS.index(kind))


def _false(t):
    return f"{t.false:3d}/{len(t.unchanged):<4d} {100 * t.false_share:4.1f} %"


def _honesty(t):
    return f"{t.median_error:.2f} {t.standardised:.2f} {100 * t.inside(1):3.0f} % {100 * t.inside(2):5.1f} %"


def main():
    parser = options("comparing", __doc__, seeds=12, start=FIRST, size=SIZE)
    parser.add_argument("--shift", type=float, default=SHIFT, help="of L*, of half the swatches")
    parser.add_argument("--charts", type=float, nargs="+", default=CHARTS, help="sizes of the later photo's chart")
    parser.add_argument("--fit", action="store_true", help="find the constants anew and print them")
    wanted = parser.parse_args()
    if wanted.fit:
        found = fit(seeds_of(wanted), wanted.shift, size=wanted.size, charts=wanted.charts, cache=wanted.cache)
        print(printed(found))
        return
    report(*run(seeds_of(wanted), wanted.shift, size=wanted.size, charts=wanted.charts, cache=wanted.cache))


if __name__ == "__main__":
    main()
