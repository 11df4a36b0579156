"""Finds the constants of `comparison/channel_errors.py` anew: `python -m tests.bench.comparing --fit`.

The errors of simulated pairs are the differences that were read without what truly changed. Each channel's constants
are those under which these errors are likeliest: of each swatch without anchors, with a few named ones and with the
ground, by Student's t for each size that the shared errors may have. A weak prior keeps constants near what they were
where few errors tell of them.
"""

from dataclasses import asdict, dataclass, fields, replace

import numpy as np
from scipy.optimize import minimize

from swatchread.comparison.anchoring import conditional, evidence
from swatchread.comparison.card_matching import match_cards
from swatchread.comparison.channel_errors import CHANNELS, ChannelErrors
from swatchread.comparison.error_scale import weights_of_sizes
from swatchread.comparison.pair_covariance import PairReadings, pair_noise, pair_readings
from swatchread.comparison.swatch_changes import TAIL
from swatchread.errors import DifferentCardsError
from tests.bench.pairs import true_changes, unchanged_anchors

PRIOR = 1.5  # standard deviations of a constant's logarithm about what it was
PRIOR_WEIGHT = 0.02  # of a pair
REACHES = ("far_reach", "near_reach")  # chosen, not fitted


@dataclass(frozen=True, eq=False)
class Case:
    """One pair: its readings without what truly changed, and the places of unchanged swatches named as anchors."""

    seed: int
    readings: PairReadings
    row: tuple[int, ...]


def case_of(seed, before, after):
    """Return a pair's errors, or None if it is refused."""
    try:
        match = match_cards(before.note, after.note)
    except DifferentCardsError:
        return None
    true, names, later = true_changes(before, after), before.names(), after.names()
    told = [k for k, (one, other) in enumerate(match.pairs) if one in true and later.get(other) == names[one]]
    read = pair_readings(before.note, after.note, match)
    kept = [*told, len(match.pairs)]
    ids = tuple(read.ids[k] for k in kept)
    error = read.difference[kept]
    error[:-1] -= [true[one] for one in ids[:-1]]
    readings = replace(
        read,
        ids=ids,
        lab=read.lab[kept],
        difference=error,
        stated=read.stated[:, kept],
        burnt=read.burnt[:, told],
        uneven=read.uneven[told],
        mixtures=read.mixtures[told],
        cut_off=read.cut_off[told],
    )
    return Case(seed, readings, tuple(ids.index(one) for one in unchanged_anchors(before, after) if one in ids))


def fitted(cases, channels=CHANNELS):
    """Return the likeliest constants of the three channels, beginning at some."""
    held = [_evidence_of(case, channels) for case in cases]
    return tuple(_fit_channel(cases, held, channels, k) for k in range(3))


def _evidence_of(case, channels):
    noise = pair_noise(case.readings, channels)
    return np.stack([evidence(noise, k, np.array(case.row, dtype=int)) for k in range(3)], axis=-1)


def _fit_channel(cases, held, channels, k):
    names = [f.name for f in fields(ChannelErrors) if f.name not in REACHES and getattr(channels[k], f.name) > 0.0]
    start = np.log([getattr(channels[k], name) for name in names])

    def with_values(logarithms):
        errors = replace(channels[k], **dict(zip(names, np.exp(logarithms).tolist(), strict=True)))
        return (*channels[:k], errors, *channels[k + 1 :])

    def cost(logarithms):
        trial = with_values(logarithms)
        likely = sum(log_likelihood(case, known, trial, k) for case, known in zip(cases, held, strict=True))
        return -likely / len(cases) + PRIOR_WEIGHT * np.sum(((logarithms - start) / PRIOR) ** 2)

    return with_values(minimize(cost, start, method="L-BFGS-B", options={"maxiter": 25}).x)[k]


def log_likelihood(case, known, channels, k):
    """Return the logarithm of the likelihood of a pair's errors in one channel, but for a constant.

    Of the swatches without anchors, with the row and with the ground, and of the ground itself.
    """
    noise = pair_noise(case.readings, channels)
    ground = len(noise.ids) - 1
    total = 0.0
    for anchors in ((), case.row, (ground,)):
        if anchors == case.row and not case.row:
            continue
        index = np.array(anchors, dtype=int)
        telling = known.copy() if anchors == case.row and anchors else np.zeros_like(known)
        telling[:, k] = evidence(noise, k, index[index != ground])
        weight = weights_of_sizes(telling, noise.likely)[:, k]
        errors, covariances = conditional(noise, k, index)
        judged = [n for n in range(len(noise.ids)) if n not in anchors and (n != ground or not anchors)]
        sigma = np.sqrt(np.einsum("mnn->mn", covariances)[:, judged] * (TAIL - 2.0) / TAIL)
        off = (noise.difference[judged, k] - errors[:, judged]) / sigma
        density = (1.0 + off**2 / TAIL) ** (-(TAIL + 1.0) / 2.0) / sigma
        total += np.log(weight @ density).sum()
    return total


def printed(channels):
    """Return constants as they stand in the program."""
    lines = []
    for errors in channels:
        lines += [
            "    ChannelErrors(",
            *(f"        {name}={value:.2g}," for name, value in asdict(errors).items()),
            "    ),",
        ]
    return "\n".join(["CHANNELS = (", *lines, ")"])
