"""How well two photos of one card tell what changed: `python -m tests.bench.comparing --pairs 100`.

Each seed gives one card, shot before and after: unshifted in other light (false alarms), and with half of its swatches
shifted by ±SHIFT L* in like and in other light, each compared without anchors, with a few unchanged swatches named, and
with the bare ground.
"""

from __future__ import annotations

import numpy as np

from swatchread.comparison.anchoring import GROUND
from tests.bench.pairs import SIZE, Tally, count, pair_of, shoot, unchanged_anchors
from tests.bench.running import options, scene_folder, seeds_of

FIRST = 8000
ANCHORS = ("none", "row", "ground")
STEPS = (8.0, 16.0, 30.0, np.inf)
KINDS = ((0.0, True), (0.0, False), (None, True), (None, False))


def run(seeds, shift, size=SIZE, kinds=KINDS, cache=None):
    """Return tallies by (shift, like light, anchors), and what could not be read."""
    tallies, unread = {}, []
    with scene_folder(cache) as folder:
        for seed in seeds:
            before = shoot(pair_of(seed, 0.0, like_light=True, size=size)[0], folder)
            if before.note is None:
                unread.append((seed, before.why))
                continue
            for wanted, like in kinds:
                by = shift if wanted is None else wanted
                after = shoot(pair_of(seed, by, like_light=like, size=size)[1], folder)
                if after.note is None:
                    unread.append((seed, after.why))
                    continue
                for kind in ANCHORS:
                    tally = tallies.setdefault((by, like, kind), Tally())
                    anchors = _anchors(kind, before, after)
                    if anchors or kind == "none":
                        count(tally, before, after, anchors)
    return tallies, unread


def _anchors(kind, before, after):
    if kind == "row":
        return unchanged_anchors(before, after)
    return (GROUND,) if kind == "ground" else ()


def pooled(tallies, kind, *, like=None, nearer=np.inf, farther=0.0):
    """Return one tally of the errors of all pairs with such anchors, of swatches so far in colour from them."""
    found = [t for (_, light, anchors), t in tallies.items() if anchors == kind and like in (None, light)]
    return Tally(errors=[e for t in found for e in t.errors if farther <= e[2] <= nearer])


def report(tallies, unread):
    """Print one line a kind of pair."""
    print(
        "shift light  anchors | pairs refused widened | false alarms    | lighter/darker told | wrong sign mismatched"
        " | L*: median |error|, rms of error/u, inside 1 u, 2 u"
    )
    for (shift, like, anchors), t in sorted(tallies.items()):
        print(
            f"{shift:5.1f} {'like ' if like else 'other'}  {anchors:7s}"
            f" | {t.pairs:3d} {len(t.refused):3d} {t.strained:3d}"
            f" | {t.false:4d}/{t.unchanged:<5d} {100 * t.false_share:4.1f} %"
            f" | {t.detected:4d}/{t.changed:<5d} {100 * t.detected_share:5.1f} %"
            f" | {t.wrong_sign:2d} {t.mismatched:2d} | {_honesty(t)}"
        )
    print("swatches by the nearest anchor's distance in CIELAB | number, L* as above")
    for kind in ANCHORS[1:]:
        for like in (True, False):
            for farther, nearer in zip((0.0, *STEPS), STEPS, strict=False):
                t = pooled(tallies, kind, like=like, nearer=nearer, farther=farther)
                where = f"{kind:7s} {'like ' if like else 'other'} {farther:3.0f} to {nearer:3.0f}"
                print(f"{where} | {len(t.errors):4d} {_honesty(t)}")
    for key, t in tallies.items():
        for why in t.refused:
            print(f"refused {key}: {why}")
    for seed, why in unread:
        print(f"unread {seed}: {why}")


def _honesty(t):
    return f"{t.median_error:.2f} {t.standardised:.2f} {100 * t.inside(1):3.0f} % {100 * t.inside(2):3.0f} %"


def main():
    parser = options("comparing", __doc__, seeds=12, start=FIRST, size=SIZE)
    parser.add_argument("--shift", type=float, default=2.5, help="of L*, of half the swatches")
    wanted = parser.parse_args()
    report(*run(seeds_of(wanted), wanted.shift, wanted.size, cache=wanted.cache))


if __name__ == "__main__":
    main()
