"""Chart definitions: the shipped ones against the reflectances they stand for, and files that must be refused."""

import copy
import json

import numpy as np
import pytest

from swatchread.chart.definition import (
    DEFAULT_CHART,
    MAX_BYTES,
    SUFFIX,
    chart_names,
    definition_json,
    known_charts,
    load_chart,
    parse_chart,
)
from swatchread.colour.cielab import delta_e_2000
from swatchread.colour.shipped_data import calibration_folder
from swatchread.errors import ChartDefinitionError

GOOD = json.loads((calibration_folder() / f"{DEFAULT_CHART}{SUFFIX}").read_text("utf-8"))


def changed(**fields):
    return json.dumps(GOOD | fields)


# --- the shipped charts against outside truth


def test_revisions_differ_as_batches_do():
    """The maker's values since 2014 are about ΔE00 0.8 from the average of measured charts: batch and age."""
    average, newer = load_chart(), load_chart("classic24-after-2014")
    assert delta_e_2000(average.lab, newer.lab).mean() == pytest.approx(0.8, abs=0.3)
    assert delta_e_2000(average.lab, newer.lab).max() < 3


@pytest.mark.parametrize("chart", known_charts(), ids=chart_names())
def test_every_shipped_chart_is_whole(chart):
    assert chart.name in chart_names()
    assert len(chart.lab) == len(chart.patch_names) == chart.rows * chart.columns
    assert len(set(chart.patch_names)) == len(chart.patch_names)
    assert len(chart.source) > 20
    assert chart.title
    assert (chart.xyz >= 0).all()
    assert 0.4 <= chart.patch_share <= 1


@pytest.mark.parametrize("name", [n for n in chart_names() if n.startswith("classic24")])
def test_the_classic_chart_is_in_its_own_order(name):
    """Dark skin first, bluish green at the end of its row, white at the start of the last, black at its end."""
    chart = load_chart(name)
    assert [chart.patch_names[k] for k in (0, 5, 18, 23)] == ["dark skin", "bluish green", "white", "black"]
    lightness = chart.lab[18:, 0]
    assert (np.diff(lightness) < 0).all()
    assert np.hypot(*chart.lab[18:, 1:].T).max() < 4


def test_geometry_in_lattice_units():
    chart = load_chart()
    np.testing.assert_allclose(chart.centres[[0, 5, 18, 23]], [[0.5, 0.5], [5.5, 0.5], [0.5, 3.5], [5.5, 3.5]])
    m = (1 - chart.patch_share) / 2
    np.testing.assert_allclose(chart.corners, [[m, m], [6 - m, m], [6 - m, 4 - m], [m, 4 - m]])


# --- files of one's own


def test_a_definition_survives_writing_and_reading():
    chart = load_chart()
    again = parse_chart(definition_json(chart), "again")
    assert again.patch_names == chart.patch_names
    np.testing.assert_array_equal(again.lab, chart.lab)
    assert definition_json(again) == definition_json(chart)


def test_a_file_of_ones_own(tmp_path):
    mine = tmp_path / "my chart ü.chart.json"
    mine.write_text(changed(name="mine", rows=2, columns=3, patches=GOOD["patches"][:6]), encoding="utf-8")
    chart = load_chart(str(mine))
    assert (chart.name, chart.rows, chart.columns, chart.lab.shape) == ("mine", 2, 3, (6, 3))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"format": "something"}, "format"),
        ({"version": 2}, "version"),
        ({"name": "../up"}, "name"),
        ({"source": ""}, "source"),
        ({"illuminant": "D65"}, "illuminant"),
        ({"observer": "10 degree"}, "observer"),
        ({"rows": 5}, "5 rows of 6 need 30 patches, it has 24"),
        ({"unheard_of": 1}, "unheard_of"),
        ({"patches": []}, "patches"),
        ({"patches": [{"name": "white"}] * 24}, "lab"),
    ],
)
def test_what_does_not_hold_together_is_refused(fields, said):
    with pytest.raises(ChartDefinitionError) as caught:
        parse_chart(changed(**fields), "mine.chart.json")
    assert "mine.chart.json" in str(caught.value)
    assert said in str(caught.value)
    assert caught.value.remedy
    assert caught.value.exit_status == 2


@pytest.mark.parametrize("lab", [[50, 0], [50, 0, 0, 0], [-1, 0, 0], [106, 0, 0], [50, 161, 0], ["NaN", 0, 0], None])
def test_impossible_colours_are_refused(lab):
    file = copy.deepcopy(GOOD)
    file["patches"][3]["lab"] = lab
    with pytest.raises(ChartDefinitionError, match=r"patches\.3\.lab"):
        parse_chart(json.dumps(file), "mine")


@pytest.mark.parametrize("text", ["", "{", "[]", "null", "NaN", b"\xff\xfe", '{"lab": 1e999}'])
def test_what_is_no_json_object_is_refused(text):
    with pytest.raises(ChartDefinitionError):
        parse_chart(text, "mine")


def test_a_file_named_without_its_suffix_is_pointed_out(tmp_path, monkeypatch):
    """Whoever learned "mine" asks for "mine", as for the charts that are shipped."""
    (tmp_path / "mine.chart.json").write_text(changed(name="mine"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ChartDefinitionError) as caught:
        load_chart("mine")
    assert "mine.chart.json" in caught.value.remedy
    with pytest.raises(ChartDefinitionError) as caught:
        load_chart("other")
    assert "classic24" in caught.value.remedy


@pytest.mark.parametrize("name", ["no-such-chart", "/nowhere/at/all.json", "a\0b", "", "../classic24"])
def test_unknown_names_tell_the_known_ones(name, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(ChartDefinitionError) as caught:
        load_chart(name)
    assert DEFAULT_CHART in caught.value.remedy


def test_a_huge_file_is_refused_unread(tmp_path):
    huge = tmp_path / "huge.json"
    with huge.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    with pytest.raises(ChartDefinitionError, match="too large"):
        load_chart(str(huge))
