"""Simulated pairs of one card, read and compared with their truth."""

from __future__ import annotations

import hashlib
import pickle
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

import swatchread
from swatchread.comparison.anchoring import GROUND
from swatchread.comparison.pair import compare
from swatchread.errors import AnchorError, DifferentCardsError, SwatchreadError
from swatchread.reading import read_photo
from tests.bench.matching import match
from tests.bench.scenes import drawn
from tests.scene import pair_specs
from tests.scene.sampling import DAYLIGHT

SIZE = (2400, 1800)
LIGHT_AND_CAMERA = (
    "light", "second_light", "second_share", "white_balance", "white_balance_error", "exposure", "fall_off",
    "fall_off_shape", "tone", "saturation", "local_tone", "space", "quality", "iso", "denoise", "sharpening",
)  # fmt: skip
LIGHTS = ("same", "daylight", "lamp")
LAMPS = ("A", "B3200", "LED-B1", "LED-B3", "LED-B5", "LED-V1", "FL2", "FL11")
READING = ("photo", "colour", "chart", "card", "correction", "note")
UNCHANGED_L = 0.05
NEAR_GREY = 12.0  # chroma C*ab below which a mixture is a near-grey: Munsell chroma of about 2
ANCHORS = 4


@dataclass
class Shot:
    """One photo's note with its truth, or why it could not be read."""

    note: object = None
    truth: object = None
    why: str = ""

    def names(self):
        """Map the note's ids to the true ones, by place."""
        centres = [np.mean(swatch.outline, axis=0) for swatch in self.note.swatches]
        pairs = match(centres, self.truth.swatches)
        return {self.note.swatches[i].id: self.truth.swatches[j].id for i, j in pairs}


class Outcome(NamedTuple):
    """What a comparison said of one swatch, and what is true."""

    shift: float  # of L*
    chroma: float
    claimed: bool  # any verdict
    told: bool  # lighter or darker
    right: bool  # and with the right sign
    error: float  # of the change of L*
    u: float
    anchor_away: float  # CIELAB to the nearest anchor

    @property
    def near_grey(self):
        return self.chroma < NEAR_GREY


@dataclass
class Tally:
    """What many comparisons came to."""

    pairs: int = 0
    refused: list = field(default_factory=list)
    mismatched: int = 0
    widened: int = 0
    outcomes: list = field(default_factory=list)

    def part(self, wanted):
        """Return a tally of the swatches that something is true of."""
        return replace(self, outcomes=[one for one in self.outcomes if wanted(one)])

    @property
    def unchanged(self):
        return [one for one in self.outcomes if abs(one.shift) < UNCHANGED_L]

    @property
    def changed(self):
        return [one for one in self.outcomes if abs(one.shift) >= UNCHANGED_L]

    @property
    def false(self):
        """How many unchanged swatches have a verdict."""
        return sum(one.claimed for one in self.unchanged)

    @property
    def false_share(self):
        return self.false / max(len(self.unchanged), 1)

    @property
    def told(self):
        """How many changed swatches are called lighter or darker."""
        return sum(one.told for one in self.changed)

    @property
    def told_share(self):
        return self.told / max(len(self.changed), 1)

    @property
    def wrong_sign(self):
        return sum(one.told and not one.right for one in self.changed)

    @property
    def median_error(self):
        return float(np.median([abs(one.error) for one in self.outcomes])) if self.outcomes else float("nan")

    @property
    def standardised(self):
        return float(np.sqrt(np.mean(self._ratios() ** 2))) if self.outcomes else float("nan")

    def inside(self, times):
        """Return the share of errors of L* inside so many stated uncertainties."""
        return float(np.mean(self._ratios() <= times)) if self.outcomes else float("nan")

    def _ratios(self):
        return np.array([abs(one.error) / one.u for one in self.outcomes])


def pooled(tallies):
    """Return one tally of several."""
    tallies = list(tallies)
    return Tally(
        pairs=sum(t.pairs for t in tallies),
        refused=[why for t in tallies for why in t.refused],
        mismatched=sum(t.mismatched for t in tallies),
        widened=sum(t.widened for t in tallies),
        outcomes=[one for t in tallies for one in t.outcomes],
    )


