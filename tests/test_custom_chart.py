"""Charts of the painter's own: strips of chips found, measured and used; tables of measured values."""

import csv
import json
from dataclasses import replace

import numpy as np
import pytest

from swatchread.chart.chart_detection import find_chart
from swatchread.chart.definition import ChartDefinition, check_name, definition_json, load_chart, parse_chart
from swatchread.correction.patch_errors import reference_variance, reference_weight
from swatchread.custom_chart.measured_table import chart_of_table
from swatchread.custom_chart.strip_measurement import StripReading, learn_strip, read_strip
from swatchread.errors import (
    MeasuredTableError,
    MirroredChartError,
    NoChartError,
    NoStripError,
    PoorReadingError,
    StripTurnError,
    UsageError,
)
from swatchread.photo import load_photo
from swatchread.reading import read_card
from tests.scene import SceneSpec, spectra

BASE = SceneSpec(seed=11, width=1200, height=900, rows=3, columns=3, chart_fraction=0.36)
BESIDE = replace(BASE, strip_beside=True, strip_size=(2, 6), strip_seed=3)
CLOSE = 0.1


def true_strip(size, seed):
    """Return the definition of a simulated strip with its true values."""
    lab = spectra.lab_of(spectra.strip_reflectances(size, seed))
    names = tuple(f"chip {k + 1}" for k in range(len(lab)))
    return ChartDefinition("strip", "t", "invented", *size, 0.87, 0.0, names, lab, np.zeros(len(lab)))


# --- finding strips


@pytest.mark.parametrize(("size", "turn"), [((2, 6), 0), ((2, 6), 190), ((2, 5), 90), ((1, 12), 5), ((1, 12), 185)])
def test_a_strip_is_found_and_its_turn_told(photograph, size, turn):
    spec = replace(BASE, chart_kind="strip", strip_size=size, strip_seed=3, chart_turn=float(turn))
    path, scene = photograph(spec)
    find = find_chart(load_photo(path), true_strip(size, 3))
    off = np.linalg.norm(find.corners - scene.truth.chart_corners_px, axis=1)
    assert off.max() < CLOSE * find.pitch


def test_a_mirrored_strip_is_refused(photograph):
    path, _ = photograph(replace(BASE, chart_kind="strip", strip_size=(2, 6), strip_seed=3, mirrored=True))
    with pytest.raises(MirroredChartError):
        find_chart(load_photo(path), true_strip((2, 6), 3))


@pytest.mark.parametrize("size", [(2, 6), (1, 12)])
def test_a_strip_that_is_not_there(photograph, size):
    """The classic chart lies there, and a card with swatches in rows."""
    path, _ = photograph(BASE)
    with pytest.raises(NoChartError):
        find_chart(load_photo(path), true_strip(size, 3))


# --- learning them


@pytest.fixture(scope="session")
def strips(photograph):
    """Measure one strip in two photos: in another light, and turned by half."""
    specs = BESIDE, replace(BESIDE, seed=21, strip_turn=180.0, light="D65", camera="invented-phone-b")
    shots = [photograph(spec) for spec in specs]
    return [read_strip(path, load_chart(), (2, 6)) for path, _ in shots], shots[0][1].truth.strip_lab


def test_chips_are_measured(strips):
    """Against the chips' own reflectances; within what the reading says of itself, twice over."""
    readings, true = strips
    for reading, lab in zip(readings, (true, true[::-1]), strict=True):
        off = spectra.delta_e_2000(reading.lab, lab)
        assert np.median(off) < 2.0
        assert (off < 2 * reading.de00).mean() >= 0.75
        assert spectra.delta_e_2000(reading.lab, lab[::-1]).min() > 3  # the comparer's known-bad pair


def test_several_photos_average(strips):
    readings, true = strips
    chart = learn_strip(readings, "mine", "classic24")
    assert (chart.rows, chart.columns) == (2, 6)
    off = spectra.delta_e_2000(chart.lab, true)
    assert np.median(off) < 1.5
    assert (off < 2 * chart.de00).mean() >= 0.8
    # What both photos share stays: never below half of one photo's doubt.
    assert (chart.de00 >= 0.5 * np.minimum(readings[0].de00, readings[1].de00[::-1]) - 1e-9).all()
    again = parse_chart(definition_json(chart), "again")
    np.testing.assert_allclose(again.de00, chart.de00, atol=1e-3)


