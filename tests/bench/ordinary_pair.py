"""One photo with and without an ordinary fault, and what the reader made of it."""

from dataclasses import dataclass, fields

from tests.scene.faults import LAMPS

from .measure import Photo
from .tables import FAR

_LIGHT = {"shadow_edge", "light_uneven", "too_light", "other_light", "ground_differs"}
_CHART = {"poor_fit", "chart_doubtful", "ground_differs"}
#: The codes of the warnings that name each fault; any other tells the painter to mend what is not broken.
NAMES = {
    "shade-on-card": _LIGHT,
    "shade-on-chart": _LIGHT,
    "tinted-shade": _LIGHT | {"mixed_light"},
    "local-tone": {"light_uneven", "local_tone", "composed"},
    "cut": {"card_cut"},
    "two-cards": {"second_card"},
    "faded": _CHART,
    "yellowed": _CHART,
    "copy": _CHART,
    "large-chart": _CHART,
    "overlay": {"chart_covered"},
    "bit": {"photo_damaged"},
    "short-jpeg": {"photo_damaged"},
    "short-tiff": {"photo_damaged"},
    **{kind: {"odd_light"} for kind in LAMPS},
}
#: Largest share of silent photos of a kind.
SILENT_AT_MOST = 0.05
OUTCOMES = ("silent", "refused", "warned rightly", "warned wrongly", "flagged or ±", "right")


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
    def judged(self):
        """Swatches of the spoiled photo but for those that are silently wrong on the clean one; under a lamp all."""
        before = [(p.id, *p.lab) for p in silent_swatches(self.clean) if self.kind not in LAMPS]
        return [p for p in self.bad.matched if (p.id, *p.lab) not in before]

    @property
    def silent(self):
        """Swatches that the fault makes silently wrong."""
        return [p for p in self.judged if is_silent(p)]

    @property
    def outcome(self):
        """One of `OUTCOMES`.

        silent: a swatch is wrong and carries no flag, or ids are shifted, and no warning is new. warned rightly, warned
        wrongly: a new warning names the fault, or none does. flagged or ±: a swatch is off by more than 3, and a flag
        or ± says so.
        """
        if self.bad.failure:
            return "refused"
        if self.new_warnings:
            return "warned rightly" if self.new_warnings & NAMES.get(self.kind, set()) else "warned wrongly"
        if self.shifted or self.silent:
            return "silent"
        return "flagged or ±" if any(p.error["reader"] > FAR for p in self.judged) else "right"


def misplaced(photo):
    return photo.placed < len(photo.matched)


def is_silent(paint):
    """Whether a swatch is off by more than 3 and by more than twice its stated uncertainty, with no flag of quality."""
    return paint.error["reader"] > max(FAR, 2 * paint.u) and not paint.doubted


def silent_swatches(photo):
    return [p for p in photo.matched if is_silent(p)]


def differences(clean, bad):
    """Factors of a spoiled photo's spec that are not the clean one's: (name, value)."""
    values = ((f.name, getattr(clean, f.name), getattr(bad, f.name)) for f in fields(clean))
    return [(name, f"{now:.2f}" if isinstance(now, float) else now) for name, then, now in values if now != then]
