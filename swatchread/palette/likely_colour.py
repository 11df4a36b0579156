"""What a recorded mixture most likely looks like, by its reading and its recipe together."""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats
from swatchread.palette.mixture_model import MixModel, dose_spread
from swatchread.palette.training_data import Samples


def likely_lab(model: MixModel, samples: Samples) -> Floats:
    """Return the mean of each reading and of what its recipe gives, weighed by how unsure each of the two is.

    Parameters
    ----------
    model : MixModel
        Fitted to these samples or to more.
    samples : Samples

    Returns
    -------
    ndarray, shape (n, 3)
        CIELAB, D50, 2 degree.
    """
    slopes = model.paints.slopes(samples.with_touch(model.paints.touch))
    spread = dose_spread(model.habits, samples.touches, slopes.by_amount.shape[::2])
    dosed = np.einsum("nit,nt,njt->nij", slopes.by_amount, spread**2, slopes.by_amount, optimize=True)
    dosed = model.scale**2 * (dosed + model.habits.theory_sd**2 * np.eye(3))
    read = np.eye(3) * (samples.own_sd**2 + samples.shared_sd**2)[:, :, None]
    gain = dosed @ np.linalg.inv(dosed + read)
    likely: Floats = slopes.lab + np.einsum("nij,nj->ni", gain, samples.lab - slopes.lab)
    return likely