def test_a_card_is_read_beside_the_strip_alone(photograph, strips):
    """About as near the truth as beside the classic chart (the bench `learning` has the figures), and less sure."""
    chart = learn_strip(strips[0], "mine", "classic24")
    path, scene = photograph(replace(BASE, chart_kind="strip", strip_size=(2, 6), strip_seed=3))
    true = {s.id: s.lab for s in scene.truth.swatches}
    u = {}
    for name, used in (("learned", chart), ("sure", replace(chart, de00=np.zeros(12)))):
        note = read_card(path, used).note
        assert {s.id for s in note.swatches} == set(true)
        off = [float(spectra.delta_e_2000(np.array(s.lab), true[s.id])) for s in note.swatches]
        assert np.median(off) < 2.5
        u[name] = np.median([s.uncertainty.de00 for s in note.swatches])
    assert u["learned"] > u["sure"]


@pytest.mark.parametrize(("spec", "size"), [(BASE, None), (BASE, (2, 6)), (BESIDE, (3, 4))])
def test_no_strip_beside_the_chart_or_one_of_another_layout(photograph, spec, size):
    with pytest.raises(NoStripError):
        read_strip(photograph(spec)[0], load_chart(), size)


def test_burnt_out_chips_are_refused(photograph):
    path, _ = photograph(replace(BESIDE, exposure=0.9))
    with pytest.raises(PoorReadingError):
        read_strip(path, load_chart(), (2, 6))


def reading_of(lab, size):
    return StripReading(size, 0.87, np.asarray(lab, float), np.full(len(lab), 0.8), even=True)


def test_a_strip_that_reads_alike_from_both_ends_is_refused():
    half = true_strip((1, 12), 3).lab[:6]
    for lab, size in (
        (np.concatenate([half, half[::-1]]), (1, 12)),
        (np.concatenate([half, half]), (2, 6)),  # its mirror image is itself
        (np.repeat([[50.0, 0, 0]], 10, axis=0), (1, 10)),
    ):
        with pytest.raises(StripTurnError):
            learn_strip([reading_of(lab, size)], "mine", "classic24")
    assert learn_strip([reading_of(true_strip((1, 12), 3).lab, (1, 12))], "mine", "classic24").rows == 1


def test_two_strips_are_not_one():
    one, other = (reading_of(true_strip((2, 6), seed).lab, (2, 6)) for seed in (3, 4))
    with pytest.raises(UsageError, match="same strip"):
        learn_strip([one, other], "mine", "classic24")
    with pytest.raises(UsageError, match="same strip"):
        learn_strip([one, reading_of(true_strip((2, 5), 3).lab, (2, 5))], "mine", "classic24")


# --- what the doubt does


def test_doubtful_patches_count_less_and_lend_their_doubt():
    chart = load_chart()
    used = np.ones(24, dtype=bool)
    assert reference_weight(chart) == pytest.approx(1.0)
    assert reference_variance(chart, used, chart.lab) == pytest.approx(0.0)
    doubted = replace(chart, de00=np.where(np.arange(24) < 12, 0.0, 3.0))
    weight, variance = reference_weight(doubted), reference_variance(doubted, used, chart.lab)
    assert weight[:12] == pytest.approx(1.0)
    assert (weight[12:] < 0.3).all()
    assert 0.0 < variance[:12].mean() < variance[12:].mean() <= 9.0


# --- values measured by an instrument

NEWER = load_chart("classic24-after-2014")


def write_table(path, rows, head, delimiter=","):
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter)
        writer.writerow(head)
        writer.writerows(rows)
    return path


def test_a_table_in_the_charts_order(tmp_path):
    """The maker's published values stand for an instrument's."""
    chart = chart_of_table(write_table(tmp_path / "own.csv", NEWER.lab.tolist(), ["L", "a", "b"]), load_chart(), "own")
    np.testing.assert_allclose(chart.lab, NEWER.lab)
    assert (chart.de00 > 0).all()
    assert (chart.rows, chart.columns, chart.name) == (4, 6, "own")
    assert parse_chart(definition_json(chart), "again").patch_names == NEWER.patch_names


def test_a_table_by_names_with_its_own_doubt(tmp_path):
    """In another order; a spreadsheet's semicolons and decimal commas."""
    rows = [
        [name.title(), *(f"{v:.3f}".replace(".", ",") for v in lab), "0,5"]
        for name, lab in zip(NEWER.patch_names, NEWER.lab, strict=True)
    ]
    path = write_table(tmp_path / "own.csv", rows[::-1], ["Patch", "L*", "a*", "b*", "u"], ";")
    chart = chart_of_table(path, load_chart(), "own")
    np.testing.assert_allclose(chart.lab, NEWER.lab)
    assert chart.de00 == pytest.approx(0.5)


