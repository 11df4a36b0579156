"""Questions to the archive: every condition, no miss within a radius, the same answers from both databases."""

import re
from dataclasses import replace

import numpy as np
import pytest

from swatchread.archive.conditions import Near, Query
from swatchread.archive.question_words import day_range, munsell_range
from swatchread.archive.store import Archive
from swatchread.errors import UsageError
from tests.archive_data import build_note, flesh_colours, sample_card, swatch_data

CARDS = 24


@pytest.fixture(scope="module")
def notes():
    return [sample_card(seed, rows=8, columns=3) for seed in range(CARDS)]


@pytest.fixture(scope="module")
def archive(notes, tmp_path_factory):
    with Archive.open(str(tmp_path_factory.mktemp("find") / "a.sqlite")) as opened:
        opened.add_all((note, None) for note in notes)
        yield opened


def everything(notes):
    return [(card, note, swatch) for card, note in enumerate(notes, 1) for swatch in note.swatches]


def brute(notes, lab, radius, keep=lambda *_: True):
    """Every swatch within the radius, by scikit-image's own CIEDE2000."""
    from skimage.color import deltaE_ciede2000

    pairs = [(card, swatch) for card, note, swatch in everything(notes) if keep(note, swatch)]
    labs = np.array([swatch.lab for _, swatch in pairs])
    de00 = deltaE_ciede2000(np.broadcast_to(lab, labs.shape), labs)
    return {(card, swatch.id): d for (card, swatch), d in zip(pairs, de00, strict=True) if d <= radius}


def answers(found):
    return {(f.card, f.swatch) for f in found}


@pytest.mark.parametrize("radius", [0.5, 2.0, 5.0, 12.0, 30.0, 200.0])
def test_a_radius_misses_nothing_and_adds_nothing(archive, notes, radius):
    rng = np.random.default_rng(3)
    for lab in [*flesh_colours(8, rng), (30.0, 20.0, -70.0), (0.0, 0.0, 0.0), (60.0, 15.0, 20.0)]:
        near = Near(tuple(float(x) for x in lab), radius)
        found = archive.find(Query(near=near, limit=None))
        expected = brute(notes, lab, radius)
        assert answers(found) == set(expected)
        assert [f.de00 for f in found] == sorted(f.de00 for f in found)
        assert all(f.de00 == pytest.approx(expected[f.card, f.swatch], abs=1e-6) for f in found)


@pytest.mark.parametrize("limit", [1, 7, 300])
@pytest.mark.parametrize("conditions", [{}, {"sitter": "A"}, {"without_tubes": ("viridian",)}])
def test_the_nearest_are_the_nearest(archive, notes, limit, conditions):
    keep = {
        (): lambda *_: True,
        ("sitter",): lambda note, _: note.card_info.sitter == "A",
        ("without_tubes",): lambda _, swatch: swatch.recipe and "viridian" not in swatch.recipe,
    }[tuple(conditions)]
    rng = np.random.default_rng(4)
    for lab in [*flesh_colours(5, rng), (30.0, 20.0, -70.0)]:
        near = Near(tuple(float(x) for x in lab))
        found = archive.find(Query(near=near, limit=limit, **conditions))
        expected = sorted(brute(notes, lab, 1e9, keep).values())[:limit]
        assert [f.de00 for f in found] == pytest.approx(expected, abs=1e-6)


def test_likeness_falls_and_is_high_only_for_sure_readings(archive):
    lab = archive.find(Query(limit=1))[0].lab
    found = archive.find(Query(near=Near(lab)))
    assert found[0].de00 == pytest.approx(0.0, abs=1e-6)
    assert found[0].same == max(f.same for f in found)
    assert found[0].same > 0.7
    assert found[-1].same < 0.05


