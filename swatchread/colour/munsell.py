"""Munsell notation of many colours at once.

The renotation is a regular table of chromaticities over hue, value and chroma (under CIE illuminant C). A colour is
adapted to C, and the table is inverted by a few fixed-point steps in the CIELAB plane of C, all colours together.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import D50_XYZ, Floats, lab_to_xyz, luminance_of_value, value_of_luminance, xyz_to_lab
from swatchread.colour.order import distinct
from swatchread.colour.shipped_data import data_file

C_XYZ: Floats = np.array([0.98074, 1.0, 1.18232])
"""White point of CIE illuminant C, 2 degree observer (ASTM E308-01, table 5)."""

BRADFORD: Floats = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])
"""Cone response matrix of the linear Bradford adaptation (ICC.1:2022, annex E)."""

FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")
_NEUTRAL_CHROMA = 0.25
_ITERATIONS = 12
_CORNERS = np.array([(v, h, c) for v in (0, 1) for h in (0, 1) for c in (0, 1)])
_NEWTON, _STEP, _ARRIVED = 40, 1e-3, 1e-6


def adapt(xyz: npt.ArrayLike, source: Floats, target: Floats) -> Floats:
    """Adapt tristimulus values from one white to another (linear Bradford).

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
    source, target : ndarray, shape (3,)
        White points.

    Returns
    -------
    ndarray, shape (..., 3)
    """
    gain = (BRADFORD @ target) / (BRADFORD @ source)
    matrix = np.linalg.inv(BRADFORD) @ np.diag(gain) @ BRADFORD
    adapted: Floats = np.asarray(xyz, dtype=np.float64) @ matrix.T
    return adapted


def munsell_hvc(lab: npt.ArrayLike) -> Floats:
    """Return hue (0 to 100, 0 = 10RP, 5 = 5R), value and chroma of CIELAB colours.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB, D50, 2 degree.

    Returns
    -------
    ndarray, shape (n, 3)

    References
    ----------
    ASTM D1535; renotation of Newhall, Nickerson & Judd (1943), as carried by colour-science.
    """
    xyz = adapt(np.clip(lab_to_xyz(lab), 0.0, None), D50_XYZ, C_XYZ)
    V = value_of_luminance(xyz[..., 1])
    ab = xyz_to_lab(xyz, C_XYZ)[..., 1:]
    values, plane = _table()
    V_in = np.clip(V, values[0], values[-1])
    radius, angle = np.hypot(ab[..., 0], ab[..., 1]), np.arctan2(ab[..., 1], ab[..., 0])
    H, C = np.degrees(angle) % 360.0 / 3.6, radius / 5.5
    for _ in range(_ITERATIONS):
        got = _interpolate(values, plane, H, V_in, C)
        turn = np.angle(np.exp(1j * (angle - np.arctan2(got[..., 1], got[..., 0]))))
        H = (H + np.where(radius > 0.05, np.degrees(turn) / 3.6, 0.0)) % 100.0
        reach = np.hypot(got[..., 0], got[..., 1])
        C = np.clip(C * np.clip((radius + 1e-6) / (reach + 1e-6), 0.5, 2.0), 1e-4, 50.0)
    H, C = _settled(lambda h, c: _interpolate(values, plane, h % 100.0, V_in, c) - ab, H, C)
    return np.stack([H % 100.0, V, C], axis=-1)


def _settled(off: Callable[[Floats, Floats], Floats], H: Floats, C: Floats) -> tuple[Floats, Floats]:
    """Return hue and chroma where nothing is off, by damped Newton steps.

    Among the strongest greens a step of chroma turns the colour as much as a step of hue does, and steps that take the
    two for a polar angle and radius go round in a circle.
    """
    left, damp = np.linalg.norm(off(H, C), axis=-1), np.ones(np.shape(H))
    for _ in range(_NEWTON):
        if (left < _ARRIVED).all():
            break
        here = off(H, C)
        slope = np.stack([(off(H + _STEP, C) - here), (off(H, C + _STEP) - here)], axis=-1) / _STEP
        flat = np.abs(np.linalg.det(slope)) < 1e-6
        slope[flat] = np.eye(2)
        step = np.where(flat[..., None], 0.0, np.linalg.solve(slope, -here[..., None])[..., 0])
        step = step * (damp * np.minimum(1.0, 3.0 / np.maximum(np.abs(step).max(axis=-1), 1e-9)))[..., None]
        tried = H + step[..., 0], np.clip(C + step[..., 1], 1e-4, 50.0)
        after = np.linalg.norm(off(*tried), axis=-1)
        better = after < left
        H, C, left = np.where(better, tried[0], H), np.where(better, tried[1], C), np.where(better, after, left)
        damp = np.where(better, 1.0, damp / 2.0)
    return H, C


def munsell_notation(lab: npt.ArrayLike) -> list[str]:
    """Return Munsell notations such as ``'5.0YR 6.1/4.2'`` or ``'N 5.2'`` of CIELAB colours.

    Parameters
    ----------
    lab : array_like, shape (n, 3)
        CIELAB, D50, 2 degree.

    Returns
    -------
    list of str
        Hue to 0.1 step, value and chroma to 0.1; chroma below 0.25 is written as a neutral.
    """
    return [_written(*row) for row in munsell_hvc(np.atleast_2d(np.asarray(lab, dtype=np.float64)))]


def _written(hue: float, value: float, chroma: float) -> str:
    if chroma < _NEUTRAL_CHROMA:
        return f"N {value:.1f}"
    tenths = round(hue * 10) % 1000
    step, within = divmod(tenths, 100)
    if within == 0:  # a hue of 0 is written as 10 of the family before it
        step, within = (step - 1) % 10, 100
    return f"{within / 10:.1f}{FAMILIES[step]} {value:.1f}/{chroma:.1f}"


def _interpolate(values: Floats, plane: Floats, H: Floats, V: Floats, C: Floats) -> Floats:
    """Return a*, b* under C of Munsell coordinates, trilinear in the regular table."""
    h, c = H / 2.5, C / 2.0
    h0, c0 = np.floor(h).astype(int), np.minimum(np.floor(c).astype(int), plane.shape[2] - 2)
    v0 = np.clip(np.searchsorted(values, V, side="right") - 1, 0, len(values) - 2)
    th, tc = h - h0, c - c0
    tv = (V - values[v0]) / (values[v0 + 1] - values[v0])
    # The eight corners along a first axis: all are looked up at once.
    corner = (slice(None), *(None,) * np.ndim(H))
    dv, dh, dc = _CORNERS.T
    wv, wh, wc = (np.stack([1 - t, t])[d] for t, d in ((tv, dv), (th, dh), (tc, dc)))
    dv, dh, dc = dv[corner], dh[corner], dc[corner]
    near = (wv * wh * wc)[..., None] * plane[v0 + dv, (h0 + dh) % 40, c0 + dc]
    return np.asarray(near.sum(axis=0), dtype=np.float64)


@cache
def _table() -> tuple[Floats, Floats]:
    """Return the values and a*, b* under C on the grid (value, hue / 2.5, chroma / 2)."""
    _, _, text = data_file("munsell-renotation.csv").read_text(encoding="utf-8").strip().partition("\n")
    cells = text.replace("\n", ",").split(",")  # at once, not line by line: every reading waits for it
    number = {hue: _hue_number(hue) for hue in set(cells[::5])}
    table = np.empty((len(cells) // 5, 5))
    table[:, 0] = [number[hue] for hue in cells[::5]]
    for column in range(1, 5):
        table[:, column] = list(map(float, cells[column::5]))
    table = table[table[:, 4] > 0.01]  # extrapolated points beyond the spectrum locus
    # The notation stops at 9/ for chips; at 10/ only white itself exists, so 9/ stands for it.
    values = distinct(table[table[:, 1] <= 9.0, 1])
    plane = np.full((len(values), 40, 26, 2), np.nan)
    x, y = table[:, 3], table[:, 4]
    Y = luminance_of_value(table[:, 1])
    ab = xyz_to_lab(np.stack([x / y * Y, Y, (1 - x - y) / y * Y], axis=-1), C_XYZ)[:, 1:]
    known = table[:, 1] <= 9.0
    v = np.searchsorted(values, table[known, 1])
    plane[v, (table[known, 0] / 2.5).round().astype(int) % 40, (table[known, 2] / 2).round().astype(int)] = ab[known]
    plane[:, :, 0] = 0.0
    for chroma in range(1, plane.shape[2]):  # beyond the last chip of a hue the line goes on straight
        missing = np.isnan(plane[:, :, chroma, 0])
        previous = plane[:, :, chroma - 1]
        step = previous - plane[:, :, chroma - 2] if chroma > 1 else np.zeros_like(previous)
        plane[:, :, chroma][missing] = (previous + step)[missing]
    values = np.append(values, 10.0)
    return values, np.concatenate([plane, plane[-1:]], axis=0)


def _hue_number(hue: str) -> float:
    number = hue.rstrip("RYGBP")
    return (FAMILIES.index(hue[len(number) :]) * 10.0 + float(number)) % 100.0
