"""Real photographs of charts: half of the patches calibrate, the others are measured as if they were paint."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import load_chart
from swatchread.chart.patch_sampling import sample_chart
from swatchread.colour.cielab import delta_e_2000
from swatchread.correction.calibration import calibrate, choose_encoding
from swatchread.correction.uncertainty import estimate_uncertainty
from swatchread.errors import NoChartError, NoSwatchesError
from swatchread.note.card_warnings import chart_warnings
from swatchread.photo import load_photo
from swatchread.reading import read_card

REAL = Path(__file__).parent.parent.parent / "shared" / "photos"
#: A chequer of the 24 patches, and its other half; white and black always calibrate, for no paint is beyond them.
ENDS = np.isin(np.arange(24), [18, 23])
HALVES = [(np.add(*np.divmod(np.arange(24), 6)) % 2 == k) | ENDS for k in (0, 1)]
#: Measured medians 3.5, 4.9 and 2.1, and a fifth more: charts of unknown batch and age (about 1 by itself), copies
#: small and much compressed, lit unevenly with no bare ground beside the chart that could tell.
MOST = {"lu_d65_colorchecker.jpg": 4.3, "md_fish1.jpg": 5.9, "pt_target_img.png": 2.5}


def real(name):
    """Return the path of a photograph; skip, visibly, where it is not there."""
    if not (REAL / name).exists():
        pytest.skip(f"the photograph {name} is not beside this checkout")
    return REAL / name


def held_out(path):
    """CIEDE2000 and stated uncertainty of every patch, (24,) each, by the half that it is not in."""
    sample = choose_encoding(sample_chart(find_chart(load_photo(path), load_chart())))
    off, stated = np.full(24, np.nan), np.full(24, np.nan)
    for half in HALVES:
        calibration = calibrate(replace(sample, clipped=sample.clipped | ~half))
        told = ~half & ~sample.clipped
        read = estimate_uncertainty(calibration, sample.linear, np.zeros((24, 3)), sample.points)
        off[told] = delta_e_2000(read.lab, sample.find.chart.lab)[told]
        stated[told] = read.de00[told]
    return off, stated


@pytest.mark.parametrize("name", MOST)
def test_patches_that_were_not_used_come_right(name):
    off, stated = held_out(real(name))
    assert np.nanmedian(off) < MOST[name]
    known = ~np.isnan(off)
    assert (off <= 2 * stated)[known].mean() > 0.8


@pytest.mark.parametrize("name", ["md_fish1.jpg", "qj_passport.jpg", "ar_mini5.jpg"])
def test_the_panel_of_a_folding_chart_and_square_markers_are_no_card(name):
    with pytest.raises(NoSwatchesError):
        read_card(real(name))


@pytest.mark.parametrize("name", ["lu_d65_colorchecker.jpg", "pt_target_img.png"])
def test_a_chart_alone_is_found_and_no_card_beside_it(name):
    assert find_chart(load_photo(real(name)), load_chart()).others == ()
    with pytest.raises(NoSwatchesError):
        read_card(real(name))


def test_a_chart_of_140_patches_is_not_the_classic_one():
    with pytest.raises(NoChartError, match="more patches"):
        read_card(real("qj_dsg.png"))


@pytest.mark.parametrize(("name", "genuine"), [
    ("pc_copy.png", False),
    ("ar_classic2.jpg", True), ("ar_mini5.jpg", True), ("pt_target_img.png", True), ("qj_passport.jpg", True),
])  # fmt: skip
def test_a_copy_of_the_chart_is_doubted_and_a_genuine_one_is_not(name, genuine):
    calibration = calibrate(choose_encoding(sample_chart(find_chart(load_photo(real(name)), load_chart()))))
    assert ("chart_doubtful" in {w.code for w in chart_warnings(calibration)}) != genuine
