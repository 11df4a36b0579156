"""What could be had: limits of a photo, and of a camera with a chart, from the simulator's truth.

All fits go from camera values to XYZ (D50) by root-polynomials of degree 2 (Finlayson, Mackiewicz & Hurlbert 2015,
expansion by colour-science).

- "photo": the JPEG with its rendering undone exactly and the true light divided out; plain least squares in XYZ on
  all uncovered patches, swatches at their true places. Its tail is clipped data.
- "photo, unclipped": the same, clipped patches left out of the fit.
- "chart only": noise-free camera values, fitted on the chart by CIEDE2000.
- "sees all": noise-free camera values, fitted by CIEDE2000 on chart and swatches together: no root-polynomial of this
  degree does much better.
"""

import numpy as np

from tests.scene.spectra import delta_e_2000, lab_of, xyz_of

from .matching import in_outline
from .measure import CLIPPED

_WHITE = xyz_of(np.ones(71))


def to_lab(xyz):
    """CIELAB (D50, 2°) by colour-science; XYZ has white Y = 1."""
    import colour

    return colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(_WHITE))


def to_xyz(lab):
    import colour

    return colour.Lab_to_XYZ(lab, colour.XYZ_to_xy(_WHITE))


def expand(camera):
    """Root-polynomial expansion of degree 2, (n, 6)."""
    import colour

    return colour.characterisation.polynomial_expansion_Finlayson2015(np.maximum(camera, 1e-6), 2)


def plain_fit(camera, xyz):
    """Least squares in XYZ: the matrix (6, 3)."""
    return np.linalg.lstsq(expand(camera), xyz, rcond=None)[0]


def _roots(lab):
    """Square roots (n, 3, 3) of CIEDE2000's local metric: ΔE00² ≈ |R · ΔLab|², from differences either side."""
    step, unit = 0.05, np.eye(3)
    pairs = unit[:, None] + unit[None]
    single = delta_e_2000(lab[:, None] - unit * step / 2, lab[:, None] + unit * step / 2) ** 2
    double = delta_e_2000(lab[:, None, None] - pairs * step / 2, lab[:, None, None] + pairs * step / 2) ** 2
    metric = (double - single[:, :, None] - single[:, None, :]) / (2 * step**2)
    metric[:, range(3), range(3)] = single / step**2
    return np.linalg.cholesky(metric + 1e-6 * unit).transpose(0, 2, 1)


def fine_fit(camera, lab):
    """Matrix (6, 3) of least CIEDE2000 in the mean square, started from `plain_fit`."""
    from scipy.optimize import least_squares

    terms, roots, start = expand(camera), _roots(lab), plain_fit(camera, to_xyz(lab))

    def residual(vector):
        return np.einsum("nij,nj->ni", roots, to_lab(terms @ vector.reshape(6, 3)) - lab).ravel()

    return least_squares(residual, start.ravel(), method="lm", max_nfev=4000).x.reshape(6, 3)


def undone(drawn, outlines_px, shrink):
    """Camera values (n, 3) of regions of the JPEG, the rendering undone and the true light divided out.

    A pixel more than three robust deviations of brightness from its region's median (a glint) is left out.
    """
    pixels, means = drawn.pixels(), []
    for outline in outlines_px:
        points = in_outline(outline, shrink, 2000, drawn.truth.size_px)
        code = pixels[points[:, 1], points[:, 0]] / 255.0
        camera = drawn.scene.undo_rendering(code, points) / drawn.scene.light_at(points)[:, None]
        brightness = camera.sum(axis=1)
        off = np.abs(brightness - np.median(brightness))
        means.append(camera[off <= 3 * 1.4826 * np.median(off) + 1e-9].mean(axis=0))
    return np.array(means)


def limits_of(drawn, swatches):
    """CIELAB (n, 3) of swatches by each limit."""
    truth = drawn.truth
    usable = ~truth.chart_covered
    patches = undone(drawn, truth.chart_outlines_px[usable], 0.7)
    paints = undone(drawn, [s.outline_px for s in swatches], 0.8)
    chart_lab = truth.chart_lab[usable]
    whole = truth.chart_clipped[usable] <= CLIPPED
    clean, swatch_lab = np.array([s.camera for s in swatches]), np.array([lab_of(s.reflectance) for s in swatches])
    both = (np.vstack([truth.chart_camera, clean]), np.vstack([truth.chart_lab, swatch_lab]))
    return {
        "photo": to_lab(expand(paints) @ plain_fit(patches, to_xyz(chart_lab))),
        "photo, unclipped": to_lab(expand(paints) @ plain_fit(patches[whole], to_xyz(chart_lab[whole]))),
        "chart only": to_lab(expand(clean) @ fine_fit(truth.chart_camera, truth.chart_lab)),
        "sees all": to_lab(expand(clean) @ fine_fit(*both)),
    }
