"""The light on the card: as the correction has it, or as the witnesses in the photo have it.

The ground shows how the light varies over the card, and the chart's patches how it varies over the chart. A shadow that
ends between the two shows on neither. What tells of it is the surface under both, and a second chart beside the card.
Where they say that the card lies in other light, and no other surface could look like that, the light is evened out.
Where another surface could, the difference enters the uncertainty. Without any witness the uncertainty holds a shadow
that takes a third of the light, less beside white paper, and grows with the distance from the chart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from swatchread.chart.patch_sampling import ChartSample
from swatchread.colour.cielab import Floats, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.light_field import LEAST_GROUND
from swatchread.correction.light_on_card import CardLight
from swatchread.correction.light_witness import RingLight, Witness, ask_surface
from swatchread.photo.encoded_photo import RingSamples, Samples

_DIFFERS, _DIFFERS_SIGMAS = 0.09, 2.5
"""A witness speaks of other light above this log light, and above so many of its standard errors. On 28 simulated
photos without a shadow between card and chart it stayed below 0.087; of 139 with one that takes 15 to 50 % of the light
it told 138."""

_TWO_LIGHTS = 0.045
"""Standard error, log light, from which the surface lies in two lights or more: no shift fits all of it. Without a
shadow it was at most 0.04 on the same photos."""

_TEXTURED = 0.035
"""Spread of the log brightness of a surface from which no other surface looks the same: plain sheets have less."""

_PAPER, _MOST_LIGHT, _NEUTRAL = (91.0, 99.5), 100.5, 8.0
"""L* of white papers, the L* that no ground reaches, and chroma up to which a ground counts as white paper (common
practice: artists' papers and primed boards)."""

_SHADED, _LIGHTEST_PAPER = (62.0, 88.0), 99.0
"""L* between which a neutral ground may be white or cream paper in 0.5 to 0.85 of the light, and L* that hardly any
reaches."""

_BLUE, _WHITISH = -4.5, 80.0
"""b* below which no white paper comes out, and L* from which a ground or a sheet counts as white: brightened papers
reach about -4 (common practice). By charts yellowed by 3.5 to 5.5 CIEDE2000 simulated white paper read -8 to -20."""

_BLUE_DOUBT = 0.05
"""Standard deviation of the log light where white paper comes out blue."""

_UNSEEN, _WHITE_SEEN, _ODD = 0.2, 0.06, 0.25
"""Standard deviation of the log light where nothing but the ground tells of it. Twice the first is a shadow that takes
a third; white papers, L* 91 to 99, differ by about the second. A ground that may be white paper in the shade has the
last, because a shadow takes 15 to 50 %."""

_ALIKE, _NEIGHBOURS, _MOSTLY, _NEARLY_ALL = 0.04, 13, 0.8, 0.9
"""A place beside the card shows the card itself, whose rim was not seen, if most of so many places about it have the
ground's colour, within this log of each tristimulus value. If nearly all have it, the card lies on its own kind."""

_EVENED, _EVENED_ANYWAY = 0.08, 0.02
"""Share of a difference, and log light, that stay in doubt once it is evened out: the rings also show some of the other
light. On the same photos half of the errors were below 0.018, nine in ten below 0.046."""

_EITHER = 0.6
"""Share of a difference that stays in doubt where it is another light or another surface: all of it, or nothing."""

_DEEPEST = 0.8
"""Log light beyond which a plain or tinted surface that no paper speaks for is another one: shadows take up to half
(common practice; log 2 is 0.69)."""

_UNPROVEN = 0.02
"""Standard deviation of the log light one pitch from the chart where nothing shows the light between: about 3 % at a
hand's breadth. Its square grows with the distance."""

_DARKEST = 0.03
"""Luminance factor below which a patch of a second chart is too dark to show the light."""

_CHART_ERROR = 0.01
"""Standard error that stays in the mean log brightness of a second chart: two charts differ by so much (common
practice)."""

_CHART_MISFIT = 0.12
"""Spread of the log brightness over a second chart's patches above which it is another chart, or half in the shade."""


def witness_card_light(
    calibration: Calibration,
    swatches: Floats,
    beside: tuple[RingSamples, RingSamples],
    others: Sequence[ChartSample] = (),
) -> Calibration:
    """Return a calibration with the light on the card as the witnesses have it.

    Parameters
    ----------
    calibration : Calibration
    swatches : ndarray, shape (n, 2)
        Their middles, photo pixels.
    beside : (RingSamples, RingSamples)
        The surface beside the card and beside the chart.
    others : sequence of ChartSample
        Further charts in the photo.

    Returns
    -------
    Calibration
    """
    places = np.concatenate([swatches, calibration.ground_points])
    surface = ask_surface(_rings(calibration, places, beside))
    calibration = _doubt_blue_paper(calibration, beside[1].samples)
    charts = [w for w in (_ask_chart(calibration, other, places) for other in others) if w is not None]
    contradicted = surface is not None and _contradicts_ground(calibration, surface)
    witnesses = [*charts, *([] if surface is None or contradicted else [surface])]
    if not witnesses:
        return _without_witness(calibration, contradicted=contradicted)
    if len(calibration.ground_points) < LEAST_GROUND:  # the light is not followed over the card
        light = replace(calibration.card_light, doubt_per_pitch=_UNPROVEN)
        calibration = replace(calibration, card_light=light)
    told = [w for w in witnesses if w.tinted or _tells(w)]
    if not told:
        return calibration
    torn = [max((w.low, w.high), key=abs) for w in told if w.tinted or w.error > _TWO_LIGHTS]
    if torn:
        return _with_light(calibration, differs=torn[0], doubt=_EITHER * abs(torn[0]))
    weight = np.array([w.error**-2 for w in told])
    shift = float(weight @ [w.shift for w in told] / weight.sum())
    if not (any(w.texture > _TEXTURED for w in told) or _explains_ground(calibration, shift)):
        return _with_light(calibration, differs=shift, doubt=_EITHER * abs(shift))
    doubt = float(np.sqrt((_EVENED * shift) ** 2 + _EVENED_ANYWAY**2 + 1.0 / weight.sum()))
    return _with_light(calibration, differs=shift, doubt=doubt, step=shift)


def _tells(witness: Witness) -> bool:
    """Tell whether a witness speaks of another amount of light, or of several."""
    return witness.error > _TWO_LIGHTS or abs(witness.shift) > max(_DIFFERS, _DIFFERS_SIGMAS * witness.error)


def _with_light(calibration: Calibration, *, differs: float, doubt: float, step: float = 0.0) -> Calibration:
    light = replace(calibration.card_light, differs=differs, doubt=doubt, step=step)
    return replace(calibration, card_light=light)


def _rings(
    calibration: Calibration, places: Floats, beside: tuple[RingSamples, RingSamples]
) -> list[tuple[RingLight, RingLight]]:
    """Return what the rings beside the card, which lies at some places, and beside the chart show."""
    by_card = _ring(calibration, beside[0].samples, _Lit.at(calibration, places))
    by_chart = _ring(calibration, beside[1].samples, _Lit.at(calibration, calibration.sample.points))
    points = beside[0].samples.points
    alike = _like_ground(calibration, by_card.xyz, points)
    rings = []
    for near_card, near_chart in zip(beside[0].within, beside[1].within, strict=True):
        inside = np.flatnonzero(near_card)
        off = inside[_off_card(alike[inside], points[inside])]
        rings.append((by_card.only(off), by_chart.only(np.flatnonzero(near_chart))))
    return rings


def _like_ground(calibration: Calibration, xyz: Floats, points: Floats) -> npt.NDArray[np.bool_]:
    """Tell which places beside the card have the colour of its ground."""
    ground = calibration.ground_xyz
    if ground is None:
        return np.zeros(len(points), dtype=bool)
    here = calibration.in_light(xyz, calibration.log_light(points))
    differs = np.abs(np.log(np.maximum(here, 1e-6) / np.maximum(ground, 1e-6)))
    return np.asarray((differs < _ALIKE).all(axis=1))


def _off_card(alike: npt.NDArray[np.bool_], points: Floats) -> npt.NDArray[np.bool_]:
    """Tell which places beside the card, some of which look like its ground, do not lie on it.

    The card may be larger than was seen.
    """
    if np.count_nonzero(alike) < _MOSTLY * _NEIGHBOURS or len(points) < _NEIGHBOURS or alike.mean() > _NEARLY_ALL:
        return np.ones(len(points), dtype=bool)
    _, about = cKDTree(points).query(points, k=_NEIGHBOURS)
    off: npt.NDArray[np.bool_] = alike[about].mean(axis=1) < _MOSTLY
    return off


@dataclass(frozen=True, eq=False)
class _Lit:
    """A thing on the table: its places in the light field, as a tree, and the log light there by the correction."""

    places: cKDTree
    log_light: Floats

    @classmethod
    def at(cls, calibration: Calibration, points: Floats) -> _Lit:
        """Return what lies at points of the photo."""
        return cls(cKDTree(calibration.place(points)), calibration.log_light(points))


def _ring(calibration: Calibration, samples: Samples, thing: _Lit) -> RingLight:
    """Return what a ring round a thing shows, with the light of the thing's nearest place."""
    here = calibration.place(samples.points)
    _, nearest = thing.places.query(here)
    off = here - thing.places.data.mean(axis=0)
    xyz = calibration.fitted.model.xyz(samples.linear)
    return RingLight(xyz, thing.log_light[nearest], np.arctan2(off[:, 1], off[:, 0]))


def _ask_chart(calibration: Calibration, other: ChartSample, card: Floats) -> Witness | None:
    """Ask a second chart, if it lies nearer the card than the first does."""
    here, first, second = (calibration.place(p) for p in (card, calibration.sample.points, other.points))
    if np.linalg.norm(second.mean(0) - here.mean(0)) > np.linalg.norm(first.mean(0) - here.mean(0)):
        return None
    known = other.find.chart.xyz[:, 1]
    seen = calibration.fitted.model.xyz(other.linear)[:, 1]
    usable = ~other.clipped & (known > _DARKEST) & (seen > _DARKEST / 10.0)
    if usable.sum() < len(known) / 2:
        return None
    off = (np.log(seen[usable] / known[usable])) - calibration.log_light(other.points[usable])
    spread = float(np.std(off))
    if spread > _CHART_MISFIT:
        return None
    middle, error = float(np.median(off)), spread / np.sqrt(usable.sum()) + _CHART_ERROR
    return Witness(middle, middle - error, middle + error, texture=np.inf)


def _doubt_blue_paper(calibration: Calibration, by_chart: Samples) -> Calibration:
    """Doubt the chart where the card's ground, or the sheet beside the chart, is light but bluer than white paper."""
    seen = [calibration.lab(calibration.ground_linear, calibration.ground_points)]
    if len(by_chart.points):
        seen.append(calibration.lab(by_chart.linear, by_chart.points))
    middles = [np.median(lab, axis=0) for lab in seen if len(lab)]
    if not any(lab[0] > _WHITISH and lab[2] < _BLUE and abs(lab[1]) < -lab[2] for lab in middles):
        return calibration
    return replace(calibration, card_light=CardLight(blue_paper=True, doubt=_BLUE_DOUBT))


def _without_witness(calibration: Calibration, *, contradicted: bool) -> Calibration:
    """Return a calibration that nothing in the photo but the ground itself tells anything of the light on the card."""
    ground, light = _ground(calibration), calibration.card_light
    odd, doubt = light.blue_paper, _UNSEEN
    if ground is not None:
        grey = np.hypot(*ground[1:]) < _NEUTRAL
        odd |= bool(grey and _SHADED[0] < ground[0] < _SHADED[1]) or bool(ground[0] > _LIGHTEST_PAPER)
        doubt = _WHITE_SEEN if _is_white(ground) and not contradicted else _UNSEEN
    unproven = CardLight(proven=False, odd_ground=odd, doubt=_ODD if odd else doubt, doubt_per_pitch=_UNPROVEN)
    return replace(calibration, card_light=unproven)


def _ground(calibration: Calibration, shift: float = 0.0) -> Floats | None:
    """Return CIELAB of the ground once a shift of the log light is evened out, shape (3,); None if none shows."""
    xyz = calibration.ground_xyz
    return None if xyz is None else xyz_to_lab(xyz * np.exp(-shift))


def _is_white(ground: Floats) -> bool:
    return bool(np.hypot(*ground[1:]) < _NEUTRAL and _PAPER[0] < ground[0] < _PAPER[1])


def _contradicts_ground(calibration: Calibration, witness: Witness) -> bool:
    """Tell whether a surface tells of a light in which no paper looks as the ground does: it is another surface then.

    In that light the ground would be lighter than white, or not white, though it is white in the chart's light. A light
    beyond any shadow's is believed only if the surface has a texture and the same tint, or the ground is white in it.
    """
    as_read, evened = _ground(calibration), _ground(calibration, witness.shift)
    if as_read is None or evened is None or not (witness.tinted or _tells(witness)):
        return False
    unsure = (witness.tinted or witness.texture < _TEXTURED) and not _explains_ground(calibration, witness.shift)
    if unsure and abs(witness.shift) > _DEEPEST:
        return True
    return bool(evened[0] > _MOST_LIGHT) or (_is_white(as_read) and evened[0] < _PAPER[0])


def _explains_ground(calibration: Calibration, shift: float) -> bool:
    """Tell whether the ground looks like paper in this light, and not in the chart's."""
    as_read, evened = _ground(calibration), _ground(calibration, shift)
    if as_read is None or evened is None:
        return False
    if as_read[0] > _MOST_LIGHT:
        return bool(evened[0] < _MOST_LIGHT)
    return _is_white(evened) and bool(as_read[0] < _PAPER[0])
