"""What several photos of one card come to when they are fused: `python -m tests.bench.fusing --cards 16`.

Each seed gives one card, shot several times with one camera in other light, from other angles and with other rendering
(or, with --like-light, in the same light: then only the angle, the places and the noise differ). All shots are read and
fused; errors are CIEDE2000 from the true colours, on the swatches that the fused note holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from swatchread.comparison.fusion import fuse
from swatchread.errors import DifferentCardsError
from tests.bench.pairs import LIGHT_AND_CAMERA, SIZE, Shot, shoot
from tests.bench.running import options, scene_folder, seeds_of
from tests.bench.tables import aligned, honesty
from tests.scene import shot_specs
from tests.scene.spectra import delta_e_2000

FIRST = 23000


@dataclass
class Card:
    """One card: errors of its single readings and of the fused one, with their stated uncertainties."""

    seed: int
    why: str = ""
    single: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))
    fused: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))
    false: int = 0
    left_out: int = 0
    warnings: tuple = ()


def errors_of(shot):
    """Return (n, 2): error and stated uncertainty of each reading, and how many are of no true swatch."""
    names, truth = shot.names(), {s.id: s.lab for s in shot.truth.swatches}
    known = [s for s in shot.note.swatches if s.id in names]
    pairs = [(float(delta_e_2000(s.lab, truth[names[s.id]])), s.uncertainty.de00) for s in known]
    return np.array(pairs).reshape(-1, 2), len(shot.note.swatches) - len(known)


def specs_of(seed, count, *, like_light, size):
    first, *others = shot_specs(seed, count, size)
    if like_light:
        others = [replace(o, **{name: getattr(first, name) for name in LIGHT_AND_CAMERA}) for o in others]
    return [first, *others]


def measure(seed, count, folder, *, like_light=False, size=SIZE):
    """Shoot one card several times, read, fuse and hold against the truth."""
    shots = []
    for k, spec in enumerate(specs_of(seed, count, like_light=like_light, size=size)):
        shot = shoot(spec, folder)
        if shot.note is not None:
            shot.note = shot.note.model_copy(update={"photo": shot.note.photo.model_copy(update={"file": f"{k}.jpg"})})
            shots.append(shot)
    if len(shots) < 2:
        return Card(seed, "fewer than two could be read")
    try:
        note = fuse([shot.note for shot in shots])
    except DifferentCardsError as error:
        return Card(seed, str(error))
    best = next(shot for shot in shots if shot.note.photo.sha256 == note.photo.sha256)
    fused, false = errors_of(Shot(note, best.truth))
    return Card(
        seed,
        single=np.concatenate([errors_of(shot)[0] for shot in shots]),
        fused=fused,
        false=false,
        left_out=sum(bool(photo.left_out) for photo in note.photos),
        warnings=tuple(warning.code for warning in note.warnings),
    )


def figures(cards):
    """Return the figures over all cards as a dict."""
    single, fused = (np.concatenate([getattr(card, name) for card in cards]) for name in ("single", "fused"))
    found = honesty("single", *single.T) | honesty("fused", *fused.T)
    return found | {
        "ratio": found["fused: median error"] / found["single: median error"],
        "ratio of means": float(fused[:, 0].mean() / single[:, 0].mean()),
        "ratio of 95th percentiles": found["fused: 95 %"] / found["single: 95 %"],
        "median u, single": float(np.median(single[:, 1])),
        "median u, fused": float(np.median(fused[:, 1])),
        "swatches": len(fused),
        "false": sum(card.false for card in cards),
        "photos left out": sum(card.left_out for card in cards),
    }


def run(seeds, count, *, like_light=False, size=SIZE, cache=None):
    with scene_folder(cache) as folder:
        return [measure(seed, count, folder, like_light=like_light, size=size) for seed in seeds]


def _line(card):
    medians = [f"{np.median(errors[:, 0]):.2f}" if len(errors) else "" for errors in (card.single, card.fused)]
    return [card.seed, len(card.fused), *medians, card.why or " ".join(card.warnings)]


def main():
    parser = options("fusing", __doc__, seeds=8, start=FIRST, size=SIZE)
    parser.add_argument("--shots", type=int, default=5, help="photos of each card")
    parser.add_argument("--like-light", action="store_true", help="all shots of a card in one light")
    wanted = parser.parse_args()
    given = {"like_light": wanted.like_light, "size": wanted.size, "cache": wanted.cache}
    cards = run(seeds_of(wanted), wanted.shots, **given)
    print(aligned(map(_line, cards), ["seed", "swatches", "single", "fused", "refused, or its warnings"]))
    fine = [card for card in cards if not card.why]
    print(f"\n{len(fine)} cards of {wanted.shots} photos, {len(cards) - len(fine)} refused")
    for name, value in figures(fine).items():
        print(f"{name:28s} {value:.3f}" if isinstance(value, float) else f"{name:28s} {value}")


if __name__ == "__main__":
    main()
