"""Single swatches that a painter adds and removes, and lines that part rows and columns."""

from dataclasses import replace

import numpy as np
import pytest

from swatchread.errors import PointedPlaceError
from swatchread.grid.swatch_grid import Grid
from swatchread.hints.manual_hints import GridLines, ManualHints
from swatchread.hints.pointed_swatches import correct_swatches
from swatchread.reading import read_card
from tests.scene import SceneSpec

SPEC = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


@pytest.fixture(scope="module")
def taken(photograph):
    path, scene = photograph(SPEC)
    return path, {s.id: np.array(s.centre_px) for s in scene.truth.swatches}, read_card(path)


def ids(note):
    return {s.id for s in note.swatches}


def middle(swatch):
    return np.mean(swatch.outline, axis=0)


def line_between(places, one, other, ends):
    """Return a line through the middle between two swatches, along the way between `ends`."""
    half = (places[one] + places[other]) / 2.0
    way = places[ends[1]] - places[ends[0]]
    return [half - way, half + way]


def lines(places, shift=0.0):
    """Return the lines between the rows and columns of a card of three times three swatches."""
    down = places["r2c2"] - places["r1c2"]
    rows = [np.array(line_between(places, f"r{k}c2", f"r{k + 1}c2", ("r2c1", "r2c3"))) for k in (1, 2)]
    columns = [np.array(line_between(places, f"r2c{k}", f"r2c{k + 1}", ("r1c2", "r3c2"))) for k in (1, 2)]
    return GridLines(np.array(rows) + shift * down, np.array(columns))


def test_a_mark_that_is_clicked_away_is_gone_and_the_others_keep_their_colours(taken):
    path, places, before = taken
    note = read_card(path, pointed=ManualHints(removed=places["r2c2"][None])).note
    assert ids(note) == ids(before.note) - {"r2c2"}
    for swatch in note.swatches:
        np.testing.assert_allclose(swatch.lab, before.note.swatch(swatch.id).lab, atol=0.1)


def test_rows_are_counted_anew_when_a_whole_row_was_stains(taken):
    path, places, before = taken
    note = read_card(path, pointed=ManualHints(removed=np.array([places[f"r1c{c}"] for c in (1, 2, 3)]))).note
    assert ids(note) == {f"r{r}c{c}" for r in (1, 2) for c in (1, 2, 3)}
    np.testing.assert_allclose(note.swatch("r1c1").lab, before.note.swatch("r2c1").lab, atol=0.3)


def test_a_missed_swatch_that_is_clicked_in_has_its_colour_and_its_place(taken):
    """What was seen there is forgotten, so that only the place that was pointed at tells of it."""
    _, places, before = taken
    card = before.sample.card
    gone = next(c for c in card.grid.cells if c.id == "r3c2").blob
    rest = tuple(cell for cell in card.grid.cells if cell.blob is not gone)
    without = replace(card, grid=replace(card.grid, cells=rest), seen=tuple(b for b in card.seen if b is not gone))
    found = correct_swatches(without, ManualHints(added=places["r3c2"][None]))
    assert {c.id for c in found.grid.cells} == {c.id for c in card.grid.cells}
    again = next(c for c in found.grid.cells if c.id == "r3c2").blob
    assert again.area > 0.5 * gone.area
    assert again.area < 1.5 * gone.area
    np.testing.assert_allclose(again.centre, gone.centre, atol=0.2 * gone.size.mean())


def test_lines_where_the_rows_part_change_nothing(taken):
    path, places, before = taken
    note = read_card(path, pointed=ManualHints(lines=lines(places))).note
    assert ids(note) == ids(before.note)
    for swatch in note.swatches:
        assert np.linalg.norm(middle(swatch) - places[swatch.id]) < 15


def test_a_line_through_the_paint_cuts_it(taken):
    path, places, _ = taken
    through = lines(places)
    cut = GridLines(np.concatenate([through.rows, [[places["r1c1"], places["r1c3"]]]]), through.columns)
    note = read_card(path, pointed=ManualHints(lines=cut)).note
    assert {s.row for s in note.swatches} == {1, 2, 3, 4}
    assert len(note.swatches) == 12


def test_without_lines_between_them_rows_are_one(taken):
    path, places, _ = taken
    whole = lines(places)
    note = read_card(path, pointed=ManualHints(lines=GridLines(whole.rows[:0], whole.columns))).note
    assert ids(note) == {"r1c1", "r1c2", "r1c3"}


def test_a_card_is_turned_by_quarters(taken):
    path, places, before = taken
    turned = read_card(path, pointed=ManualHints(quarters=1)).note
    # On a card that lies turned clockwise by a quarter, the upright card's first swatch is in the upper right corner.
    np.testing.assert_allclose(middle(turned.swatch("r1c1")), middle(before.note.swatch("r1c3")), atol=3)
    whole = read_card(path, pointed=ManualHints(quarters=4)).note
    np.testing.assert_allclose(middle(whole.swatch("r1c1")), places["r1c1"], atol=15)


def test_pointing_at_nothing_is_refused(taken):
    path, _, before = taken
    edge = before.sample.card.corners.mean(axis=0) * 0.0 + [3.0, 3.0]
    with pytest.raises(PointedPlaceError) as caught:
        read_card(path, pointed=ManualHints(added=np.array([edge * 1e3])))
    assert caught.value.remedy


def test_a_grid_is_the_same_without_corrections(taken):
    card = taken[2].sample.card
    assert correct_swatches(card, ManualHints()) is card
    assert isinstance(card.grid, Grid)
