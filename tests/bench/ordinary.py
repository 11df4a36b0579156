"""Ordinary faults: `python -m tests.bench.ordinary --kinds shade-on-card,local-tone --seeds 20 --size 2400x1800`.

Each photo is read as it is and again with one ordinary fault. Of the spoiled photos the bench prints which are silently
wrong, refused, or warned of; of the others errors and stated uncertainties by light and colour, and what changed since
an earlier run (`--save`, `--against`).
"""

import json
import sys
from collections import Counter
from dataclasses import dataclass, fields, replace
from functools import cache
from pathlib import Path

import numpy as np

from tests.scene.faults import KINDS, ordinary_spec, spoiled, spoiled_file

from .measure import Photo, read_note, read_photo
from .running import options, run_all, scene_folder, seeds_of
from .scenes import drawn
from .tables import FAR, aligned, quantiles, spread

#: Warnings that name a fault. They are right even where the reading came out right, because it was evened out.
NAMES = {
    "shade-on-card": {"shadow_edge", "light_uneven", "too_light"},
    "shade-on-chart": {"shadow_edge", "light_uneven", "too_light"},
    "local-tone": {"light_uneven"},
    "faded": {"poor_fit"},
    "yellowed": {"poor_fit"},
    "copy": {"poor_fit"},
    "overlay": {"chart_covered"},
}
OUTCOMES = ("silent", "refused", "warned rightly", "warned wrongly", "flagged or ±", "right")
NEAR_GREY, SATURATED = 10.0, 45.0  # CIELAB chroma below and above which a colour counts as such


@dataclass(frozen=True)
class Pair:
    """One scene read as it is and with one fault; `kind` is the fault's."""

    kind: str
    clean: Photo
    bad: Photo

    @property
    def new_warnings(self):
        return set(self.bad.warnings) - set(self.clean.warnings)

    @property
    def shifted(self):
        """Whether swatches stand in wrong rows and columns, though the clean photo has them right."""
        return misplaced(self.bad) and not misplaced(self.clean)

    @property
    def outcome(self):
        """One of `OUTCOMES`.

        silent: a swatch is wrong and carries no flag, or ids are shifted, and no warning is new. warned rightly: a new
        warning, and a swatch is off by more than 3, or ids are shifted, or the warning names the fault.
        warned wrongly: any other new warning. flagged or ±: a swatch is off by more than 3, and a flag or ± says so.
        """
        if self.bad.failure:
            return "refused"
        off = any(p.error["reader"] > FAR for p in self.bad.matched)
        new = self.new_warnings
        if new:
            return "warned rightly" if off or self.shifted or new & NAMES.get(self.kind, set()) else "warned wrongly"
        if self.shifted or silent_swatches(self.bad):
            return "silent"
        return "flagged or ±" if off else "right"


def misplaced(photo):
    return photo.placed < len(photo.matched)


def silent_swatches(photo):
    """Swatches off by more than 3 and by more than twice their stated uncertainty, with no flag of quality."""
    return [p for p in photo.matched if p.error["reader"] > max(FAR, 2 * p.u) and not p.doubted]


def differences(clean, bad):
    """Factors of a spoiled photo's spec that are not the clean one's: (name, value)."""
    values = ((f.name, getattr(clean, f.name), getattr(bad, f.name)) for f in fields(clean))
    return [(name, f"{now:.2f}" if isinstance(now, float) else now) for name, then, now in values if now != then]


# --- tables


def outcome_table(pairs):
    """Text of the outcomes by kind; photos whose clean reading fails do not count."""
    rows = []
    for kind in dict.fromkeys(p.kind for p in pairs):
        some = [p for p in pairs if p.kind == kind and not p.clean.failure]
        count = Counter(p.outcome for p in some)
        share = f"{count['silent'] / len(some):.0%}" if some else ""
        false = sum(max(p.bad.false - p.clean.false, 0) for p in some)
        rows.append([kind, len(some), *(count[name] for name in OUTCOMES), share, false])
    return aligned(rows, ["fault", "photos", *OUTCOMES, "silent", "false swatches"])


def warning_table(pairs):
    """Text of the codes of new warnings and of refusals by kind."""
    rows = []
    for kind in dict.fromkeys(p.kind for p in pairs):
        some = [p for p in pairs if p.kind == kind and not p.clean.failure]
        codes = Counter(code for p in some for code in p.new_warnings)
        codes.update(f"refused: {p.bad.failure}" for p in some if p.bad.failure)
        rows.append([kind, "  " + ", ".join(f"{code} {n}" for code, n in codes.most_common())])
    return aligned(rows, ["fault", "  new warnings, refusals"])


