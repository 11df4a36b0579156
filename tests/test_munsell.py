"""Munsell notation against the renotation chips and colour-science's own conversion, under illuminant C."""

import importlib.util
import json
import re
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchread.colour.cielab import D50_XYZ, adapt, luminance_of_value, value_of_lab, xyz_to_lab
from swatchread.colour.munsell import C_XYZ, FAMILIES, munsell_hvc, munsell_notation
from swatchread.colour.shipped_data import calibration_folder

NOTATION = re.compile(r"(\d+\.\d)(R|YR|Y|GY|G|BG|B|PB|P|RP) (\d+\.\d)/(\d+\.\d)")


def hue_number(notation):
    number, family = re.fullmatch(r"([\d.]+)([A-Z]+)", notation).groups()
    return FAMILIES.index(family) * 10 + float(number)


def hue_apart(one, two):
    return abs((one - two + 50) % 100 - 50)


def real_chips(low, high):
    """Hue, value and chroma of the chips of values 2 to 8 with a chroma in a range, and what is made of them."""
    import colour

    rows = [
        (hue_number(hue), value, chroma, x, y)
        for (hue, value, chroma), (x, y, _) in colour.notation.MUNSELL_COLOURS_REAL
        # 10Y 4/2 is x = 0.3436 in this set and 0.3476 in the whole one; only the latter lies between its neighbours.
        if 2 <= value <= 8 and low <= chroma <= high and (hue, value, chroma) != ("10Y", 4, 2)
    ]
    hue, value, chroma, x, y = np.array(rows).T
    xyz = np.stack([x / y, np.ones_like(x), (1 - x - y) / y], axis=-1) * luminance_of_value(value)[:, None]
    return hue, value, chroma, munsell_hvc(xyz_to_lab(adapt(xyz, C_XYZ, D50_XYZ)))


def test_every_chip_that_paint_can_reach_comes_back():
    """Values 2 to 8, chroma up to 12: hue within 0.1 of its hundred steps, chroma within 0.1."""
    hue, value, chroma, got = real_chips(2, 12)
    assert len(hue) > 1500
    assert hue_apart(got[:, 0], hue).max() < 0.1
    assert np.abs(got[:, 1] - value).max() < 0.001
    assert np.abs(got[:, 2] - chroma).max() < 0.1


def test_the_strongest_chips_come_back():
    hue, _, chroma, got = real_chips(14, 20)
    assert hue_apart(got[:, 0], hue).max() < 0.5
    assert np.abs(got[:, 2] - chroma).max() < 0.5


#: CIELAB D50 of paint colours: two of flesh, a shadow, foliage, sky, a strong red.
PAINTS = (
    (65.0, 18.0, 17.0),
    (52.0, 22.0, 30.0),
    (35.0, 3.0, 8.0),
    (43.0, -13.0, 22.0),
    (50.0, -4.0, -22.0),
    (42.0, 53.0, 28.0),
)


@pytest.mark.parametrize("lab", PAINTS)
def test_agrees_with_colour_science(lab):
    """Its own inversion (slow, one colour at a time) of the same table, fed with the same colour under C."""
    import colour

    xyz = colour.Lab_to_XYZ(lab, colour.XYZ_to_xy(D50_XYZ))
    under_c = adapt(xyz, D50_XYZ, C_XYZ)
    with warnings.catch_warnings():  # it doubts colours near black that are well inside the limits
        warnings.simplefilter("ignore", colour.utilities.ColourUsageWarning)
        wanted = colour.notation.munsell.xyY_to_munsell_specification(colour.XYZ_to_xyY(under_c))
    hue, value, chroma = munsell_hvc([lab])[0]
    # The specification is [hue in its family, value, chroma, family code]; codes 1 = B ... 10 = BG, downwards.
    family = (7 - int(wanted[3]) + 10) % 10
    assert hue_apart(hue, FAMILIES.index(FAMILIES[family]) * 10 + wanted[0]) < 0.6
    assert value == pytest.approx(wanted[1], abs=0.02)
    assert chroma == pytest.approx(wanted[2], abs=0.15)


