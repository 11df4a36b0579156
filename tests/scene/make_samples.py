"""Make the photos in samples/: `python -m tests.scene.make_samples [DIR]`. Everything on them is invented."""

import sys
from pathlib import Path

from . import SceneSpec, draw, save

_COMMON = {"palette": "six-tubes", "margin": 0.7, "denoise": 0.8, "quality": 91}

SAMPLES = {
    "white-card": SceneSpec(
        seed=1611,
        **_COMMON,
        title="sitter k  16.11.",
        chart_turn=-1.5,
        card_turn=1.2,
        tilt=8.0,
        tilt_direction=70.0,
        chart_fraction=0.29,
        fall_off=0.12,
        exposure=-0.15,
        tubes=2,
        brushes=1,
    ),
    "grey-card": SceneSpec(
        seed=1612,
        **_COMMON,
        title="sitter r",
        ground="grey",
        rows=7,
        columns=2,
        shape="square",
        chart_side="left",
        chart_turn=2.0,
        card_turn=-2.2,
        tilt=12.0,
        tilt_direction=200.0,
        chart_fraction=0.33,
        light="D65",
        fall_off=0.22,
        fall_off_direction=200.0,
        exposure=-0.1,
        space="Display P3",
        table="dark",
        rag=True,
        brushes=2,
    ),
    "toned-card": SceneSpec(
        seed=1613,
        **_COMMON,
        title="evening  two sitters",
        ground="toned",
        rows=5,
        columns=4,
        missing=3,
        shape="smeared",
        writing="below",
        chart_side="left",
        chart_turn=1.0,
        card_turn=2.5,
        tilt=10.0,
        tilt_direction=300.0,
        chart_fraction=0.30,
        light="LED-B3",
        fall_off=0.15,
        exposure=-0.2,
        table="white",
        tubes=3,
    ),
    "tungsten-light": SceneSpec(
        seed=1614,
        **_COMMON,
        title="sitter k  by the lamp",
        chart_turn=-2.5,
        card_turn=3.0,
        tilt=14.0,
        tilt_direction=120.0,
        chart_fraction=0.28,
        light="A",
        fall_off=0.30,
        fall_off_shape="quadratic",
        fall_off_direction=40.0,
        exposure=-0.1,
        tone="phone-contrast",
        tubes=2,
        brushes=1,
    ),
}


def main():
    """Write each sample's photo and truth."""
    into = Path(sys.argv[1] if len(sys.argv) > 1 else "samples")
    into.mkdir(parents=True, exist_ok=True)
    for name, spec in SAMPLES.items():
        scene = draw(spec)
        path = save(scene, into / f"{name}.jpg")
        (into / f"{name}.truth.json").write_text(scene.truth.to_json() + "\n", encoding="utf-8")
        print(f"{path}  {path.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
