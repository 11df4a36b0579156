"""Pans of paint and palettes lie about on a table: what is read is the card beside the chart."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from swatchread.card.card_detection import find_card
from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.photo import load_photo
from swatchread.plane.rectification import rectify
from tests.scene import SceneSpec, draw, save

#: A small card beside the chart, and much free table.
CARD = SceneSpec(seed=41, width=1600, height=1200, rows=1, columns=2, chart_fraction=0.2, table="wood", fall_off=0.1)
#: Paint, BGR.
PAINTS = ((60, 90, 150), (90, 140, 200), (40, 60, 90), (60, 60, 170), (150, 120, 60), (40, 120, 60), (30, 190, 220))


def pan_box(picture, middle, side):
    """Draw a white box of twelve pans."""
    left, top = middle[0] - 2 * side, middle[1] - 3 * side // 2
    rim = side // 3
    cv2.rectangle(picture, (left - rim, top - rim), (left + 4 * side + rim, top + 3 * side + rim), (238,) * 3, -1)
    for k in range(12):
        x, y = left + side // 6 + k % 4 * side, top + side // 6 + k // 4 * side
        cv2.rectangle(
            picture,
            (x, y),
            (x + side * 2 // 3, y + side * 2 // 3),
            tuple(level + k // 7 * 40 for level in PAINTS[k % 7]),
            -1,
        )


def palette(picture, middle, side):
    """Draw a round white palette with seven heaps of paint along its rim."""
    x, y = middle
    cv2.ellipse(picture, (x, y), (2 * side, side * 3 // 2), 0, 0, 360, (240,) * 3, -1, cv2.LINE_AA)
    for k, paint in enumerate(PAINTS):
        turn = 2 * np.pi * k / len(PAINTS)
        heap = (round(x + 1.4 * side * np.cos(turn)), round(y + side * np.sin(turn)))
        cv2.circle(picture, heap, side // 3, paint, -1, cv2.LINE_AA)


def free_places(scene, reach, count):
    """Return the middles of places as far as possible from card and chart, and from one another."""
    free = np.ones((scene.truth.spec.height, scene.truth.spec.width), np.uint8)
    for corners in (scene.truth.card_corners_px, scene.truth.chart_corners_px):
        cv2.fillConvexPoly(free, np.rint(np.array(corners)).astype(np.int32), 0)
    free[: reach + 1] = free[-reach - 1 :] = free[:, : reach + 1] = free[:, -reach - 1 :] = 0
    places = []
    for _ in range(count):
        away = cv2.distanceTransform(free, cv2.DIST_L2, 5)
        y, x = np.unravel_index(np.argmax(away), away.shape)
        assert away[y, x] > 1.5 * reach
        places.append((int(x), int(y)))
        cv2.circle(free, places[-1], 2 * reach, 0, -1)
    return places


@pytest.mark.parametrize("thing", [pan_box, palette])
@pytest.mark.parametrize("spec", [CARD, replace(CARD, seed=42, rows=1, columns=3, table="white", ground="toned")])
def test_the_card_beside_the_chart_is_read_and_neither_pans_nor_palettes(thing, spec, tmp_path):
    scene = draw(spec)
    path = save(scene, tmp_path / "table.png")
    picture = cv2.imread(str(path))
    for middle in free_places(scene, 110, 1):
        thing(picture, middle, 50)
    cv2.imwrite(str(path), cv2.GaussianBlur(picture, (0, 0), 0.7))
    table = rectify(sample_chart(find_chart(load_photo(path), load_chart())))
    card = find_card(table)
    middles = card.plane.photo_points(np.array([cell.blob.centre for cell in card.grid.cells]))
    outlines = [np.asarray(s.outline_px, np.float32) for s in scene.truth.swatches]
    held = [sum(cv2.pointPolygonTest(o, (float(x), float(y)), False) > 0 for x, y in middles) for o in outlines]
    assert held == [1] * len(outlines)
    assert len(middles) == len(outlines)
