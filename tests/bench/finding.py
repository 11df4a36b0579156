"""Finding bench: `python -m tests.bench.finding --seeds 200 --chartless 100 --library`.

How often chart and swatches are found, by every factor of the scene, next to the library's finder on the same photos.
"""

import sys

import numpy as np

from . import finder_ablation
from .locate import locate
from .running import options, run_all, scene_folder, seeds_of
from .scenes import KINDS, drawn
from .tables import aligned, bins, judged

#: figure -> (lowest, highest) allowed.
TARGETS = {
    "chart right": (0.98, None),
    "false finds without chart": (None, 0.01),
    "swatch recall": (0.985, None),
    "false swatches": (None, 0.01),
    "right row and column": (0.98, None),
}
#: Factors of a spec by which the figures are broken down.
FACTORS = (
    "tilt", "chart_fraction", "chart_turn", "card_turn", "ground", "palette", "shape", "fill", "rows", "columns",
    "missing", "two_blocks", "writing", "pencil_frames", "tape", "torn", "margin", "exposure", "light",
    "white_balance", "second_light", "fall_off", "shadow", "chart_covered", "chart_glare", "second_chart", "table",
    "defocus", "motion", "distortion", "camera",
)  # fmt: skip


def rates(places):
    """Figures over some scenes with charts: shares, and how many scenes and swatches they rest on."""
    there, matched = sum(p.there for p in places), sum(p.matched for p in places)
    found = sum(p.found for p in places)
    return {
        "chart right": np.mean([p.chart == "right" for p in places]),
        "chart right or off": np.mean([p.chart in ("right", "off") for p in places]),
        "swatch recall": matched / max(there, 1),
        "false swatches": sum(p.false for p in places) / max(found, 1),
        "right row and column": sum(p.placed for p in places) / max(matched, 1),
        "library": np.mean([p.library in ("right", "off") for p in places]) if places[0].library else np.nan,
    }


def factor_table(places):
    """Text of the rates by every factor."""
    rows = []
    for factor in FACTORS:
        found = bins(places, factor)
        if len(found) < 2:
            continue
        rows.append([factor])
        for name, some in found:
            made = rates(some)
            library = [] if np.isnan(made.pop("library")) else [f"{rates(some)['library']:.0%}"]
            rows.append([f"   {name}", len(some), *(f"{v:.1%}" for v in made.values()), *library])
    head = ["", "scenes", "chart", "roughly", "recall", "false", "placed", "library (rough)"]
    return aligned(rows, head)


def summary(places, chartless):
    """Text of the headline figures beside their targets."""
    made = rates(places) if places else {}
    if chartless:
        made["false finds without chart"] = np.mean([p.chart == "false" for p in chartless])
        if chartless[0].library:
            made["the library's false finds"] = np.mean([p.library == "false" for p in chartless])
    rows = judged(made, TARGETS, lambda _, x: f"{x:.1%}")
    for name in ("load", "chart", "card", "wall", "library"):
        times = [p.seconds[name] for p in places if name in p.seconds]
        if times:
            unit = "wall, chart and card" if name == "wall" else f"CPU, {name}"
            rows.append([f"seconds ({unit})", f"{np.median(times):.2f}", "≤ 0.4 s" if name == "wall" else "", ""])
    return aligned(rows, ["figure", "measured", "target", ""])


def failures(places, chartless):
    """One line for each scene in which something went wrong."""
    rows = [_line(p, "false find") for p in chartless if p.chart == "false"]
    for p in places:
        if p.chart != "right" or p.card != "read" or p.lost or p.false or p.placed != p.matched:
            found = f"{p.matched}/{p.there} +{p.false} false, {p.matched - p.placed} misplaced"
            rows.append(_line(p, f"chart {p.chart} {p.corner_error:.2f}, card {p.card}: {found}"))
    return aligned(rows) if rows else "nothing went wrong"


def _line(p, what):
    s = p.spec
    about = (
        f"tilt {s.tilt:.0f} chart {p.truth.chart_fraction:.2f} turn {s.chart_turn:.0f} {s.ground} {s.palette} "
        f"{s.shape} {s.rows}×{s.columns} fill {s.fill:.2f} margin {s.margin} {s.light}/{s.white_balance} "
        f"{s.exposure:+.1f} EV shadow:{s.shadow} {s.table} blur {s.defocus:.1f}/{s.motion:.1f}"
    )
    marks = ("torn", "tape", "pencil_frames", "two_blocks", "second_chart", "missing", "chart_covered", "chart_glare",
             "second_light", "tubes", "rag", "glints")  # fmt: skip
    about += "".join(f" {m}:{getattr(s, m)}" for m in marks if getattr(s, m))
    return [s.seed, f"  {what}", f"  {about}"]


def _job(task):
    spec, folder, options = task
    return locate(drawn(spec, folder), **options)


def _ablation_job(task):
    spec, folder, groups = task
    return finder_ablation.outcomes(drawn(spec, folder), groups)


def _ablation(wanted):
    """Print what every rule of the card finder is worth."""
    groups = finder_ablation.chosen_groups(wanted.only.split(",") if wanted.only else None)
    with scene_folder(wanted.cache) as folder:
        tasks = [(KINDS["finding"](seed, wanted.size), folder, groups) for seed in seeds_of(wanted)]
        results = [found for found in run_all(_ablation_job, tasks, wanted.jobs) if found is not None]
    print(finder_ablation.report(results))
    return 0


def main(arguments=None):
    parser = options("finding", __doc__, seeds=40, start=3000)
    parser.add_argument("--chartless", type=int, default=20, help="how many without")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--library", action="store_true", help="the library's finder beside it")
    parser.add_argument("--ablation", action="store_true", help="the card finder with its rules off, one by one")
    parser.add_argument("--only", metavar="RULE,RULE", help="these rules alone and together")
    wanted = parser.parse_args(arguments)
    if wanted.ablation:
        return _ablation(wanted)
    with scene_folder(wanted.cache) as folder:
        tasks = [
            (KINDS[kind](wanted.start + k, wanted.size), folder, {"library": wanted.library})
            for kind, count in (("finding", wanted.seeds), ("chartless", wanted.chartless))
            for k in range(count)
        ]
        located = list(run_all(_job, tasks, wanted.jobs))
    places = [p for p in located if p.spec.chart_present]
    chartless = [p for p in located if not p.spec.chart_present]
    print(f"seeds from {wanted.start}: {len(places)} scenes with a chart, {len(chartless)} without, {wanted.size}\n")
    print(
        "\n\n".join([summary(places, chartless), factor_table(places) if places else "", failures(places, chartless)])
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
