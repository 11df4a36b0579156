"""Accuracy bench: `python -m tests.bench.accuracy --seeds 20 --kind colour --baseline --limits`.

Reads N simulated photos and prints how many were read, how far the colours are off, whether the stated uncertainty
holds, and what a library pipeline and the physical limits give on the very same swatches.
"""

import sys
from importlib import import_module

import numpy as np

from tests.scene.spectra import delta_e_2000

from .matching import radius_px
from .measure import read_photo
from .report import full_report
from .running import options, run_all, scene_folder, seeds_of
from .scenes import KINDS, drawn
from .tables import aligned, errors_of, quantiles


def measure_scene(spec, folder, *, baseline=False, limits=False, dng=False):
    """Draw, read and compare one scene.

    Returns
    -------
    Photo of the JPEG, and Photo of the raw file or None.
    """
    made = drawn(spec, folder)
    photo = read_photo(made)
    chosen = {p.id: p for p in photo.paints}
    swatches = [s for s in made.truth.swatches if s.id in chosen]
    labs = {}
    if baseline and swatches:
        from .baseline import library_reading

        labs, photo.seconds["library"] = library_reading(made, swatches, [radius_px(s) for s in swatches])
        photo.library_missed = labs["library"] is None
    if limits and swatches:
        from .limits import limits_of

        labs |= limits_of(made, swatches)
    for method, lab in labs.items():
        if lab is not None:
            for s, off in zip(swatches, delta_e_2000(lab, np.array([s.lab for s in swatches])), strict=True):
                chosen[s.id].error[method] = float(off)
    return photo, read_photo(made, made.dng()) if dng else None


def _job(task):
    spec, folder, options = task
    return measure_scene(spec, folder, **options)


def _wanted(arguments):
    parser = options("accuracy", __doc__, seeds=20, start=3000)
    parser.add_argument("--kind", choices=sorted(set(KINDS) - {"chartless"}), default="easy")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--by", default="", help="factors of the scene to break the figures down by, comma-separated")
    parser.add_argument("--baseline", action="store_true", help="the library baseline beside it")
    parser.add_argument("--limits", action="store_true", help="the limits of photo and camera beside it")
    parser.add_argument("--dng", action="store_true", help="the same scenes as raw files, too")
    parser.add_argument("--ablation", action="store_true", help="each step of the reader switched off in turn")
    return parser.parse_args(arguments)


def _dng_part(pairs):
    """Figures of the raw files against the JPEGs of the same scenes, on the swatches that both read."""
    rows, whole = [], []
    for photo, raw in pairs:
        both = [
            (a.error["reader"], b.error["reader"])
            for a, b in zip(photo.paints, raw.paints, strict=True)
            if a.read is not None and b.read is not None
        ]
        whole += both
        medians = [f"{x:.2f}" for x in np.median(both, axis=0)] if both else ["", ""]
        about = f"  {raw.spec.camera} {raw.spec.light} ISO {raw.spec.iso:.0f} {raw.spec.exposure:+.2f}"
        rows.append([raw.spec.seed, raw.failure or len(both), *medians, f"{raw.fit.get('mean', np.nan):.2f}", about])
    if not whole:
        return {}, "raw files: none read"
    jpeg, raw = np.array(whole).T
    quantile = [[name, len(e), *(f"{q:.2f}" for q in quantiles(e))] for name, e in (("jpeg", jpeg), ("dng", raw))]
    head = ["ΔE00 on swatches read in both", "n", "median", "90th", "95th"]
    per_scene = ["seed", "n", "jpeg", "dng", "dng's fit on the chart", ""]
    read = float(np.mean([not b.failure for a, b in pairs if not a.failure]))
    extra = {"raw files read, of the JPEGs read": read, "jpeg / dng, median": np.median(jpeg) / np.median(raw)}
    return extra, aligned(quantile, head) + "\n\n" + aligned(rows, per_scene)


def main(arguments=None):
    wanted = _wanted(arguments)
    import_module("swatchread.reading")  # so that wall times are after imports
    with scene_folder(wanted.cache) as folder:
        specs = [KINDS[wanted.kind](seed, wanted.size) for seed in seeds_of(wanted)]
        asked = {"baseline": wanted.baseline, "limits": wanted.limits, "dng": wanted.dng}
        pairs = list(run_all(_job, [(spec, folder, asked) for spec in specs], wanted.jobs))
        photos = [photo for photo, _ in pairs]
        extra, raw_text = _dng_part(pairs) if wanted.dng else ({}, "")
        print(f"{wanted.kind}, seeds {wanted.start} to {wanted.start + wanted.seeds - 1}, {wanted.size}\n")
        print(full_report(wanted.kind, photos, extra, [f for f in wanted.by.split(",") if f]))
        if raw_text:
            print("\n" + raw_text)
        if wanted.ablation:
            from .ablation import ablation_table

            print("\n" + ablation_table([drawn(spec, folder) for spec in specs]))
    return 0 if len(errors_of(photos, "reader")) else 1


if __name__ == "__main__":
    sys.exit(main())
