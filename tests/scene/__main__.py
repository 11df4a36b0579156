"""Write simulated photos and their truth: `python -m tests.scene --kind easy --seed 3 --out DIR`."""

import argparse
from pathlib import Path

from . import chartless_spec, colour_spec, draw, easy_spec, faults, finding_spec, ordinary_spec, save, save_dng
from .samples import SAMPLES

_KINDS = {
    "easy": easy_spec,
    "finding": finding_spec,
    "chartless": chartless_spec,
    "colour": colour_spec,
    "ordinary": ordinary_spec,
}


def _specs(wanted):
    """Specs by the name of the file."""
    if wanted.kind == "samples":
        return SAMPLES
    size = (wanted.width, wanted.width * 3 // 4)
    specs = {f"{wanted.kind}-{seed}": _KINDS[wanted.kind](seed, size) for seed in wanted.seed}
    if wanted.fault is None:
        return specs
    return {f"{name}-{wanted.fault}": faults.spoiled(spec, wanted.fault) for name, spec in specs.items()}


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.scene", description=__doc__.split(":")[0])
    parser.add_argument("--kind", choices=[*sorted(_KINDS), "samples"], default="easy")
    parser.add_argument("--fault", choices=[*faults.FAULTS, *faults.LAMPS], help="spoil it so")
    parser.add_argument("--seed", type=int, nargs="+", default=[0])
    parser.add_argument("--out", type=Path, default=Path())
    parser.add_argument("--suffix", choices=["jpg", "png", "dng"], default="jpg")
    parser.add_argument("--width", type=int, default=4032, help="photo width in px; the height is three quarters")
    wanted = parser.parse_args()
    wanted.out.mkdir(parents=True, exist_ok=True)
    for name, spec in _specs(wanted).items():
        scene = draw(spec)
        path = wanted.out / f"{name}.{wanted.suffix}"
        (save_dng if wanted.suffix == "dng" else save)(scene, path)
        path.with_suffix(".truth.json").write_text(scene.truth.to_json() + "\n", encoding="utf-8")
        print(path)


if __name__ == "__main__":
    main()
