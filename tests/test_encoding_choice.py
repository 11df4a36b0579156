"""Which encoding a photo has that does not say: linear light is told from sRGB by the chart."""

import numpy as np
import pytest
import tifffile

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.colour.cielab import delta_e_2000
from swatchread.correction.calibration import choose_encoding
from swatchread.photo import load_photo
from swatchread.reading import read_card
from tests.scene import SceneSpec
from tests.scene.render import develop_float

SPEC = SceneSpec(seed=23, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36, white_balance="correct")


def developed(scene, linear):
    """Return 16-bit pixels of a scene: its sensor, balanced (linear), or its rendering."""
    values = scene.sensor() * scene.rendering.gains if linear else develop_float(scene)
    return (np.clip(values, 0, 1) * 65535 + 0.5).astype(np.uint16)


@pytest.fixture
def tiff(photograph, tmp_path):
    """Write a scene as a TIFF of 16 bits that names no encoding; return the scene and the file."""

    def write(linear):
        _, scene = photograph(SPEC)
        tifffile.imwrite(tmp_path / "card.tif", developed(scene, linear), photometric="rgb", metadata=None)
        return scene, tmp_path / "card.tif"

    return write


def test_a_tiff_whose_chart_looks_as_in_srgb_is_taken_for_srgb(tiff):
    _, path = tiff(linear=False)
    encoding = choose_encoding(sample_chart(find_chart(load_photo(path), load_chart()))).find.photo.encoding
    assert (encoding.scene_linear, encoding.name) == (False, "assumed sRGB")


def test_a_linear_tiff_is_read_as_well_as_its_colours_allow(tiff):
    """CIEDE2000 against the simulator's truth; the note says what was found, and nothing is said to be assumed."""
    scene, path = tiff(linear=True)
    note = read_card(path).note
    true = {(s.row, s.column): s.lab for s in scene.truth.swatches}
    off = [delta_e_2000(np.array(s.lab), true[s.row, s.column]) for s in note.swatches]
    assert len(off) >= 8
    assert np.median(off) < 1.0
    assert note.photo.profile == "linear, as the chart shows"
    assert "untagged" not in [w.code for w in note.warnings]


def test_a_photo_of_eight_bits_is_not_asked(photograph):
    path, _ = photograph(SPEC)
    sample = sample_chart(find_chart(load_photo(path), load_chart()))
    assert choose_encoding(sample) is sample
