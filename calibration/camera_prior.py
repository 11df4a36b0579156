"""Rebuild `camera-prior.csv`: how sensors that could be map chart-laid working values to XYZ.

Run from the top of the project: ``python -m calibration.camera_prior``. No measured camera goes in: colour-science
carries two, and these are held out, for the simulator of the tests photographs with them.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt

from swatchread.colour.cielab import de00_metric, lab_to_xyz, xyz_to_lab
from swatchread.correction.camera_model import expand
from swatchread.correction.camera_prior import WORKING_TO_XYZ

Floats = npt.NDArray[np.float64]

HERE = Path(__file__).parent
GRID_NM = np.arange(380.0, 731.0, 5.0)
_SENSORS, _SEED = 500, 5
_FAINTEST = 1e-4
_OTHERS = 0.6
"""Weight of other reflectances beside the chart's, which every camera is held to."""


def light(rng: np.random.Generator) -> Floats:
    """Draw a light, shape (71,): CIE daylight, Planckian, a CIE LED or fluorescent lamp."""
    kind = rng.choice(4, p=[0.35, 0.2, 0.25, 0.2])
    if kind == 1:
        # Planck's law, second radiation constant 1.4388e-2 m K (CODATA).
        return np.asarray(GRID_NM**-5.0 / np.expm1(1.4388e7 / (GRID_NM * rng.uniform(2600, 3600))))
    if kind == 0:
        source = colour.sd_CIE_illuminant_D_series(colour.temperature.CCT_to_xy_CIE_D(rng.uniform(4200, 8000)))
    else:
        leds = sorted(name for name in colour.SDS_ILLUMINANTS if name.startswith("LED-"))
        names = leds if kind == 2 else [f"FL{k}" for k in range(1, 13)]
        source = colour.SDS_ILLUMINANTS[names[rng.integers(len(names))]]
    return np.interp(GRID_NM, source.domain, source.values)


def sensor(rng: np.random.Generator) -> Floats:
    """Draw sensitivities, shape (71, 3): a skewed lobe a channel, a little of each in the others, an infrared cut.

    Places and widths span what the colour filters of cameras show (common practice, from memory).
    """

    def lobe(peak: tuple[int, int], left: tuple[int, int], right: tuple[int, int]) -> Floats:
        middle, below, above = rng.uniform(*peak), rng.uniform(*left), rng.uniform(*right)
        return np.asarray(np.exp(-0.5 * ((GRID_NM - middle) / np.where(middle > GRID_NM, below, above)) ** 2))

    channels = np.stack(
        [
            lobe((585, 620), (24, 45), (28, 60)),
            lobe((518, 548), (28, 48), (28, 48)),
            lobe((442, 475), (20, 36), (22, 38)),
        ],
        axis=1,
    )
    channels = channels + channels @ (np.abs(rng.normal(0, 0.06, (3, 3))) * (1 - np.eye(3)))
    channels[:, 0] += abs(rng.normal(0, 0.06)) * lobe((420, 450), (18, 22), (18, 22))
    top, bottom = rng.uniform(630, 690), rng.uniform(398, 418)
    ends = (1 + np.exp((GRID_NM - top) / rng.uniform(5, 14))) * (1 + np.exp((bottom - GRID_NM) / 5))
    return np.asarray(channels / ends[:, None])


@cache
def fidelity_samples() -> Floats:
    """Return the reflectances of the CIE 2017 colour fidelity samples, shape (99, 71)."""
    samples = colour.quality.cfi2017.load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    return np.clip(samples.values[np.searchsorted(samples.domain, GRID_NM)].T, 0.003, 1.0)


def response_weights() -> Floats:
    """Return the weights from reflectance to XYZ (D50, 2 degree), shape (71, 3)."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    d50 = colour.SDS_ILLUMINANTS["D50"]
    weights = np.stack([np.interp(GRID_NM, observer.domain, observer.values[:, k]) for k in range(3)], axis=1)
    return weights * np.interp(GRID_NM, d50.domain, d50.values)[:, None]


def reflectances() -> tuple[Floats, Floats]:
    """Return reflectances, shape (n, 71), the chart's 24 first, and their CIELAB (D50, 2 degree).

    The averaged chart and the CIE 2017 colour fidelity samples; and powers of them, which denser layers of the same
    dye show (Beer-Lambert), for paint is deeper than these samples.
    """
    ces = fidelity_samples()
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"].values()
    chart = np.stack([np.interp(GRID_NM, sd.domain, sd.values) for sd in patches])
    denser = [chart[:18] ** power for power in (1.6, 2.2, 2.8)]
    every = np.clip(np.concatenate([chart, ces, ces**1.6, 0.5 * ces**2.2, *denser]), 0.004, 1.0)
    weights = response_weights()
    return every, xyz_to_lab(every @ weights, weights.sum(axis=0))


def coefficients(camera: Floats, lab: Floats) -> Floats:
    """Return one camera's root-polynomial from working values to XYZ, shape (39,), by Gauss-Newton in CIEDE2000."""
    xyz = lab_to_xyz(lab)
    weight = (1.0 / (xyz[:24, 1] + 0.03) ** (2.0 / 3.0))[:, None]
    to_xyz = np.linalg.lstsq(camera[:24] * weight, xyz[:24] * weight, rcond=None)[0]
    terms = expand(np.maximum(camera @ to_xyz @ np.linalg.inv(WORKING_TO_XYZ).T, _FAINTEST), 3)
    root = np.linalg.cholesky(de00_metric(lab) + 1e-9 * np.eye(3)).transpose(0, 2, 1)
    root[24:] *= _OTHERS
    matrix = np.zeros((terms.shape[1], 3))
    matrix[:3] = WORKING_TO_XYZ.T
    for _ in range(4):
        seen, step = terms @ matrix, 1e-6
        base = xyz_to_lab(seen)
        to_lab = np.stack([(xyz_to_lab(seen + step * unit) - base) / step for unit in np.eye(3)], axis=-1)
        slopes = np.einsum("nij,nq->niqj", root @ to_lab, terms).reshape(-1, matrix.size)
        rest = np.einsum("nij,nj->ni", root, lab - base).ravel()
        # The terms are so alike that they need a little ridge.
        normal = slopes.T @ slopes + 0.01 * np.eye(matrix.size)
        matrix = matrix + np.linalg.solve(normal, slopes.T @ rest).reshape(matrix.shape)
    return matrix.ravel()


def write_camera_prior(folder: Path = HERE, count: int = _SENSORS) -> None:
    """Write mean and covariance of the coefficients over drawn sensors and lights."""
    rng = np.random.default_rng(_SEED)
    paints, lab = reflectances()
    drawn = []
    for _ in range(count):
        camera = paints @ (sensor(rng) * light(rng)[:, None])
        drawn.append(coefficients(camera / camera[18], lab))
    mean, covariance = np.mean(drawn, axis=0), np.cov(np.transpose(drawn))
    with (folder / "camera-prior.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["coefficient", "mean", *(f"covariance {k}" for k in range(len(mean)))])
        for k, row in enumerate(covariance):
            writer.writerow([k, *(f"{v:.7g}" for v in (mean[k], *row))])


if __name__ == "__main__":
    write_camera_prior()