def test_a_swatch_is_not_its_own_answer_and_shares_its_cards_errors():
    swatches = [swatch_data(1, c, (50, 10, 10 + 0.2 * c)) for c in (1, 2)]
    note = build_note(swatches, seed=1)
    other = build_note([swatch_data(1, 1, swatches[1]["lab"])], seed=2)
    with Archive.open(":memory:") as archive:
        archive.add_all([(note, None), (other, None)])
        near = Near((50, 10, 10.2), None, 0.7, swatch=(note.photo.sha256, "r1c1"), own_de00=0.3)
        found = archive.find(Query(near=near))
    assert [(f.card, f.swatch) for f in found] == [(1, "r1c2"), (2, "r1c1")]
    assert found[0].same > found[1].same  # the chart's error falls out between swatches of one photo


FAMILIES = ("R", "YR", "Y", "GY", "G", "BG", "B", "PB", "P", "RP")


def hue_apart(notation, hue):
    """Return the steps of a hundred between a notation's hue and another; endless for a neutral."""
    found = re.match(r"([\d.]+)([A-Z]+) ", notation)
    if not found:
        return np.inf
    own = 10 * FAMILIES.index(found[2]) + float(found[1])
    return abs((own - hue + 50.0) % 100.0 - 50.0)


def chroma_of(notation):
    return float(notation.partition("/")[2] or 0.0)


CONDITIONS = [
    ({"value": (4.0, 6.0)}, lambda _n, s: 4.0 <= s.value <= 6.0),
    ({"temperature": "cool"}, lambda _n, s: s.temperature.name == "cool"),
    ({"relative": "warmer"}, lambda _n, s: s.temperature.relative == "warmer"),
    ({"lean": "red"}, lambda _n, s: s.lean == "red"),
    ({"sitter": "b"}, lambda n, _s: n.card_info.sitter == "B"),
    ({"medium": "OIL"}, lambda n, _s: "oil" in n.card_info.medium),
    ({"days": (20210101, 20211231)}, lambda n, _s: n.card_info.date.startswith("2021")),
    ({"with_tubes": ("cad red",)}, lambda _n, s: "cad red" in s.recipe),
    ({"with_tubes": ("PG18", "red ochre")}, lambda _n, s: "viridian" in s.recipe),
    ({"with_tubes": ("titanium white",)}, lambda _n, s: "white" in s.recipe),
    ({"with_tubes": ("Grandmother's mud",)}, lambda _n, s: "mud" in s.recipe),
    ({"without_tubes": ("titanium white",)}, lambda _n, s: s.recipe and "white" not in s.recipe),
    ({"text": ("GRANDMOTHER",)}, lambda _n, s: "grandmother" in s.recipe),
    ({"text": ("evening 7",)}, lambda n, _s: "evening 7" in n.card_info.title),
    ({"text": ("evening", "viridian")}, lambda _n, s: "viridian" in s.recipe),
    ({"munsell": munsell_range("YR")}, lambda _n, s: "YR" in s.munsell),
    ({"munsell": munsell_range("RP")}, lambda _n, s: "RP" in s.munsell),
    ({"munsell": munsell_range("10RP")}, lambda _n, s: hue_apart(s.munsell, 100) <= 2.5),
    ({"munsell": munsell_range("9.5RP")}, lambda _n, s: hue_apart(s.munsell, 99.5) <= 2.5),
    ({"munsell": munsell_range("5YR")}, lambda _n, s: hue_apart(s.munsell, 15) <= 2.5),
    ({"munsell": munsell_range("6/")}, lambda _n, s: 5.5 <= s.value <= 6.5),
    ({"munsell": munsell_range("/4")}, lambda _n, s: 3.0 <= chroma_of(s.munsell) <= 5.0),
    ({"munsell": munsell_range("N")}, lambda _n, s: s.munsell.startswith("N")),
]


@pytest.mark.parametrize(("asked", "keep"), CONDITIONS, ids=lambda x: str(x)[:50] if isinstance(x, dict) else "")
def test_each_condition_gives_what_the_notes_say(archive, notes, asked, keep):
    expected = {(card, swatch.id) for card, note, swatch in everything(notes) if keep(note, swatch)}
    assert expected
    assert answers(archive.find(Query(limit=None, **asked))) == expected
    near = Near((60.0, 15.0, 20.0))
    assert answers(archive.find(Query(near=near, limit=None, **asked))) == expected