def shoot(spec, folder):
    """Draw, save and read one photo, or take the reading from the folder when this very reader has made it before."""
    made = drawn(spec, folder)
    kept = made.path.with_suffix(f".{_reader()}.pickle")
    if not kept.exists():
        try:
            shot = Shot(read_photo(made.path), made.truth)
        except SwatchreadError as error:
            shot = Shot(why=str(error))
        part = kept.with_suffix(".part")
        part.write_bytes(pickle.dumps(shot))
        part.replace(kept)
    return pickle.loads(kept.read_bytes())  # noqa: S301 - our own file


@cache
def _reader():
    """Digest of the source and the data that a reading depends on: what comes after it may change."""
    house = Path(swatchread.__file__).parent
    digest = hashlib.sha256()
    files = [path for room in READING for path in (house / room).rglob("*.py")]
    data = [path for path in (house.parent / "calibration").iterdir() if path.suffix in {".json", ".csv", ".npy"}]
    for path in sorted([house / "reading.py", *files, *data]):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def pair_of(seed, shift, *, light="same", chart=1.0, size=SIZE):
    """Return the specs of a pair.

    Parameters
    ----------
    seed : int
    shift : float
        Of L*, of half the swatches.
    light : {"same", "daylight", "lamp"}
        The same light and rendering in both photos, so that only the angle, the places and the noise differ; daylight
        in both, but another one, rendered otherwise; or daylight first and a lamp later.
    chart : float
        Size of the later photo's chart over that of the first: another print of the same colours.
    size : (int, int)
        Of the photos, px.
    """
    rng = np.random.default_rng([seed, 2021])
    before, after = pair_specs(seed, shift, size)
    if light == "same":
        after = replace(after, **{name: getattr(before, name) for name in LIGHT_AND_CAMERA})
    else:
        first, *others = rng.permutation(DAYLIGHT).tolist()
        before = replace(before, light=before.light if before.light in DAYLIGHT else first)
        others = [name for name in (first, *others) if name != before.light]
        after = replace(after, light=others[0] if light == "daylight" else str(rng.choice(LAMPS)))
    return before, replace(after, cell_pitch=after.cell_pitch / chart)


def true_changes(before, after):
    """Map the first note's ids to the true change in CIELAB."""
    first = {s.id: s.lab for s in before.truth.swatches}
    second = {s.id: s.lab for s in after.truth.swatches}
    return {mine: second[name] - first[name] for mine, name in before.names().items()}


def unchanged_anchors(before, after, count=ANCHORS):
    """Name unchanged swatches, dark to light, as a painter's old row; ids of the first note."""
    names, later = before.names(), set(after.names().values())
    true = true_changes(before, after)
    fit = [s for s in before.note.swatches if s.id in true and names[s.id] in later]
    still = sorted((s.lab[0], s.id) for s in fit if abs(true[s.id][0]) < UNCHANGED_L)
    if not still:
        return ()
    return tuple(still[k][1] for k in np.unique(np.linspace(0, len(still) - 1, count).astype(int)))


def count(tally, before, after, anchors=()):
    """Compare a pair and add the outcome to a tally."""
    try:
        result = compare(before.note, after.note, anchors)
    except (DifferentCardsError, AnchorError) as error:
        tally.refused.append(str(error))
        return
    tally.pairs += 1
    tally.widened += any("widened" in remark for remark in result.remarks)
    true, names, later = true_changes(before, after), before.names(), after.names()
    chroma = {s.id: float(np.hypot(*s.lab[1:])) for s in before.truth.swatches}
    known = [before.note.card.ground.lab if name == GROUND else before.note.swatch(name).lab for name in result.anchors]
    for change in result.changes:
        if change.anchor or change.id not in true:
            continue
        if later.get(change.id_after) != names[change.id]:
            tally.mismatched += 1
            continue
        shift = float(true[change.id][0])
        word = next((w for w in change.words if w in ("lighter", "darker")), "")
        tally.outcomes.append(
            Outcome(
                shift=shift,
                chroma=chroma[names[change.id]],
                claimed=bool(change.words),
                told=bool(word),
                right=bool(word) and (word == "lighter") == (shift > 0),
                error=change.L.by - shift,
                u=change.L.u,
                anchor_away=_nearest(change.before, known),
            )
        )


def _nearest(lab, known):
    return float(np.linalg.norm(np.subtract(lab, known), axis=1).min()) if known else np.inf
