"""Simulated pairs of one card, read and compared with their truth."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

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
UNCHANGED_L = 0.05
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


@dataclass
class Tally:
    """What many comparisons came to."""

    pairs: int = 0
    refused: list = field(default_factory=list)
    unchanged: int = 0
    false: int = 0
    changed: int = 0
    detected: int = 0
    wrong_sign: int = 0
    mismatched: int = 0
    strained: int = 0
    errors: list = field(default_factory=list)
    """Error of L*, its stated uncertainty, and how far in CIELAB the nearest anchor is."""

    @property
    def false_share(self):
        return self.false / max(self.unchanged, 1)

    @property
    def detected_share(self):
        return self.detected / max(self.changed, 1)

    @property
    def median_error(self):
        return float(np.median(np.abs([e for e, *_ in self.errors]))) if self.errors else float("nan")

    @property
    def standardised(self):
        return float(np.sqrt(np.mean(self._ratios() ** 2))) if self.errors else float("nan")

    def inside(self, times):
        """Return the share of errors of L* inside so many stated uncertainties."""
        return float(np.mean(self._ratios() <= times)) if self.errors else float("nan")

    def _ratios(self):
        error, u = np.array(self.errors)[:, :2].T
        return np.abs(error) / u


def shoot(spec, folder):
    """Draw, save and read one photo."""
    made = drawn(spec, folder)
    try:
        return Shot(read_photo(made.path), made.truth)
    except SwatchreadError as error:
        return Shot(why=str(error))


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
    tally.strained += any("widened" in remark for remark in result.remarks)
    true, names, later = true_changes(before, after), before.names(), after.names()
    known = [before.note.card.ground.lab if name == GROUND else before.note.swatch(name).lab for name in result.anchors]
    for change in result.changes:
        if change.anchor or change.id not in true:
            continue
        if later.get(change.id_after) != names[change.id]:
            tally.mismatched += 1
            continue
        shift = float(true[change.id][0])
        word = next((w for w in change.words if w in ("lighter", "darker")), "")
        far = min((float(np.linalg.norm(np.subtract(change.before, lab))) for lab in known), default=np.inf)
        tally.errors.append((change.L.by - shift, change.L.u, far))
        if abs(shift) < UNCHANGED_L:
            tally.unchanged += 1
            tally.false += bool(change.words)
        else:
            tally.changed += 1
            tally.detected += bool(word)
            tally.wrong_sign += bool(word) and (word == "lighter") != (shift > 0)
