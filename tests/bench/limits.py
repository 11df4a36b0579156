"""What could be had of a photo, from the simulator's truth.

Fits go from camera values to XYZ (D50) by root-polynomials of degree 2 (Finlayson, Mackiewicz & Hurlbert 2015,
expansion by colour-science).

- "photo": the JPEG with its rendering undone exactly and the true light divided out; plain least squares in XYZ on
  all uncovered patches, swatches at their true places. Its tail is clipped data.
- "photo, unclipped": the same, clipped patches left out of the fit.
"""

import colour
import numpy as np

from tests.scene.spectra import lab_of_xyz, xyz_of

from .matching import in_outline
from .measure import CLIPPED

_WHITE_XY = colour.XYZ_to_xy(xyz_of(np.ones(71)))


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
    return np.maximum(means, 1e-6)


def _corrected(paints, patches, xyz):
    """XYZ of paints by a root-polynomial of degree 2 fitted to patches by least squares."""
    return colour.colour_correction(paints, patches, xyz, method="Finlayson 2015", degree=2)


def limits_of(drawn, swatches):
    """CIELAB (n, 3) of swatches by each limit."""
    truth = drawn.truth
    usable = ~truth.chart_covered
    patches = undone(drawn, truth.chart_outlines_px[usable], 0.7)
    paints = undone(drawn, [s.outline_px for s in swatches], 0.8)
    xyz = colour.Lab_to_XYZ(truth.chart_lab[usable], _WHITE_XY)
    whole = truth.chart_clipped[usable] <= CLIPPED
    return {
        "photo": lab_of_xyz(_corrected(paints, patches, xyz)),
        "photo, unclipped": lab_of_xyz(_corrected(paints, patches[whole], xyz[whole])),
    }
