"""The reader with one step switched off at a time: every step has to earn its place.

Steps are switched from here, by exchanging the reader's own constants and functions; the reader has no switches. A step
whose name is no longer there raises, so that the table can't silently compare the reader with itself.
"""

from contextlib import ExitStack
from dataclasses import replace
from pkgutil import resolve_name
from unittest.mock import patch

import numpy as np

from .measure import read_photo
from .tables import aligned, errors_of, figures, quantiles


def _shaped(**changes):
    """Patch of the chosen model shape."""

    def made(original):
        return lambda *given: replace(original(*given), **changes)

    return ("swatchread.correction.calibration", "_shape", made)


def _constant(module, name, value):
    return (f"swatchread.{module}", name, lambda _: value)


def _keep_all(_):
    return lambda level: (np.ones(len(level), bool), 0.0)


def _no_ground(original):
    return lambda patches, *_: original(patches)


def _light_of(degree):
    """Patch of the degree of the light's polynomial."""
    return (
        "swatchread.correction.joint_fit",
        "fit_light",
        lambda fit: lambda seen, _, edge: fit(seen, degree, edge=edge),
    )


def _all_of_it(_):
    return lambda brightness, *_: np.ones(len(brightness), bool)


def _even(_):
    from swatchread.correction.light_field import even_light

    return lambda *_: even_light()


def _nothing_passed_over(_):
    from swatchread.sampling.card_sampling import OtherLight

    return lambda card: OtherLight(np.zeros(card.surface.card.shape, bool))


def _no_light_nearby(_):
    return lambda _, place: np.zeros(len(place))


def _plain_metric(_):
    return lambda lab: np.broadcast_to(np.eye(3), (len(lab), 3, 3)).copy()


def _ignorant(original):
    """Patch of the sensors' prior: as wide, but about a plain matrix and without its correlations."""

    def plain(degree):
        learnt = original(degree)
        covariance = np.linalg.inv(learnt.whiten.T @ learnt.whiten)
        mean = np.zeros_like(learnt.mean)
        mean[:3] = original(1).mean
        return replace(learnt, mean=mean, whiten=np.diag(np.diag(covariance) ** -0.5))

    return plain


#: Step -> patches (module, name, function of the original to what replaces it).
STEPS = {
    "as it is": [],
    "light field degree 0": [_light_of(0)],
    "light field degree 1": [_light_of(1)],
    "light field degree 2": [_light_of(2)],
    "ground beside a swatch not heard": [("swatchread.correction.light_field.LightField", "near", _no_light_nearby)],
    "light and camera fitted once": [_constant("correction.joint_fit", "_TURNS", 0)],
    "ground not used": [("swatchread.reading", "calibrate", _no_ground)],
    "shadow's edge not looked for": [_constant("correction.light_field", "_EDGE_SUSPECTED", np.inf)],
    "shadow not looked for on the ground first": [("swatchread.correction.joint_fit", "first_light", _even)],
    "shadow not looked for on the chart": [_constant("correction.joint_fit", "_CHART_SUSPECTED", np.inf)],
    "card cut off by a shadow not sampled": [
        ("swatchread.sampling.card_sampling", "ground_in_other_light", _nothing_passed_over)
    ],
    "ground of other colours kept": [_constant("correction.ground_selection", "_OTHER_SURFACE", 1e9)],
    "ground beyond the card kept": [("swatchread.correction.joint_fit", "select_card_ground", _all_of_it)],
    "tone terms 0": [_shaped(tone=0)],
    "tone terms 3": [_shaped(tone=3)],
    "highlights not held": [_constant("correction.camera_fit", "_STEEP_ERROR", 1e9)],
    "no push, nothing cut": [_shaped(rendered=False)],
    "cut channels as they are": [_constant("correction.camera_model", "_BEYOND", np.zeros(3))],
    "a plain matrix": [_shaped(degree=1)],
    "prior a tenth": [_constant("correction.camera_fit", "_PRIOR_NOISE", 0.05)],
    "prior knows no sensors": [("swatchread.correction.camera_fit", "camera_prior", _ignorant)],
    "frame laid once": [_constant("correction.camera_fit", "_FRAMES", 1)],
    "frame laid twice": [_constant("correction.camera_fit", "_FRAMES", 2)],
    "fit in plain CIELAB": [("swatchread.correction.camera_fit", "de00_metric", _plain_metric)],
    "dark patches at full weight": [_constant("correction.calibration", "_LOW_WEIGHT", 1.0)],
    "dark patches left out": [_constant("correction.calibration", "_LOW_WEIGHT", 0.0)],
    "glaring patches kept": [_constant("correction.calibration", "_GLARE", 1e9)],
    "what the fit leaves near a colour kept": [_constant("correction.patch_errors", "_NOISE", 1e9)],
    "strangers kept": [_constant("correction.joint_fit", "_MOST_COVERED", 0)],
    "no outlier left out of a swatch": [("swatchread.sampling.swatch_sampling", "_plain_paint", _keep_all)],
    "swatch rim sampled": [_constant("sampling.swatch_sampling", "_ERODE", 0.02)],
}
#: Functions of the pipeline that come before any step above: worked out once a photo.
_BEFORE = ("load_photo", "find_chart_or_ask", "rectify", "find_card")


