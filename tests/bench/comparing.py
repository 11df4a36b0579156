"""How well two photos of one card tell what changed: `python -m tests.bench.comparing --pairs 100`.

Each seed gives one card, shot before and after: unshifted in other light (false alarms), and with half of its swatches
shifted by ±SHIFT L* in like and in other light, each compared without anchors and with a few unchanged swatches named.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

from tests.bench.pairs import SIZE, Tally, count, pair_of, shoot, unchanged_anchors

FIRST = 8000
KINDS = ((0.0, True), (0.0, False), (None, True), (None, False))


def run(seeds, shift, size=SIZE, kinds=KINDS):
    """Return tallies by (shift, like light, anchored), and what could not be read."""
    tallies, unread = {}, []
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            before = shoot(pair_of(seed, 0.0, like_light=True, size=size)[0], Path(folder))
            if before.note is None:
                unread.append((seed, before.why))
                continue
            for wanted, like in kinds:
                by = shift if wanted is None else wanted
                after = shoot(pair_of(seed, by, like_light=like, size=size)[1], Path(folder))
                if after.note is None:
                    unread.append((seed, after.why))
                    continue
                for anchored in (False, True):
                    tally = tallies.setdefault((by, like, anchored), Tally())
                    anchors = unchanged_anchors(before, after) if anchored else ()
                    if anchors or not anchored:
                        count(tally, before, after, anchors)
    return tallies, unread


def report(tallies, unread):
    """Print one line a kind of pair."""
    print(
        "shift light  anchors | pairs refused widened | false alarms    | lighter/darker told | wrong sign mismatched"
        " | median |error| of L*, rms of error/u"
    )
    for (shift, like, anchored), t in sorted(tallies.items()):
        print(
            f"{shift:5.1f} {'like ' if like else 'other'}  {'4 or fewer' if anchored else 'none':10s}"
            f" | {t.pairs:3d} {len(t.refused):3d} {t.strained:3d}"
            f" | {t.false:4d}/{t.unchanged:<5d} {100 * t.false_share:4.1f} %"
            f" | {t.detected:4d}/{t.changed:<5d} {100 * t.detected_share:5.1f} %"
            f" | {t.wrong_sign:2d} {t.mismatched:2d} | {t.median_error:.2f} {t.standardised:.2f}"
        )
    for key, t in tallies.items():
        for why in t.refused:
            print(f"refused {key}: {why}")
    for seed, why in unread:
        print(f"unread {seed}: {why}")


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.bench.comparing", description=__doc__.split(":")[0])
    parser.add_argument("--pairs", type=int, default=12, help="cards; each gives one pair of every kind")
    parser.add_argument("--first", type=int, default=FIRST, help="first seed")
    parser.add_argument("--shift", type=float, default=2.5, help="of L*, of half the swatches")
    parser.add_argument("--width", type=int, default=SIZE[0], help="of the photos, px")
    wanted = parser.parse_args()
    size = (wanted.width, wanted.width * 3 // 4)
    report(*run(range(wanted.first, wanted.first + wanted.pairs), wanted.shift, size))


if __name__ == "__main__":
    main()
