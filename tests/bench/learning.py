"""Home-made charts: `python -m tests.bench.learning`: cards read beside a learned strip and beside the classic chart.

A strip is learned from photos that show it beside the classic chart; then one card is shot twice in the same light,
once beside the classic chart and once beside the strip alone. One phone takes them all, as a painter's would, unless
told otherwise.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from tests.scene.spectra import delta_e_2000

from .measure import read_photo
from .running import options, scene_folder, seeds_of, size_of
from .scenes import KINDS, drawn
from .tables import aligned, honesty, misses

#: figure -> (lowest, highest) allowed.
TARGETS = {"strip / classic, median": (None, 1.5), "strip: inside 2 u": (0.9, None)}
SIZES = ((2, 6), (2, 8), (1, 12), (3, 6))
LEARNING_SEED = 50_000


@dataclass
class Learned:
    """One strip's record: what learning left on its chips, and the cards read beside it and beside the classic chart.

    `failure` is the code of the error that learning ended in, `photos` how many could be used; `chip_errors`, `chip_u`
    are CIEDE2000 by chip.
    """

    seed: int
    size: tuple
    failure: str = ""
    photos: int = 0
    chip_errors: np.ndarray = field(default_factory=lambda: np.zeros(0))
    chip_u: np.ndarray = field(default_factory=lambda: np.zeros(0))
    cards: dict = field(default_factory=dict)


#: What belongs to the phone rather than to the shot.
PHONE = ("camera", "tone", "saturation", "sharpening", "space", "quality", "vignetting")


def learning_specs(kind, seed, size, photos, strip, *, same_phone=True):
    """Specs of photos that show a strip beside the classic chart, each in another light and place."""
    card = KINDS[kind](seed, size)
    phone = {name: getattr(card, name) for name in PHONE} if same_phone else {}
    for k in range(photos):
        spec = replace(KINDS[kind](LEARNING_SEED + 10 * seed + k, size), **phone)
        yield replace(
            spec, card_seed=seed, rows=3, columns=3, missing=0, strip_beside=True, strip_size=strip, strip_seed=seed
        )


def learn_and_read(given, seed, folder):
    """Learn a strip and read a card beside it, as the arguments `given` say; returns a `Learned`."""
    from swatchread.chart.definition import load_chart
    from swatchread.custom_chart.strip_measurement import learn_strip, read_strip
    from swatchread.errors import SwatchreadError
    from swatchread.reading import read_card

    kind, size = given.kind, given.size
    strip = given.strip or SIZES[seed % len(SIZES)]
    record = Learned(seed, strip)
    specs = learning_specs(kind, seed, size, given.photos, strip, same_phone=not given.other_phones)
    shots = [drawn(spec, folder) for spec in specs]
    readings = []
    for shot in shots:
        try:
            readings.append(read_strip(shot.path, load_chart(), strip))
        except SwatchreadError as error:
            record.failure = error.code
    record.photos = len(readings)
    try:
        chart = learn_strip(readings, "mine", "classic24") if readings else None
    except SwatchreadError as error:
        chart, record.failure = None, error.code
    if chart is None:
        return record
    record.failure = ""
    record.chip_errors = delta_e_2000(chart.lab, shots[0].truth.strip_lab)
    record.chip_u = chart.de00
    card = KINDS[kind](seed, size)
    own = replace(card, chart_kind="strip", strip_size=strip, strip_seed=seed, chart_covered=0)
    record.cards["classic"] = read_photo(drawn(replace(card, chart_covered=0), folder))
    record.cards["strip"] = read_photo(drawn(own, folder), read=lambda path: read_card(path, chart).note)
    return record


def figures(records):
    """Summarise records; pooled over the cards that both charts read."""
    learned = [r for r in records if not r.failure]
    both = [r for r in learned if not any(c.failure for c in r.cards.values())]
    found = {"strips learned": len(learned) / len(records), "cards read by both": len(both)}
    chips = [pair for r in learned for pair in zip(r.chip_errors, r.chip_u, strict=True)]
    found |= honesty("chips", *np.reshape(chips, (-1, 2)).T)
    for name in ("classic", "strip"):
        paints = [p for r in both for p in r.cards[name].matched]
        found |= honesty(name, [p.error["reader"] for p in paints], [p.u for p in paints])
    return found | {"strip / classic, median": found["strip: median error"] / found["classic: median error"]}


def main():
    parser = options("learning", __doc__, seeds=12, start=8000, size=(2400, 1800))
    parser.add_argument("--kind", choices=("easy", "colour"), default="easy")
    parser.add_argument("--photos", type=int, default=3, help="photos a strip is learned from")
    parser.add_argument("--strip", type=size_of, metavar="ROWSxCOLUMNS", help="by default four sizes in turn")
    parser.add_argument("--other-phones", action="store_true", help="each photo that teaches is of another phone")
    given = parser.parse_args()
    with scene_folder(given.cache) as folder:
        records = [learn_and_read(given, seed, folder) for seed in seeds_of(given)]
    for r in records:
        cards = {n: c.failure or f"{np.median([p.error['reader'] for p in c.matched]):.2f}" for n, c in r.cards.items()}
        print(r.seed, r.size, r.failure or f"{r.photos} photos, chips {np.median(r.chip_errors):.2f}", cards)
    found = figures(records)
    print(aligned([[name, f"{value:.2f}"] for name, value in found.items()]))
    print("missed:", ", ".join(misses(found, TARGETS)) or "none")


if __name__ == "__main__":
    main()
