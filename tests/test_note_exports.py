"""CSV and CGATS: columns, keyword rules, hostile text, and the way back."""

from __future__ import annotations

import csv
import io

import colour
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from swatchread.errors import CgatsError
from swatchread.report.cgats import OWN_FIELDS, note_to_cgats, parse_cgats
from swatchread.report.note_csv import COLUMNS, guarded, note_to_csv
from tests.notes import changed, sample_note, with_text_everywhere

# Names that CGATS.17 / ISO 28178 defines and that we use (from memory of the standard).
STANDARD_KEYWORDS = {
    *("ORIGINATOR", "FILE_DESCRIPTOR", "CREATED", "MEASUREMENT_SOURCE", "WEIGHTING_FUNCTION"),
    *("NUMBER_OF_FIELDS", "NUMBER_OF_SETS"),
}
STANDARD_FIELDS = {
    *("SAMPLE_ID", "STRING", "LAB_L", "LAB_A", "LAB_B", "LAB_C", "LAB_H", "XYZ_X", "XYZ_Y", "XYZ_Z"),
    *("STDEV_L", "STDEV_A", "STDEV_B", "STDEV_DE"),
}


def _rows(text):
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_csv_has_one_row_a_swatch_and_the_documented_columns():
    note = sample_note(missing=("r4c2",))
    text = note_to_csv(note)
    assert text.count("\r\n") == text.count("\n") == 12, "lines end as RFC 4180 says"
    rows = _rows(text)
    assert list(rows[0]) == list(COLUMNS)
    assert [row["id"] for row in rows] == [s.id for s in note.swatches]
    for row, swatch in zip(rows, note.swatches, strict=True):
        assert tuple(float(row[k]) for k in ("L", "a", "b")) == swatch.lab
        assert float(row["u_de00"]) == swatch.uncertainty.de00
        assert row["recipe"] == swatch.recipe
        assert (int(row["row"]), int(row["column"])) == (swatch.row, swatch.column)


# The starts that common practice against formula injection names, bare, after blanks, quotes and tabs.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "\n=", "  =", "＝", "'=", '"=', "\u200e="])
def test_no_cell_of_text_starts_a_formula(start):
    attack = f'{start}HYPERLINK("x","y")'
    for row in _rows(note_to_csv(with_text_everywhere(sample_note(1, 1), attack))):
        for name in ("recipe", "title", "sitter", "munsell", "flags", "writing", "photo", "made", "against"):
            assert row[name].startswith("'"), name


@settings(max_examples=60, deadline=None)
@given(st.text())
def test_a_guarded_cell_is_one_line_and_never_a_formula(text):
    line = guarded(text)
    assert len(line.splitlines()) <= 1
    assert not line.lstrip().startswith(("=", "+", "-", "@"))


def test_negative_numbers_stay_numbers():
    note = changed(sample_note(1, 1), "r1c1", lab=[50, -3.25, -7])
    (row,) = _rows(note_to_csv(note))
    assert (float(row["a"]), float(row["b"])) == (-3.25, -7)


def test_cgats_keeps_the_standards_rules():
    text = note_to_cgats(with_text_everywhere(sample_note(2, 2), 'Küche "3"\n#1 \\u0041'))
    assert text.isascii()
    lines = text.splitlines()
    assert lines[0] == "CGATS.17"
    declared = {line.split()[1].strip('"') for line in lines if line.startswith("KEYWORD ")}
    begin, end = lines.index("BEGIN_DATA_FORMAT"), lines.index("END_DATA_FORMAT")
    used = {line.split()[0] for line in lines[1:begin] if not line.startswith(("#", "KEYWORD"))}
    assert used - STANDARD_KEYWORDS <= declared
    fields = " ".join(lines[begin + 1 : end]).split()
    assert set(fields) - STANDARD_FIELDS == set(OWN_FIELDS)
    assert set(OWN_FIELDS) <= declared
    first_use = next(i for i, line in enumerate(lines) if line.startswith("PHOTO_CHART"))
    assert first_use > max(i for i, line in enumerate(lines) if line.startswith("KEYWORD")), "declared first"
    assert lines.index("BEGIN_DATA") > lines.index(f"NUMBER_OF_SETS {4}")
    data = lines[lines.index("BEGIN_DATA") + 1 : lines.index("END_DATA")]
    assert len(data) == 4
    assert f"NUMBER_OF_FIELDS {len(fields)}" in lines


