"""Rebuild the data files in this folder from the published tables that colour-science carries.

Run from the top of the project: ``python -m calibration.build``, then
``python -m calibration.camera_prior``. The files are checked in, so that reading a photo
need not load the whole colour library; a test proves that they still agree with it.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import colour
import numpy as np
from scipy.interpolate import CubicSpline

from swatchread.colour.munsell import FAMILIES, GRID_UNIT, VALUES

HERE = Path(__file__).parent

PATCHES = (
    "dark skin, light skin, blue sky, foliage, blue flower, bluish green, "
    "orange, purplish blue, moderate red, purple, yellow green, orange yellow, "
    "blue, green, red, yellow, magenta, cyan, "
    "white, neutral 8, neutral 6.5, neutral 5, neutral 3.5, black"
).split(", ")

CLASSIC = {
    "classic24": (
        "BabelColor Average",
        "Classic 24-patch chart, average of 30 measured charts",
        "D. Pascale (2012), average of 30 charts measured, as carried by colour-science 'BabelColor Average'",
        0.8,
    ),
    "classic24-before-2014": (
        "ColorChecker24 - Before November 2014",
        "Classic 24-patch chart, as made before November 2014",
        "Manufacturer's CIELAB data for charts before November 2014, published 2016, as carried by colour-science",
        0.8,
    ),
    "classic24-after-2014": (
        "ColorChecker24 - After November 2014",
        "Classic 24-patch chart, as made since November 2014",
        "Manufacturer's CIELAB data for charts since November 2014, published 2016, as carried by colour-science",
        0.8,
    ),
}


def write_classic(name: str) -> None:
    """Write one revision of the 24-patch chart as CIELAB, D50, 2 degree."""
    key, title, source, spread = CLASSIC[name]
    chart = colour.CCS_COLOURCHECKERS[key]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    lab = colour.XYZ_to_Lab(xyz, chart.illuminant)
    patches = [
        {"name": patch, "lab": [round(float(v), 3) for v in row]} for patch, row in zip(PATCHES, lab, strict=True)
    ]
    definition = {
        "format": "swatchread-chart",
        "version": 1,
        "name": name,
        "title": title,
        "source": source,
        "illuminant": "D50",
        "observer": "2 degree",
        "rows": 4,
        "columns": 6,
        "patch_share": 0.87,
        "spread_de00": spread,
        "patches": patches,
    }
    text = json.dumps(definition, indent=1, ensure_ascii=False) + "\n"
    (HERE / f"{name}.chart.json").write_text(text, encoding="utf-8")


def write_munsell() -> None:
    """Write the renotation (Newhall, Nickerson & Judd 1943, extrapolated) as a* and b* under C on a regular grid.

    Beyond the last chip of a hue the line goes on straight. Between chips the grid is filled by straight lines.
    """
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    grid = np.full((len(VALUES), 40, 26, 2), np.nan)
    for (hue, value, chroma), (x, y, _) in colour.notation.MUNSELL_COLOURS_ALL:
        if y > 0.01 and value <= 9.0:  # extrapolated points may lie beyond all colours
            luminance = colour.colorimetry.luminance_ASTMD1535(value) / 100.0
            lab = colour.XYZ_to_Lab(colour.xyY_to_XYZ([x, y, luminance]), white)
            grid[np.searchsorted(VALUES, value), hue_number(hue) % 40, round(chroma / 2)] = lab[1:]
    grid[-1] = grid[-2]
    grid[:, :, 0] = 0.0
    for chroma in range(1, grid.shape[2]):
        missing = np.isnan(grid[:, :, chroma, 0])
        step = grid[:, :, chroma - 1] - grid[:, :, max(chroma - 2, 0)]
        grid[:, :, chroma][missing] = (grid[:, :, chroma - 1] + step)[missing]
    half_hues = (grid + np.roll(grid, -1, axis=1)) / 2.0
    grid = np.stack([grid, half_hues], axis=2).reshape(len(VALUES), 80, 26, 2)
    half_chromas = (grid[:, :, :-1] + grid[:, :, 1:]) / 2.0
    finer = np.stack([grid[:, :, :-1], half_chromas], axis=3).reshape(len(VALUES), 80, 50, 2)
    finer = np.concatenate([finer, grid[:, :, -1:]], axis=2)
    np.save(HERE / "munsell-grid.npy", np.rint(finer / GRID_UNIT).astype(np.int16))


def hue_number(hue: str) -> int:
    """Return which of the renotation's forty hues a name such as ``"2.5YR"`` is; 0 is 10RP."""
    number = hue.rstrip("RYGBP")
    return round((FAMILIES.index(hue[len(number) :]) * 10.0 + float(number)) / 2.5)


def write_weights() -> None:
    """Write weights that turn reflectance at 400 (20) 700 nm into XYZ for D50 and the 2 degree observer.

    After ASTM E2022: reflectance is interpolated between the bands (here by a cubic spline) and held constant beyond
    the ends, and the product with illuminant and colour-matching functions is summed at 1 nm.
    """
    bands, fine = np.arange(400.0, 701.0, 20.0), np.arange(360.0, 781.0, 1.0)
    shape = colour.SpectralShape(360, 780, 1)
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values
    light = colour.SDS_ILLUMINANTS["D50"].copy().align(shape).values
    cardinal = CubicSpline(bands, np.eye(len(bands)))(np.clip(fine, bands[0], bands[-1]))
    weights = cardinal.T @ (observer * light[:, None]) / (observer[:, 1] @ light)
    with (HERE / "d50-2deg-20nm.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["wavelength", "x", "y", "z"])
        for band, row in zip(bands, weights, strict=True):
            writer.writerow([f"{band:g}", *(f"{w:.6f}" for w in row)])


if __name__ == "__main__":
    for chart_name in CLASSIC:
        write_classic(chart_name)
    write_munsell()
    write_weights()