def write_cgats(path, fields, rows):
    """Write CGATS.17 (ISO 28178) as measuring software does."""
    data = "\n".join(" ".join(map(str, row)) for row in rows)
    path.write_text(
        f"CGATS.17\nNUMBER_OF_FIELDS {len(fields)}\nBEGIN_DATA_FORMAT\n{' '.join(fields)}\nEND_DATA_FORMAT\n"
        f"NUMBER_OF_SETS {len(rows)}\nBEGIN_DATA\n{data}\nEND_DATA\n"
    )
    return path


def test_cgats_text(tmp_path):
    rows = [(k + 1, *lab) for k, lab in enumerate(NEWER.lab.tolist())]
    path = write_cgats(tmp_path / "own.txt", ["SAMPLE_ID", "LAB_L", "LAB_A", "LAB_B"], rows)
    np.testing.assert_allclose(chart_of_table(path, load_chart(), "own").lab, NEWER.lab)


def published_reflectances():
    """Return the average of 30 charts as colour-science carries it: wavelengths, reflectance of the 24 patches."""
    import colour

    patches = list(colour.SDS_COLOURCHECKERS["BabelColor Average"].values())
    return patches[0].wavelengths.astype(int), np.array([patch.values for patch in patches])


@pytest.mark.parametrize(("heading", "scale"), [("nm{}", 1), ("{} nm", 100), ("SPECTRAL_NM{}", 1), ("{}", 100)])
def test_spectra(tmp_path, heading, scale):
    """Published reflectances give the published CIELAB: within 0.8, which charts differ by (measured: 0.2)."""
    wavelengths, reflectance = published_reflectances()
    table = write_table(tmp_path / "own.csv", (reflectance * scale).tolist(), map(heading.format, wavelengths))
    chart = chart_of_table(table, load_chart(), "own")
    assert spectra.delta_e_2000(chart.lab, load_chart().lab).max() < 0.8
    assert spectra.delta_e_2000(chart.lab, NEWER.lab).max() > 0.8  # the comparer's known-bad pair
    assert "ASTM E308" in chart.source


def test_a_column_that_is_called_like_a_wavelength_is_no_spectrum(tmp_path):
    rows = [[*lab, k] for k, lab in enumerate(NEWER.lab.tolist())]
    chart = chart_of_table(write_table(tmp_path / "own.csv", rows, ["L", "a", "b", "500"]), load_chart(), "own")
    np.testing.assert_allclose(chart.lab, NEWER.lab)


def test_spectra_in_cgats_text_at_20_nm(tmp_path):
    wavelengths, reflectance = (x[..., ::2] for x in published_reflectances())
    path = write_cgats(tmp_path / "own.txt", [f"SPECTRAL_NM{w}" for w in wavelengths], reflectance.round(4).tolist())
    assert spectra.delta_e_2000(chart_of_table(path, load_chart(), "own").lab, load_chart().lab).max() < 0.8


@pytest.mark.parametrize("columns", [slice(5, None), slice(None, 30), [0, 1, 2, 5, *range(6, 36)]])
def test_spectra_that_are_refused(tmp_path, columns):
    """They begin or end too late or too early, or have a gap."""
    wavelengths, reflectance = published_reflectances()
    table = write_table(tmp_path / "own.csv", reflectance[:, columns].tolist(), wavelengths[columns])
    with pytest.raises(MeasuredTableError, match="spectra"):
        chart_of_table(table, load_chart(), "own")


@pytest.mark.parametrize(("illuminant", "observer"), [("D65", 2), ("D65", 10), ("A", 2), ("C", 2), ("D75", 10)])
def test_values_for_another_light_are_converted_and_less_sure(tmp_path, illuminant, observer):
    """The chart's values for that light, summed from its reflectances at 10 nm, come back as those for D50."""
    import colour

    wavelengths, reflectance = published_reflectances()
    shape = colour.SpectralShape(wavelengths[0], wavelengths[-1], 10)
    name = f"CIE {'1931' if observer == 2 else '1964'} {observer} Degree Standard Observer"
    weights = colour.MSDS_CMFS[name].copy().align(shape).values
    weights = weights * colour.SDS_ILLUMINANTS[illuminant].copy().align(shape).values[:, None]
    xyz = reflectance @ weights / weights[:, 1].sum()
    there = colour.XYZ_to_Lab(xyz, colour.XYZ_to_xy(weights.sum(axis=0)))
    chart = chart_of_table(
        write_table(tmp_path / "own.csv", there.tolist(), ["L", "a", "b"]), load_chart(), "own", illuminant, observer
    )
    off = spectra.delta_e_2000(chart.lab, load_chart().lab)
    # The stated uncertainty is that of patches left out in turn, so that these, which are not, are nearer.
    assert 0.5 * chart.de00.mean() < np.sqrt((off**2).mean()) < chart.de00.mean()
    assert off.mean() < 0.8 * spectra.delta_e_2000(there, load_chart().lab).mean()
    assert f"{illuminant}, {observer} degree, converted" in chart.source