def test_cgats_comes_back_as_it_went():
    note = sample_note()
    read = parse_cgats(note_to_cgats(note))
    assert read.file_type == "CGATS.17"
    assert read.keywords["ORIGINATOR"] == "swatchread 0.1.0"
    assert read.keywords["NUMBER_OF_SETS"] == "12"
    assert len(read.rows) == 12
    for row, swatch in zip(read.rows, note.swatches, strict=True):
        assert row["SAMPLE_ID"] == swatch.id
        assert row["STRING"] == swatch.recipe
        assert [float(row[f"LAB_{k}"]) for k in "LAB"] == pytest.approx(swatch.lab, abs=1e-4)
        assert float(row["STDEV_DE"]) == pytest.approx(swatch.uncertainty.de00, abs=1e-4)
        assert row["FLAGS"].split() == list(swatch.flags)


def test_cgats_xyz_agrees_with_colour_science():
    # The white of ASTM E308 as colour-science carries it: 96.42, 100, 82.51, so true to 0.01 in 82.
    d50 = colour.XYZ_to_xy(colour.TVS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"])
    note = sample_note()
    for row, swatch in zip(parse_cgats(note_to_cgats(note)).rows, note.swatches, strict=True):
        expected = colour.Lab_to_XYZ(swatch.lab, d50) * 100
        assert [float(row[f"XYZ_{k}"]) for k in "XYZ"] == pytest.approx(list(expected), rel=2e-4, abs=1e-4)


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_any_recipe_survives_cgats(recipe):
    note = changed(sample_note(1, 1), "r1c1", recipe=recipe)
    text = note_to_cgats(note)
    assert text.isascii()
    assert parse_cgats(text).rows[0]["STRING"] == recipe


def test_text_cannot_break_out_of_its_string():
    attack = 'x"\nEND_DATA\nBEGIN_DATA\nr9c9 "y" # '
    read = parse_cgats(note_to_cgats(with_text_everywhere(sample_note(2, 1), attack)))
    assert len(read.rows) == 2
    assert read.rows[1]["STRING"] == attack
    assert read.keywords["FILE_DESCRIPTOR"] == attack


SMALL = "CGATS.17\nNUMBER_OF_FIELDS 2\nBEGIN_DATA_FORMAT\nSAMPLE_ID LAB_L\nEND_DATA_FORMAT\n"


def test_foreign_files_with_comments_tabs_and_wrapped_rows_are_read():
    text = SMALL + '# comment\nNUMBER_OF_SETS 2\r\nBEGIN_DATA\n"A ""1"""\t50.1 # x\nB\n 60\nEND_DATA\n'
    assert parse_cgats(text).rows == (
        {"SAMPLE_ID": 'A "1"', "LAB_L": "50.1"},
        {"SAMPLE_ID": "B", "LAB_L": "60"},
    )


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "empty"),
        (" \n# only a comment\n", "empty"),
        ("CGATS.17\n", "no fields"),
        (SMALL + "BEGIN_DATA\nA 1\n", "END_DATA is missing"),
        (SMALL + "BEGIN_DATA\nA 1 B\nEND_DATA\n", "short of fields"),
        (SMALL + "NUMBER_OF_SETS 3\nBEGIN_DATA\nA 1\nEND_DATA\n", "NUMBER_OF_SETS says 3"),
        (SMALL.replace("FIELDS 2", "FIELDS 4") + "BEGIN_DATA\nA 1\nEND_DATA\n", "NUMBER_OF_FIELDS says 4"),
        (SMALL + 'BEGIN_DATA\n"A 1\nEND_DATA\n', "does not end in line 7"),
    ],
)
def test_broken_files_are_refused_with_the_reason(text, why):
    with pytest.raises(CgatsError, match=why) as caught:
        parse_cgats(text)
    assert caught.value.exit_status == 2
    assert caught.value.remedy
