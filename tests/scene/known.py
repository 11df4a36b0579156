"""Working out the truth of a painted scene."""

from dataclasses import asdict, replace

import cv2
import numpy as np

from . import layout, paints, spectra, table, truth
from .canvas import coverage
from .picture import NOWHERE, under_both


def flipped(points_px, spec):
    """Points in a mirrored photo to the unmirrored one, and back."""
    if not spec.mirrored:
        return points_px
    return points_px * [-1, 1] + [spec.view_size[0] - 1, 0]


def _clipped(picture, rendering, where, mask):
    """Share of a region's masked pixels that the sensor or the rendering clips."""
    rows, columns = where
    sensor = picture.lit(rows, columns)[mask] * rendering.exposure
    balanced = sensor * rendering.gains
    linear = np.minimum(balanced, 1) @ rendering.matrix.T
    code = rendering.tone(np.clip(linear, 0, 1)) @ rendering.push.T
    bad = (balanced >= 1).any(-1) | (linear <= 0).any(-1) | (code >= 254.5 / 255).any(-1) | (code <= 0.5 / 255).any(-1)
    return float(bad.mean()) if bad.size else 0.0


def _at_reference(picture, values):
    """Camera values (..., channels) under the light at the reference place: (..., 3)."""
    place = picture.plan.view.project(picture.light.reference_mm[None])
    return under_both(values, picture.light.second_share_at(place)[0])


def _contrast(picture, rendering, centre_px, colour):
    """Greatest difference in 8-bit codes between a colour and the ground when both are rendered at one place."""
    ground = picture.palette.of(paints.ground_reflectance(picture.spec.ground))
    both = under_both(np.stack([colour, ground]), picture.light.second_share_at(centre_px)[0])
    sensor = both * picture.light.at_px(centre_px)[0] * rendering.exposure
    balanced = np.minimum(np.clip(sensor, 0, 1) * rendering.gains, 1)
    code = rendering.tone(np.clip(balanced @ rendering.matrix.T, 0, 1)) @ rendering.push.T
    return float(np.abs(np.diff(np.clip(code, 0, 1) * 255, axis=0)).max())


def _swatch_truth(picture, rendering, cell):
    mixture = picture.mixtures[cell.row, cell.column]
    centre = picture.plan.view.project(cell.centre_mm[None])
    painted = picture.painted[cell.row, cell.column]
    return truth.SwatchTruth(
        id=f"r{cell.row}c{cell.column}",
        row=cell.row,
        column=cell.column,
        centre_px=flipped(centre, picture.spec)[0],
        outline_px=flipped(picture.plan.view.project(cell.outline_mm), picture.spec),
        lab=spectra.lab_of(mixture.reflectance),
        reflectance=mixture.reflectance,
        recipe=mixture.recipe,
        is_flesh_or_earth=mixture.is_flesh_or_earth,
        camera=_at_reference(picture, picture.palette.of(mixture.reflectance)),
        light=float(picture.light.at_px(centre)[0]),
        contrast=_contrast(picture, rendering, centre, picture.palette.of(mixture.reflectance)),
        clipped=1.0 if painted is None else _clipped(picture, rendering, painted[0], painted[1]),
        glint=(cell.row, cell.column) in picture.glinting,
        shown=_shown(picture, cell),
    )


def _shown(picture, cell):
    """Share of a swatch inside the frame and under no overlay."""
    outline = picture.plan.view.project(cell.outline_mm)
    found = coverage(outline, picture.plan.view.size, 4)
    if found is None:
        return 0.0
    where, alpha = found
    free = 1.0 if picture.overlay is None else 1 - picture.overlay[where]
    return float(min((alpha * free).sum() / max(cv2.contourArea(outline.astype(np.float32)), 1e-6), 1.0))


def _under_overlay(picture, patches_px):
    """Patches (n,) of which a tenth or more lies under the overlay."""
    if picture.overlay is None:
        return np.zeros(len(patches_px), bool)
    found = [coverage(patch, picture.plan.view.size, 2) for patch in patches_px]
    return np.array([f is not None and (f[1] * picture.overlay[f[0]]).sum() > 0.1 * f[1].sum() for f in found])


def _second_card(picture, rendering):
    """Truth fields of a second card."""
    if not picture.second_card:
        return {}
    spec, mixtures, painted = picture.second_card
    own = replace(
        picture, spec=spec, plan=picture.plan.second, mixtures=mixtures, painted=painted, glinting=set(), second_card=()
    )
    return {
        "second_card": tuple(_swatch_truth(own, rendering, cell) for cell in own.plan.cells),
        "second_card_px": flipped(own.plan.view.project(own.plan.card_mm), spec),
    }


def _chart_truth(picture, rendering):
    """Truth fields of the chart."""
    spec, plan = picture.spec, picture.plan
    patches = plan.view.project(layout.chart_patches(spec).reshape(-1, 2)).reshape(-1, 4, 2)
    centres = plan.view.project(layout.chart_patches(spec).mean(1))
    inside = ((patches >= 0) & (patches <= np.asarray(plan.view.size) - 1)).all((1, 2))
    clipped = np.zeros(len(patches))
    for i in np.flatnonzero(inside):
        low, high = np.ceil(patches[i].min(0)).astype(int), np.floor(patches[i].max(0)).astype(int)
        quarter = np.maximum((high - low) // 4, 1)
        (left, top), (right, bottom) = low + quarter, high - quarter
        clipped[i] = _clipped(picture, rendering, np.s_[top:bottom, left:right], ...)
    return {
        "chart_corners_px": flipped(plan.view.project(plan.chart_mm), spec) if spec.chart_present else NOWHERE,
        "chart_patches_px": flipped(centres, spec),
        "chart_outlines_px": flipped(patches, spec),
        "chart_lab": spectra.lab_of(picture.chart_reflectance),
        "chart_camera": _at_reference(picture, picture.palette.of(picture.chart_reflectance)),
        "chart_light": picture.light.at_px(centres),
        "chart_covered": picture.covered | ~inside | _under_overlay(picture, patches),
        "chart_glare": table.glare_at(spec, plan, centres),
        "chart_clipped": clipped,
        "chart_fraction": plan.chart_fraction,
        "strip_lab": spectra.lab_of(spectra.strip_reflectances(spec.strip_size, spec.strip_seed))
        if spec.strip_beside
        else np.zeros((0, 3)),
        "second_chart_px": flipped(picture.second_chart_px, spec),
    }


def truth_of(picture, rendering):
    spec, plan = picture.spec, picture.plan
    return truth.Truth(
        size_px=spec.view_size,
        card_corners_px=flipped(plan.view.project(plan.card_mm), spec) if spec.card_present else NOWHERE,
        ground_lab=spectra.lab_of(paints.ground_reflectance(spec.ground)),
        swatches=tuple(_swatch_truth(picture, rendering, cell) for cell in plan.cells),
        missing=tuple(f"r{row}c{column}" for row, column, _, _ in plan.empty_cells),
        rendering=asdict(rendering),
        spec=spec,
        **_chart_truth(picture, rendering),
        **_second_card(picture, rendering),
    )