def switched(step):
    """Context in which the reader runs with one step exchanged.

    Raises
    ------
    AttributeError
        If the reader no longer has what the step exchanges.
    """
    stack = ExitStack()
    for module, name, make in STEPS[step]:
        home = resolve_name(module)
        stack.enter_context(patch.object(home, name, make(getattr(home, name))))
    return stack


def _remembering(function):
    """Return the function with its first answer kept: every later call in this photo asks the same."""
    kept = []

    def remembered(*given, **named):
        if not kept:
            kept.append(function(*given, **named))
        return kept[0]

    return remembered


def ablated(drawn, steps=tuple(STEPS)):
    """Read one scene with each step switched.

    Returns
    -------
    dict of step -> Photo
    """
    from swatchread import reading

    with ExitStack() as stack:
        for name in _BEFORE:
            stack.enter_context(patch.object(reading, name, _remembering(getattr(reading, name))))
        read = {}
        for step in steps:
            with switched(step):
                read[step] = read_photo(drawn, read=_forgiving)
    return read


def _forgiving(path):
    """Read even what is too poor to trust: a worse fit must show in the table, not vanish from it."""
    from swatchread.reading import read_card

    return read_card(path, accept_poor=True).note


def ablation_table(scenes):
    """Text of the table over drawn scenes; a second one leaves out those with a shadow edge, which rule the tail."""
    by_step = {step: [] for step in STEPS}
    for made in scenes:
        for step, photo in ablated(made).items():
            by_step[step].append(photo)
    even = {step: [p for p in photos if p.spec.shadow == "none"] for step, photos in by_step.items()}
    parts = [_table(by_step, "step, all scenes")]
    if 0 < len(even["as it is"]) < len(scenes):
        parts.append(_table(even, "step, no shadow edge"))
    return "\n\n".join(parts)


def _table(by_step, title):
    usual = quantiles(errors_of(by_step["as it is"], "reader"))
    rows = []
    for step, photos in by_step.items():
        error, made = errors_of(photos, "reader"), figures(photos)
        median, _, tail = quantiles(error)
        cost = [f"{median / usual[0] - 1:+.0%}", f"{tail / usual[2] - 1:+.0%}"]
        sure = [f"{made[k]:.0%}" for k in ("inside 1 u", "inside 2 u")]
        rows.append([step, len(error), f"{median:.2f}", cost[0], f"{tail:.2f}", cost[1], *sure])
    return aligned(rows, [title, "n", "median", "", "95th", "", "≤ 1 u", "≤ 2 u"])