def test_answers_without_a_colour_come_dark_to_light(archive, notes):
    found = archive.find(Query(limit=30))
    values = sorted(swatch.value for note in notes for swatch in note.swatches)
    assert [f.value for f in found] == pytest.approx(values[:30], abs=1e-6)


def test_a_range_of_values_is_kept_to_where_rounding_would_move_a_swatch_across(address):
    """Values just inside and outside 4 and 5, as ASTM D1535 has them of CIELAB, and a note that states two decimals."""
    from colour.colorimetry import luminance_ASTMD1535
    from colour.models import XYZ_to_Lab

    values = [edge + off for edge in (4.0, 5.0) for off in (-0.0049, -1e-4, 1e-4, 0.0049)]
    L = [float(XYZ_to_Lab([0.5, luminance_ASTMD1535(value) / 100.0, 0.5])[0]) for value in values]
    swatches = [
        swatch_data(1, c, (x, 8, 12), value=round(v, 2)) for c, (v, x) in enumerate(zip(values, L, strict=True), 1)
    ]
    with Archive.open(address) as archive:
        archive.add(build_note(swatches))
        inside = archive.find(Query(value=(4.0, 5.0)))
    assert [f.swatch for f in inside] == ["r1c3", "r1c4", "r1c5", "r1c6"]
    assert [f.value for f in inside] == pytest.approx(values[2:6], abs=1e-4)


def test_both_databases_give_the_same_answers(notes, archive, postgres_address):
    queries = [Query(limit=None, **asked) for asked, _ in CONDITIONS]
    queries += [
        Query(near=Near((55.0, 12.0, 18.0), radius), limit=limit) for radius in (3.0, None) for limit in (9, None)
    ]
    with Archive.open(postgres_address) as other:
        other.add_all((note, None) for note in notes)
        for query in queries:
            one, two = other.find(query), archive.find(query)
            assert [replace(f, de00=None, same=None) for f in one] == [replace(f, de00=None, same=None) for f in two]
            for name in ("de00", "same") if query.near else ():
                assert [getattr(f, name) for f in one] == pytest.approx([getattr(f, name) for f in two], abs=1e-9)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("2024", (20240101, 20241231)),
        ("2024-05", (20240501, 20240531)),
        ("2024-05-07", (20240507, 20240507)),
        ("evening of 2024.5.7", (20240507, 20240507)),
        ("2024:05:07 18:30:00", (20240507, 20240507)),
        ("3/4/24", None),
        ("2024-13-01", None),
        ("sometime", None),
    ],
)
def test_only_dates_with_one_meaning_are_read(text, days):
    assert day_range(text) == days


@pytest.mark.parametrize(
    ("text", "hue", "value", "chroma"),
    [
        ("5YR 6/4", (12.5, 17.5), (5.5, 6.5), (3.0, 5.0)),
        ("10rp", (97.5, 102.5), None, None),
        ("R", (1e-6, 10.0), None, None),
        ("N 5", None, (4.5, 5.5), None),
        ("/8", None, None, (7.0, 9.0)),
        ("6/", None, (5.5, 6.5), None),
    ],
)
def test_munsell_questions(text, hue, value, chroma):
    asked = munsell_range(text)
    assert (asked.hue, asked.value, asked.chroma) == (hue, value, chroma)


@pytest.mark.parametrize("text", ["", "  ", "reddish", "5XR 6/4", "5"[:0] + "/", "25R 5/4", "5R 50/4"])
def test_what_is_no_munsell_notation_is_refused(text):
    with pytest.raises(UsageError):
        munsell_range(text)


@pytest.mark.parametrize(
    "bad",
    [
        {"limit": 0},
        {"near": Near((0, 0, 0), -1.0)},
        {"near": Near((0, 0, 0), float("nan"))},
        {"near": Near((0, 0, 0), visible=0.0)},
        {"near": Near((0, 0, 0), visible=float("nan"))},
        {"days": (20250101, 20241231)},
    ],
)
def test_senseless_questions_are_refused(bad):
    with pytest.raises(UsageError):
        Query(**bad)
