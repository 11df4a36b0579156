"""A photo of several cards to test with, and which notes belong to which of its cards."""

from dataclasses import replace

import numpy as np

from tests.bench.matching import match
from tests.scene import several

SIZE = (1600, 1200)


def spec_of(seed, size=SIZE):
    """Return a photo's spec without clutter, its table plain enough to see every card."""
    spec = several.several_spec(seed, size)
    return replace(spec, base=replace(spec.base, tubes=0, brushes=0))


def owners(note, truths):
    """Return the numbers of the true cards on which a note's swatches lie; None for those that lie on none."""
    every = [(card, swatch) for card, truth in enumerate(truths) for swatch in truth.swatches]
    centres = [np.mean(swatch.outline, axis=0) for swatch in note.swatches]
    found = {i: every[j][0] for i, j in match(centres, [swatch for _, swatch in every])}
    return [found.get(i) for i in range(len(note.swatches))]
