"""The simple guesses that the fitted model must beat: CIELAB predicted for each swatch without its card."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import nnls

from swatchread.colour.cielab import lab_to_xyz, xyz_to_lab
from swatchread.palette.fitted_palette import leave_cards_out
from swatchread.palette.mixture_fit import fit
from swatchread.palette.paint_optics import ratio_of_reflectance, reflectance_of_ratio
from swatchread.palette.pigment_prior import TOUCH_SHARE, believe

MIDDLE_TOUCH = TOUCH_SHARE


def nearest_recorded(samples):
    """Take the colour of the recorded mixture whose shares are nearest."""
    share = samples.with_touch(MIDDLE_TOUCH)
    apart = np.abs(share[:, None, :] - share[None, :, :]).sum(axis=-1)
    apart[samples.card[:, None] == samples.card[None, :]] = np.inf
    return samples.lab[apart.argmin(axis=1)]


def linear_in_xyz(samples):
    """Mix tristimulus values by share; every tube's own are fitted to the other cards."""
    return _by_channel(samples, lambda Y: Y, lambda Y: Y)


def single_constant_by_channel(samples):
    """Mix K/S of the three tristimulus values by share."""
    return _by_channel(
        samples, lambda Y: ratio_of_reflectance(np.clip(Y, 1e-3, 1.0)), reflectance_of_ratio, relative=True
    )


def single_constant_spectral(samples):
    """Fit K spectra exactly as the model does, but with one scattering for all tubes."""
    belief = believe(samples.tubes)
    single = replace(
        belief,
        log_scattering=np.zeros_like(belief.log_scattering),
        shapes=replace(belief.shapes, scattering=1e-6 * belief.shapes.scattering),
    )
    return leave_cards_out(fit(samples, single)).lab


def _by_channel(samples, bend, straighten, relative=False):
    share, xyz = samples.with_touch(MIDDLE_TOUCH), lab_to_xyz(samples.lab)
    white = lab_to_xyz(np.array([100.0, 0.0, 0.0]))
    bent = bend(xyz / white)
    lab = np.empty_like(samples.lab)
    for card in range(samples.card.max() + 1):
        out = samples.card == card
        predicted = np.empty((out.sum(), 3))
        for channel in range(3):
            weight = 1.0 / bent[~out, channel] if relative else np.ones((~out).sum())
            own, _ = nnls(share[~out] * weight[:, None], bent[~out, channel] * weight)
            predicted[:, channel] = straighten(share[out] @ own) * white[channel]
        lab[out] = xyz_to_lab(predicted)
    return lab
