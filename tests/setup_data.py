"""A copy stand in the simulator: one camera, one light, one place; cards come and go, and the chart is taken away."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from tests.scene import SceneSpec, draw, save

STAND = SceneSpec(
    seed=31, width=1600, height=1200, rows=4, columns=3, writing="none", white_balance="none", exposure=-0.2, tilt=4.0
)


def with_chart(path, spec=STAND):
    """Shoot card and chart; return the scene."""
    scene = draw(spec)
    save(scene, path)
    return scene


def without_chart(path, spec, **changes):
    """Shoot another card on the same stand, a cloth over the place of the chart; return the scene."""
    scene = draw(replace(spec, card_seed=spec.of_card + 1000, **changes))
    corners = scene.truth.chart_corners_px
    middle = corners.mean(axis=0)
    cover = np.rint(middle + 1.16 * (corners - middle)).astype(np.int32)
    rng = np.random.default_rng(spec.seed)
    cloth = np.clip(rng.normal([96, 84, 72], 3.0, scene.rgb.shape), 0, 255).astype(np.uint8)
    mask = cv2.fillConvexPoly(np.zeros(scene.rgb.shape[:2], np.uint8), cover, 1).astype(bool)
    scene = replace(scene, rgb=np.where(mask[..., None], cloth, scene.rgb))
    save(scene, path)
    return scene
