"""The card finder with one rule switched off at a time, and with groups of rules off.

A rule has to earn its place: what it buys is the difference from the whole finder on the same photos. The photo is
decoded and its chart is found once a scene; the card is found again for each rule. A rule that the whole finder did
not look up on a photo changes nothing there, so that the card is not looked for again. The time is compared on those
photos alone where it was.
"""

import time
from dataclasses import dataclass, replace

import numpy as np

from .locate import Place, hold_against
from .matching import VISIBLE
from .tables import aligned

#: group -> its rules; together they are all rules.
GROUPS = {
    "candidates": ("cropped", "two_pieces", "between_patches"),
    "choice": ("twins", "printed"),
    "sizes": ("full_size", "nearer", "halved"),
    "painted": ("edge_marks", "texture"),
    "rejected": ("small_lines", "rough_lines", "alone"),
    "gaps": ("gaps_within", "gaps_beyond"),
    "extent": ("margin", "one_card_of_grid"),
}

#: Resamplings of the scenes for an interval.
RESAMPLED = 2000


@dataclass(frozen=True)
class Outcome:
    """What one version of the finder made of one scene: counts of swatches, whether the card was read, CPU seconds."""

    there: int
    found: int
    matched: int
    false: int
    placed: int
    unread: int
    seconds: float


def chosen_groups(only=None):
    """Return the groups, or one of the rules that are named."""
    return GROUPS if only is None else {"these": tuple(only)}


def same(one, other):
    """Tell whether two versions have found the same, whatever the time they took."""
    return replace(one, seconds=0.0) == replace(other, seconds=0.0)


def outcomes(made, groups):
    """Find the card of one scene by every version of the finder; return name -> `Outcome`, or None without a chart.

    Groups are halved until a rule is left. Where a part of a group changes nothing, each of its rules counts as
    changing nothing.
    """
    plane = plane_of(made)
    return None if plane is None else _Scene(plane, made.truth).outcomes(groups)


class _Scene:
    """One scene, and what the finder makes of it with some rules off."""

    def __init__(self, plane, truth):
        self.plane, self.truth = plane, truth
        self.whole, self.needed = self._watched()
        self.found = {"whole": self.whole}

    def outcomes(self, groups):
        for group, names in groups.items():
            self.found[f"all of {group}"] = self._explored(names)
        return self.found

    def _explored(self, names):
        """Note what the finder is without some rules, and without each half of them where they matter."""
        off = [name for name in names if name in self.needed]
        made = self._without(off) if off else self.whole
        if len(names) == 1:
            self.found[names[0]] = made
        elif same(made, self.whole):
            self.found.update(dict.fromkeys(names, self.whole))
        else:
            for part in (names[: len(names) // 2], names[len(names) // 2 :]):
                self._explored(part)
        return made

    def _without(self, off):
        from swatchread.plane.finder_settings import FinderSettings

        return self._outcome(replace(FinderSettings(), **dict.fromkeys(off, False)))

    def _watched(self):
        """Return the outcome of the whole finder, and the names of the rules that it looked up."""
        from swatchread.plane.finder_settings import FinderSettings

        looked_up = set()

        class Watched(FinderSettings):
            def __getattribute__(self, name):
                looked_up.add(name)
                return super().__getattribute__(name)

        return self._outcome(Watched()), looked_up

    def _outcome(self, rules):
        from swatchread.card.card_detection import find_card
        from swatchread.errors import SwatchreadError
        from swatchread.ink.orientation import stand_upright
        from swatchread.plane.finder_settings import using
        from swatchread.sampling.card_sampling import sample_card

        place = Place(self.truth.spec, self.truth)
        start = time.process_time()
        with using(rules):
            try:
                card = stand_upright(find_card(self.plane))
            except SwatchreadError:
                card = None
        seconds = time.process_time() - start
        if card is not None:
            hold_against(place, sample_card(card), self.truth)
        there = sum(s.contrast >= VISIBLE for s in self.truth.swatches)
        return Outcome(there, place.found, place.matched, place.false, place.placed, int(card is None), seconds)


def plane_of(made):
    from swatchread.chart.chart_detection import find_chart
    from swatchread.chart.definition import load_chart
    from swatchread.chart.patch_sampling import sample_chart
    from swatchread.errors import SwatchreadError
    from swatchread.photo import load_photo
    from swatchread.plane.rectification import rectify

    try:
        return rectify(sample_chart(find_chart(load_photo(made.path), load_chart())))
    except SwatchreadError:
        return None


def report(results):
    """Text: what each version loses against the whole finder, in points, with intervals of 95 %."""
    names = list(results[0])
    tables = {name: np.array([_row(result[name]) for result in results], float) for name in names}
    whole = _figures(tables["whole"].sum(axis=0))
    draws = np.random.default_rng(0).integers(0, len(results), (RESAMPLED, len(results)))
    counts = np.stack([np.bincount(draw, minlength=len(results)) for draw in draws]).astype(float)
    resampled = _figures((counts @ tables["whole"]).T)
    rows = []
    for name in names[1:]:
        own, spread = _figures(tables[name].sum(axis=0)), _figures((counts @ tables[name]).T)
        low, high = np.quantile(spread - resampled, [0.025, 0.975], axis=1)
        change = own - whole
        cells = [f"{d:+.2f} ({a:+.2f}…{b:+.2f})" for d, a, b in zip(change[:3], low[:3], high[:3], strict=True)]
        tried = [r for r in results if r[name] is not r["whole"]]
        differ = sum(not same(r[name], r["whole"]) for r in tried)
        spent, usual = (sum(r[k].seconds for r in tried) for k in (name, "whole"))
        rows.append(
            [name, len(tried), differ, *cells, f"{change[3]:+.0f}", f"{spent / usual - 1:+.0%}" if tried else ""]
        )
    head = ["off", "tried", "differ", "recall", "false", "placed", "unread", "time"]
    first = (
        f"whole finder, {len(results)} scenes: recall {whole[0]:.2f} %, false {whole[1]:.2f} %, placed "
        f"{whole[2]:.2f} %, unread {whole[3]:.0f}, {tables['whole'][:, 6].mean():.2f} s a card"
    )
    return first + "\n\n" + aligned(rows, head)


def _row(o):
    return [o.there, o.found, o.matched, o.false, o.placed, o.unread, o.seconds]


def _figures(total):
    """Return recall, false and placed in %, cards unread, and CPU seconds."""
    there, found, matched, false, placed, unread, seconds = total
    return np.stack(
        [
            100 * matched / np.maximum(there, 1),
            100 * false / np.maximum(found, 1),
            100 * placed / np.maximum(matched, 1),
            unread,
            seconds,
        ]
    )
