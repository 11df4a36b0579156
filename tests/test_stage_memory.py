"""A photo that is read again with other hints: what they do not change is kept, and nothing comes out otherwise."""

import shutil
from dataclasses import replace

import numpy as np
import pytest

from swatchread import reading
from swatchread.errors import NoSwatchesError, PhotoError
from swatchread.hints.manual_hints import ManualHints, clockwise
from swatchread.photo.stage_memory import StageMemory
from swatchread.reading import read_card
from tests.scene import SceneSpec

SPEC = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


@pytest.fixture(scope="module")
def photo(photograph):
    return photograph(SPEC)


@pytest.fixture
def decoded(monkeypatch):
    """Which photos were decoded."""
    done = []
    load = reading.load_photo
    monkeypatch.setattr(reading, "load_photo", lambda path: done.append(path) or load(path))
    return done


def colours(read):
    return {swatch.id: (*swatch.lab, swatch.uncertainty.de00) for swatch in read.note.swatches}


def corrections(truth):
    """Hints as a painter gives them one after another: each changes an earlier or a later stage than the last."""
    card = clockwise(np.array(truth.card_corners_px), "card")
    chart = clockwise(np.array(truth.chart_corners_px), "chart")
    stain = np.array([truth.swatches[4].centre_px])
    plain = ManualHints()
    return [
        plain,
        replace(plain, quarters=2),
        replace(plain, removed=stain),
        replace(plain, card=card + [3.0, 1.0]),
        replace(plain, card=card + [3.0, 1.0], quarters=1),
        replace(plain, chart=chart),
        replace(plain, chart=chart, card=card),
        plain,
    ]


def test_a_reading_with_memory_equals_one_without(photo):
    path, scene = photo
    memory = StageMemory()
    for hints in corrections(scene.truth):
        remembered, fresh = (colours(read_card(path, pointed=hints, memory=kept)) for kept in (memory, None))
        assert remembered.keys() == fresh.keys()
        for swatch, values in fresh.items():
            assert remembered[swatch] == pytest.approx(values, abs=1e-9)


def test_a_correction_begins_at_the_first_stage_that_it_changes(photo, decoded, monkeypatch):
    path, scene = photo
    searched = []
    find = reading.find_cards
    monkeypatch.setattr(reading, "find_cards", lambda plane: searched.append(plane) or find(plane))
    memory = StageMemory()
    chart = clockwise(np.array(scene.truth.chart_corners_px), "chart")
    for hints, searches in ((ManualHints(), 1), (ManualHints(quarters=2), 1), (ManualHints(chart=chart), 2)):
        read_card(path, pointed=hints, memory=memory)
        assert (len(decoded), len(searched)) == (1, searches)


def test_a_file_that_was_written_again_is_decoded_again(photo, decoded, photograph, tmp_path):
    other, _ = photograph(replace(SPEC, seed=12))
    path, memory = tmp_path / "card.jpg", StageMemory()
    shutil.copyfile(photo[0], path)
    first = colours(read_card(path, memory=memory))
    path.unlink()
    shutil.copyfile(other, path)
    assert colours(read_card(path, memory=memory)) != first
    assert len(decoded) == 2
    path.unlink()
    with pytest.raises(PhotoError):
        read_card(path, memory=memory)


def test_a_refusal_leaves_a_memory_that_can_be_used(photo):
    path, scene = photo
    memory = StageMemory()
    everything = np.array([swatch.centre_px for swatch in scene.truth.swatches])
    with pytest.raises(NoSwatchesError):
        read_card(path, pointed=ManualHints(removed=everything), memory=memory)
    assert len(colours(read_card(path, memory=memory))) == len(scene.truth.swatches)