def test_unknown_lights_are_refused(tmp_path):
    table = write_table(tmp_path / "own.csv", NEWER.lab.tolist(), ["L", "a", "b"])
    for light in (("D49", 2), ("D65", 4)):
        with pytest.raises(UsageError, match="illuminant"):
            chart_of_table(table, load_chart(), "own", *light)


@pytest.mark.parametrize(
    ("wrong", "said"), [("foliag", "there is foliag, and no foliage"), ("white", "there is white, and no foliage")]
)
def test_a_slip_in_a_name_is_not_taken_for_the_charts_order(tmp_path, wrong, said):
    """Light greys in each other's place are CIEDE2000 11 apart: the limit, 20, does not show it."""
    names = [wrong if name == "foliage" else name for name in NEWER.patch_names]
    rows = [[name, *lab] for name, lab in zip(names, NEWER.lab.tolist(), strict=True)]
    with pytest.raises(MeasuredTableError, match=said):
        chart_of_table(write_table(tmp_path / "own.csv", rows, ["name", "L", "a", "b"]), load_chart(), "own")
    rows = [[f"A{k}", *row[1:]] for k, row in enumerate(rows)]
    chart = chart_of_table(write_table(tmp_path / "own.csv", rows, ["name", "L", "a", "b"]), load_chart(), "own")
    np.testing.assert_allclose(chart.lab, NEWER.lab)


@pytest.mark.parametrize(
    ("rows", "head"),
    [
        (NEWER.lab[::-1].tolist(), ["L", "a", "b"]),  # from the other end
        (NEWER.lab[:23].tolist(), ["L", "a", "b"]),
        (NEWER.lab.tolist(), ["X", "Y", "Z"]),
        ([["", 1, 2]] * 24, ["L", "a", "b"]),
        ([["nan", 1, 2]] * 24, ["L", "a", "b"]),
        ([[500, 1, 2]] * 24, ["L", "a", "b"]),
        ([], []),
    ],
)
def test_tables_that_are_refused(tmp_path, rows, head):
    with pytest.raises(MeasuredTableError):
        chart_of_table(write_table(tmp_path / "bad.csv", rows, head), load_chart(), "own")


def test_files_that_are_no_tables(tmp_path):
    with pytest.raises(MeasuredTableError) as caught:
        chart_of_table(tmp_path / "none.csv", load_chart(), "own")
    assert "name and folder" in caught.value.remedy
    binary = tmp_path / "binary.csv"
    binary.write_bytes(bytes(range(256)) * 8)
    with pytest.raises(MeasuredTableError):
        chart_of_table(binary, load_chart(), "own")


@pytest.mark.parametrize("name", ["", "My Chart", "../up", "classic24", "a" * 62])
def test_names_that_are_refused(name):
    with pytest.raises(UsageError):
        check_name(name)


# --- the commands


def test_learn_then_read(photograph, tmp_path, typed):
    beside, _ = photograph(BESIDE)
    words = ("chart", "learn", beside, "--name", "my-strip", "--layout", "2x6", "--into", tmp_path, "--json")
    status, out, err = typed(*words)
    assert status == 0, err
    kept = tmp_path / "my-strip.chart.json"
    assert json.loads(out) == json.loads(kept.read_text("utf-8"))
    assert all(patch["de00"] > 0 for patch in json.loads(out)["patches"])
    # A photo without the strip is passed over, told, and shows in the status.
    status, _, err = typed("chart", "learn", photograph(BASE)[0], beside, "--name", "my-strip", "--into", tmp_path)
    assert status == 1
    assert "not a strip" in err
    assert json.loads(kept.read_text("utf-8"))["source"].startswith("Measured in 1 photo ")
    alone, _ = photograph(replace(BASE, chart_kind="strip", strip_size=(2, 6), strip_seed=3))
    shown = [json.loads(typed("chart", *word, alone, "--chart", kept, "--json")[1]) for word in ((), ("check",))]
    assert [facts["name"] for facts in shown] == ["my-strip"] * 2
    np.testing.assert_allclose(*(facts["corners"] for facts in shown), atol=0.2)
    table = write_table(tmp_path / "own.csv", NEWER.lab.tolist(), ["L", "a", "b"])
    assert typed("chart", "measured", table, "--name", "own", "--into", tmp_path)[0] == 0
    assert load_chart(str(tmp_path / "own.chart.json")).lab.shape == (24, 3)
    status, _, err = typed("chart", "measured", table, "--name", "classic24", "--into", tmp_path)
    assert status == 2
    assert "comes with the program" in err
