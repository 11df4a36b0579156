"""One photo read by the tool under test, held against the truth: plain records, one a photo."""

import time
from dataclasses import dataclass, field

import colour
import numpy as np

from tests.scene.spectra import delta_e_2000, xyz_of

from .matching import VISIBLE, match, rightly_placed

#: Flags that tell the painter not to trust a figure (the others speak of the run, not of the reading).
DOUBTS = frozenset({"clipped", "glint", "uneven", "shadow", "out_of_gamut", "near_ground", "small"})
CLIPPED = 0.02  # share of a patch or swatch above which the photo has not recorded it


@dataclass
class Paint:
    """One true swatch: what was read of it, and what others make of it.

    Attributes
    ----------
    id, lab, value : truth; value by ASTM D1535.
    flesh : a flesh or earth mixture.
    clipped : share of it that the photo could not record.
    read : (3,) CIELAB or None; with `u` (ΔE00), `u_lab` (3,), `value_read`, `flags`.
    error : ΔE00 by method, "reader" included.
    """

    id: str
    lab: np.ndarray
    value: float
    flesh: bool
    clipped: float
    read: np.ndarray | None = None
    u: float = np.nan
    u_lab: tuple = ()
    value_read: float = np.nan
    flags: tuple = ()
    error: dict = field(default_factory=dict)

    @property
    def doubted(self):
        return bool(DOUBTS.intersection(self.flags))


@dataclass
class Photo:
    """One photo's record.

    Attributes
    ----------
    spec : its factors.
    failure : the error's code, or "" when it was read.
    paints : the true swatches that can be seen.
    found, false, placed : counts of swatches read, read where none is, read in their right row and column.
    seconds : {"wall", "cpu"} of one reading after imports.
    library_missed : the library baseline's finder missed the chart.
    warnings : codes.
    fit : {"mean", "max", "cross_validated"} ΔE00 as the note says.
    """

    spec: object
    failure: str = ""
    paints: list = field(default_factory=list)
    found: int = 0
    false: int = 0
    placed: int = 0
    seconds: dict = field(default_factory=dict)
    library_missed: bool = False
    warnings: tuple = ()
    fit: dict = field(default_factory=dict)

    @property
    def matched(self):
        return [p for p in self.paints if p.read is not None]


def true_value(reflectance):
    """Munsell value by ASTM D1535, through colour-science's own inversion."""
    return float(colour.notation.munsell_value_ASTMD1535(100 * xyz_of(reflectance)[1]))


def read_photo(drawn, path=None, read=None):
    """Read a drawn scene and hold the note against its truth.

    Parameters
    ----------
    drawn : Drawn
    path : another file of the same scene; its JPEG by default
    read : callable path -> note; the tool's own by default

    Returns
    -------
    Photo
    """
    from swatchread.errors import SwatchreadError

    truth, photo = drawn.truth, Photo(drawn.spec)
    seen = [s for s in truth.swatches if s.contrast >= VISIBLE]
    photo.paints = [Paint(s.id, s.lab, true_value(s.reflectance), s.is_flesh_or_earth, s.clipped) for s in seen]
    wall, cpu = time.perf_counter(), time.process_time()
    try:
        note = (read or read_note)(path or drawn.path)
    except SwatchreadError as error:
        photo.failure = error.code
        return photo
    finally:
        photo.seconds = {"wall": time.perf_counter() - wall, "cpu": time.process_time() - cpu}
    _hold_against(photo, note, truth, seen)
    return photo


def read_note(path):
    from swatchread.reading import read_card

    return read_card(path).note


def read_notes(path):
    """Return the notes of all cards in a photo."""
    from swatchread.reading import read_cards

    return [reading.note for reading in read_cards(path)]


def _hold_against(photo, note, truth, seen):
    centres = np.array([np.mean(s.outline, axis=0) for s in note.swatches])
    everything = match(centres, truth.swatches)
    index = {s.id: k for k, s in enumerate(seen)}
    placed = [((note.swatches[i].row, note.swatches[i].column), j) for i, j in everything]
    photo.found, photo.false = len(note.swatches), len(note.swatches) - len(everything)
    photo.warnings = tuple(w.code for w in note.warnings)
    fit = note.chart.fit
    photo.fit = {"mean": fit.mean_de00, "max": fit.max_de00, "cross_validated": fit.cross_validated_de00}
    visible = [(read, j) for read, j in placed if truth.swatches[j].id in index]
    photo.placed = rightly_placed(visible, truth.swatches)
    for i, j in everything:
        if truth.swatches[j].id not in index:
            continue  # paint that the photo cannot tell from its ground: neither asked for nor held against
        paint, swatch = photo.paints[index[truth.swatches[j].id]], note.swatches[i]
        paint.read, paint.u = np.array(swatch.lab), swatch.uncertainty.de00
        paint.u_lab = (swatch.uncertainty.L, swatch.uncertainty.a, swatch.uncertainty.b)
        paint.value_read, paint.flags = swatch.value, tuple(swatch.flags)
        paint.error["reader"] = float(delta_e_2000(paint.read, paint.lab))
