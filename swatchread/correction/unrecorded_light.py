"""How unsure a colour is of which a photo did not record all: channels cut off at zero, and channels burnt out.

The share of blue cut off was found with the shares of `uncertainty`.
"""

from __future__ import annotations

import numpy as np

from swatchread.colour.cielab import Floats, xyz_to_lab
from swatchread.correction.calibration import Calibration
from swatchread.correction.camera_model import cut

_CUT = (1.0, 1.56, 10.0)
"""Shares of the square of what was put below zero, in red, green and blue: yellow paint reflects hardly any blue."""

_BURNT = 0.1
"""Relative standard error of a burnt-out channel: how much brighter the paint was, the photo doesn't say. Two in three
of 28 such swatches on three simulated cards, shot about a stop too bright, erred by less (seeds 72000 to 72002)."""

_BURNT_FROM, _BURNT_AT = 0.98, 0.99
"""Shares of full scale from which a mean holds burnt-out pixels, and at which it holds hardly any others."""


def cut_covariance(calibration: Calibration, linear: Floats, log_light: Floats, fitted: Floats) -> Floats:
    """Return the covariance of what the photo cut off at zero: about as large as the correction for it.

    Parameters
    ----------
    calibration : Calibration
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding.
    log_light : ndarray, shape (n,)
    fitted : ndarray, shape (n, 3)
        CIELAB of the same.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        In CIELAB.
    """
    covariance = np.zeros((*fitted.shape, 3))
    if not calibration.fitted.model.shape.rendered or not cut(linear).any():
        return covariance
    for share, there in zip(_CUT, ((False, True, True), (True, False, True), (True, True, False)), strict=True):
        off = fitted - xyz_to_lab(calibration.xyz(linear, log_light, there))
        covariance += share * off[:, :, None] * off[:, None, :]
    return covariance


def burnt_covariance(calibration: Calibration, linear: Floats, to_lab: Floats) -> Floats:
    """Return the covariance that burnt-out channels leave.

    Parameters
    ----------
    calibration : Calibration
    linear : ndarray, shape (n, 3)
        Linear RGB through the photo's own encoding.
    to_lab : ndarray, shape (n, 3, 3)
        Slopes of CIELAB by the camera's channels.

    Returns
    -------
    ndarray, shape (n, 3, 3)
        In CIELAB.
    """
    share = linear / calibration.find.photo.encoding.table[:, -1]
    burnt = np.clip((share - _BURNT_FROM) / (_BURNT_AT - _BURNT_FROM), 0.0, 1.0)
    off = to_lab * (_BURNT * burnt * linear)[:, None, :]
    return np.asarray(off @ off.transpose(0, 2, 1))
