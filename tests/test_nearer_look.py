"""A nearer look at a part of the table: the same places with more pixels, so that a small card shows its swatches."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.card.card_detection import find_card
from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.photo import load_photo
from swatchread.photo.geometry import project
from swatchread.plane.finder_settings import settings, using
from swatchread.plane.rectification import look_nearer, rectify
from tests.scene import SceneSpec, draw, save

#: A small card beside a small chart on a large table.
FAR = SceneSpec(seed=71, width=2400, height=1800, rows=3, columns=3, chart_fraction=0.09, fall_off=0.1)


def table_of(spec, folder):
    scene = draw(spec)
    photo = load_photo(save(scene, folder / "far.jpg"))
    return scene.truth, rectify(sample_chart(find_chart(photo, load_chart())))


@pytest.fixture(scope="module")
def far(tmp_path_factory):
    return table_of(FAR, tmp_path_factory.mktemp("far"))


def colours_at(plane, places):
    """Return the colours of a plane at photo pixels, each averaged over five by five of its pixels."""
    x, y = np.rint(project(np.linalg.inv(plane.to_photo), places)).astype(int).T
    return np.array([plane.picture[j - 2 : j + 3, i - 2 : i + 3].mean(axis=(0, 1)) for i, j in zip(x, y, strict=True)])


def test_a_nearer_look_shows_the_same_places_with_more_pixels(far):
    truth, table = far
    middles = np.array([np.mean(s.outline_px, axis=0) for s in truth.swatches])
    for nearer in (look_nearer(table), look_nearer(table, np.array(truth.card_corners_px))):
        assert nearer.resolution > 1.3 * table.resolution
        assert nearer.table is table
        x, y = project(np.linalg.inv(nearer.to_photo), middles).T
        shown = (x > 3) & (y > 3) & (x < nearer.outside.shape[1] - 3) & (y < nearer.outside.shape[0] - 3)
        assert shown.sum() >= 3
        np.testing.assert_allclose(colours_at(nearer, middles[shown]), colours_at(table, middles[shown]), atol=12)


def test_what_is_hidden_on_the_table_is_hidden_in_a_nearer_look(far):
    truth, table = far
    outline = np.array(truth.card_corners_px)
    x, y = np.rint(project(np.linalg.inv(look_nearer(table).to_photo), outline.mean(axis=0)[None]))[0].astype(int)
    assert not look_nearer(table).outside[y, x]
    assert look_nearer(table.without([outline])).outside[y, x]
    assert look_nearer(table).without([outline]).table.outside.sum() > table.outside.sum()


def test_there_is_no_nearer_look_where_the_photo_holds_no_more(tmp_path):
    _, table = table_of(replace(FAR, width=1000, height=750, chart_fraction=0.36), tmp_path)
    assert look_nearer(table) is None


def test_a_small_card_on_a_large_table_shows_all_its_swatches(far):
    truth, table = far
    assert len(find_card(table).grid.cells) == len(truth.swatches)
    card = find_card(table)
    assert card.covers(table).sum() == pytest.approx(
        card.surface.card.sum() * (table.resolution / card.plane.resolution) ** 2, rel=0.05
    )
    with using(replace(settings(), nearer=False)):
        assert len(find_card(table).grid.cells) <= len(truth.swatches)