def silent_table(pairs):
    """One line for each silent photo: its seed, the fault's strength, and its worst swatch."""
    rows = []
    for pair in pairs:
        if pair.clean.failure or pair.outcome != "silent":
            continue
        spec, bad = pair.bad.spec, silent_swatches(pair.bad)
        about = f"{spec.light}, {spec.under} {spec.sheet if spec.under == 'sheet' else spec.table}, {spec.ground} card"
        about += "".join(f", {name}={value}" for name, value in differences(pair.clean.spec, spec))
        worst = max(bad, key=lambda p: p.error["reader"], default=None)
        told = f"{worst.id} {worst.error['reader']:.1f} ± {worst.u:.1f}" if worst else ""
        rows.append([f"{pair.kind} {spec.seed}", len(bad), told, "shifted" if pair.shifted else "", "  " + about])
    return aligned(rows, ["silent", "swatches", "worst", "ids", ""]) if rows else ""


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
            error, u = np.array([p.error["reader"] for p in some]), np.array([p.u for p in some])
            silent = np.mean([e > max(FAR, 2 * x) and not p.doubted for e, x, p in zip(error, u, some, strict=True)])
            rows.append(
                [f"{title}: {group}" if group else title, *spread(error, u), f"{np.median(u):.2f}", f"{silent:.1%}"]
            )
    return aligned(rows, ["clean photos", "swatches", "median", "95th", "≤ 1 u", "≤ 2 u", "median ±", "silent"])


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


# --- running


def _read_two_cards(made, path):
    """Read a photo of two cards: both count, and rows and columns are those of one card or of the other."""
    note = cache(read_note)
    first = read_photo(made, path, note)
    if first.failure:
        return first
    other = replace(made, scene=replace(made.scene, truth=replace(made.truth, swatches=made.truth.second_card)))
    second = read_photo(other, path, note)
    first.false += second.false - second.found
    first.paints, first.placed = first.paints + second.paints, max(first.placed, second.placed)
    return first


def measure_seed(task):
    """Read one ordinary photo and its spoiled versions: the clean record and the pairs."""
    seed, size, kinds, folder = task
    spec = ordinary_spec(seed, size)
    clean = read_photo(drawn(spec, folder))
    pairs = []
    for kind in kinds:
        made = drawn(spoiled(spec, kind), folder)
        path = spoiled_file(made.path, spec, kind)
        read = _read_two_cards if made.truth.second_card else read_photo
        pairs.append(Pair(kind, clean, read(made, path)))
    return clean, pairs


def main(arguments=None):
    parser = options("ordinary", __doc__, seeds=20, start=9000, size=(2400, 1800))
    parser.add_argument(
        "--kinds", default=",".join(KINDS), help="faults, comma-separated; empty for clean photos alone"
    )
    parser.add_argument("--jobs", type=int, default=1, choices=[1, 2])
    parser.add_argument("--save", type=Path, metavar="FILE", help="keep the record of the clean photos")
    parser.add_argument("--against", type=Path, metavar="FILE", help="compare the clean photos with a kept record")
    wanted = parser.parse_args(arguments)
    kinds = [kind for kind in wanted.kinds.split(",") if kind]
    if unknown := set(kinds) - set(KINDS):
        parser.error(f"no such fault: {', '.join(sorted(unknown))}; there are {', '.join(KINDS)}")
    with scene_folder(wanted.cache) as folder:
        tasks = [(seed, wanted.size, kinds, folder) for seed in seeds_of(wanted)]
        done = list(run_all(measure_seed, tasks, wanted.jobs))
    photos, pairs = [clean for clean, _ in done], [pair for _, some in done for pair in some]
    print(f"seeds {wanted.start} to {wanted.start + wanted.seeds - 1}, {wanted.size[0]}×{wanted.size[1]}\n")
    parts = [outcome_table(pairs), warning_table(pairs), silent_table(pairs)] if pairs else []
    parts += [clean_line(photos), clean_table(photos)]
    if wanted.against:
        parts.append(changes(json.loads(wanted.against.read_text(encoding="utf-8")), kept(photos)))
    print("\n\n".join(part for part in parts if part))
    if wanted.save:
        wanted.save.write_text(json.dumps(kept(photos)) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