def test_adaptation_agrees_with_colour_science():
    import colour

    xyz = np.random.default_rng(2).uniform(0.01, 1, (20, 3))
    wanted = colour.adaptation.chromatic_adaptation_VonKries(xyz, D50_XYZ, C_XYZ, transform="Bradford")
    np.testing.assert_allclose(adapt(xyz, D50_XYZ, C_XYZ), wanted, atol=1e-4)


def test_illuminant_c_has_its_published_chromaticity():
    """CIE 15: C under the 2 degree observer, as carried by colour-science."""
    import colour

    published = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["C"]
    np.testing.assert_allclose(C_XYZ[:2] / C_XYZ.sum(), published, atol=1e-4)


@pytest.mark.parametrize("lightness", [0, 5, 20.24, 51.0, 90.18, 100])
def test_greys_are_neutral(lightness):
    value = float(value_of_lab([lightness, 0, 0]))
    assert munsell_notation([[lightness, 0, 0]]) == [f"N {value:.1f}"]


def test_vectorised():
    """Many at once are what each is alone, and one alone needs no list of lists."""
    together = munsell_notation(np.array(PAINTS))
    for text, hvc in zip(together, munsell_hvc(PAINTS), strict=True):
        hue, family, value, chroma = NOTATION.fullmatch(text).groups()
        assert (hue_number(hue + family), float(value), float(chroma)) == pytest.approx(tuple(hvc), abs=0.051)
    assert together == [munsell_notation([lab])[0] for lab in PAINTS]
    assert munsell_notation(PAINTS[0]) == together[:1]


@settings(deadline=None, max_examples=200)
@given(st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128)))
def test_anything_gets_a_notation(lab):
    """Impossible colours too: a photo's fit may go beyond what exists, and must not fail on it."""
    text = munsell_notation([lab])[0]
    assert NOTATION.fullmatch(text) or re.fullmatch(r"N \d+\.\d", text)
    found = NOTATION.fullmatch(text)
    if found:
        assert 0.0 < float(found[1]) <= 10.0


def test_hues_go_round_without_a_gap():
    """Round the wheel at one value and chroma, the notation's hue rises all the way and closes."""
    angle = np.radians(np.arange(0, 360, 2.0))
    lab = np.stack([np.full_like(angle, 60.0), 25 * np.cos(angle), 25 * np.sin(angle)], axis=-1)
    hue = munsell_hvc(lab)[:, 0]
    steps = (np.diff(np.append(hue, hue[0])) + 50) % 100 - 50
    assert (steps > 0).all()
    assert steps.sum() == pytest.approx(100, abs=1e-6)
    assert steps.max() < 2.0


# --- the data files agree with where they come from


def test_data_files_are_what_build_makes(tmp_path, monkeypatch):
    """Numbers to the last printed place but one: libraries may differ in rounding from version to version."""
    spec = importlib.util.spec_from_file_location("calibration_build", calibration_folder() / "build.py")
    build = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(build)
    monkeypatch.setattr(build, "HERE", tmp_path)
    for name in build.CLASSIC:
        build.write_classic(name)
    build.write_munsell()
    build.write_weights()
    made = sorted(p.name for p in tmp_path.iterdir())
    assert len(made) == 5
    for name in made:
        shipped, fresh = calibration_folder() / name, tmp_path / name
        if name.endswith(".json"):
            old, new = json.loads(shipped.read_text("utf-8")), json.loads(fresh.read_text("utf-8"))
            labs = [np.array([p.pop("lab") for p in file["patches"]]) for file in (old, new)]
            assert old == new
            np.testing.assert_allclose(*labs, atol=2e-3)
        elif name.endswith(".npy"):
            np.testing.assert_allclose(np.load(shipped), np.load(fresh), atol=1)
        else:
            old, new = (np.genfromtxt(path, delimiter=",", names=True) for path in (shipped, fresh))
            assert old.dtype.names == new.dtype.names
            np.testing.assert_allclose(old.tolist(), new.tolist(), atol=2e-6)
