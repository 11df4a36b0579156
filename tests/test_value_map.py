"""The value-and-warmth map: places, halos, text alternatives."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import colour
import pytest

from swatchread.colour.painter_terms import VALUE_NAMES
from swatchread.report.label_placement import Box, place_label
from swatchread.report.value_map import (
    GROUND,
    OUTSIDE_MARK,
    value_map_svg,
    value_uncertainty,
)
from tests.notes import changed, sample_note, with_text_everywhere

SVG = "{http://www.w3.org/2000/svg}"
NASTY = "\"><script>alert('1')</script><svg onload=alert(1)>&amp;"


def _parsed(svg):
    return ET.fromstring(svg)  # noqa: S314 - our own drawing


def _chips(svg):
    """Return chip centres by colour, and halo sizes, in drawing order."""
    rects = [r for r in _parsed(svg).iter(f"{SVG}rect") if r.get("x")]
    halos = [r for r in rects if r.get("rx")]
    chips = [r for r in rects if not r.get("rx")]
    centre = {
        r.get("fill"): tuple(float(r.get(k)) + float(r.get(s)) / 2 for k, s in (("x", "width"), ("y", "height")))
        for r in chips
    }
    return centre, [(float(h.get("width")), float(h.get("height"))) for h in halos]


def test_value_goes_up_and_warmth_goes_right():
    note = sample_note()
    centres = list(_chips(value_map_svg(note))[0].values())
    assert len(centres) == len(note.swatches)
    low_to_high = sorted(s.value for s in note.swatches)
    ordinates = sorted((y for _, y in centres), reverse=True)
    slopes = [
        (y0 - y1) / (v1 - v0)
        for v0, v1, y0, y1 in zip(low_to_high, low_to_high[1:], ordinates, ordinates[1:], strict=False)
        if v1 - v0 > 0.2
    ]
    assert max(slopes) - min(slopes) < 1.5, "value is drawn to scale"
    warm = sorted(s.temperature.warmth for s in note.swatches)
    across = sorted(x for x, _ in centres)
    scale = (across[-1] - across[0]) / (warm[-1] - warm[0])
    for w, x in zip(warm, across, strict=True):
        assert x == pytest.approx(across[0] + (w - warm[0]) * scale, abs=0.3)


def test_a_grey_stands_on_the_line_between_cool_and_warm():
    temperature = {"warmth": 0.0, "name": "neutral", "relative": "even", "against": "run"}
    note = changed(sample_note(1, 1), "r1c1", lab=[50, 0, 0], temperature=temperature)
    svg = value_map_svg(note)
    ((x, _),) = _chips(svg)[0].values()
    (line,) = [p for p in _parsed(svg).iter(f"{SVG}path") if p.get("stroke-width") == "1.5"]
    assert float(line.get("d").split("V")[0][1:].split()[0]) == pytest.approx(x, abs=0.1)


def test_the_names_stand_beside_the_values_that_the_card_needs():
    note = changed(changed(sample_note(1, 2), "r1c1", value=3.2), "r1c2", value=6.9)
    texts = {t.text: float(t.get("y")) for t in _parsed(value_map_svg(note)).iter(f"{SVG}text")}
    shown = [str(value) for value in range(11) if str(value) in texts and value]
    assert shown == ["2", "3", "4", "5", "6", "7", "8"]
    heights = [texts[VALUE_NAMES[int(value) - 1]] for value in shown]
    assert heights == [texts[value] for value in shown]
    assert heights == sorted(heights, reverse=True)


def test_few_values_do_not_look_far_apart():
    note = changed(changed(sample_note(1, 2), "r1c1", value=5.0), "r1c2", value=5.1)
    texts = {t.text for t in _parsed(value_map_svg(note)).iter(f"{SVG}text")}
    assert sum(str(value) in texts for value in range(1, 11)) >= 5


def test_the_run_is_drawn_where_enough_swatches_show_it():
    def run(note):
        return [path for path in _parsed(value_map_svg(note)).iter(f"{SVG}path") if path.get("class") == "run"]

    assert run(sample_note(6, 3))
    assert "Dashed line: the run" in value_map_svg(sample_note(6, 3))
    assert run(sample_note(1, 2)) == []
    assert "Dashed line" not in value_map_svg(sample_note(1, 2))


def test_the_halo_grows_with_the_uncertainty_on_its_own_axis():
    def halo(**sigma):
        note = changed(sample_note(1, 1), "r1c1", uncertainty={"L": 1, "a": 1, "b": 1, "de00": 1} | sigma)
        return _chips(value_map_svg(note))[1][0]

    wide, high = halo()
    bare = halo(L=0, a=0, b=0)
    assert halo(L=2)[1] - bare[1] == pytest.approx(2 * (high - bare[1]), abs=0.2)
    assert halo(L=2)[0] == wide
    assert halo(a=2, b=2)[0] - bare[0] == pytest.approx(2 * (wide - bare[0]), abs=0.2)
    assert halo(a=2, b=2)[1] == high


@pytest.mark.parametrize("lightness", [6.0, 20.0, 51.0, 80.0, 96.0])
def test_value_uncertainty_follows_the_standards_curve(lightness):
    # ASTM D1535 as carried by colour-science: value from luminance, by a difference quotient.
    def value(at):
        d50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
        luminance = colour.Lab_to_XYZ((at, 0, 0), d50)[1] * 100
        return float(colour.munsell_value(luminance, method="ASTM D1535"))

    swatch = changed(sample_note(1, 1), "r1c1", lab=[lightness, 5, 5], value=value(lightness)).swatches[0]
    expected = (value(lightness + 0.2) - value(lightness - 0.2)) / 0.4 * swatch.uncertainty.L
    assert value_uncertainty(swatch) == pytest.approx(expected, rel=0.03)


def test_colours_beyond_the_screen_are_marked_and_explained():
    assert OUTSIDE_MARK not in value_map_svg(sample_note())
    svg = value_map_svg(changed(sample_note(), "r3c1", lab=[45, 95, 60]))
    assert f"r3c1{OUTSIDE_MARK}" in svg
    assert "an sRGB screen can show" in svg
    assert "outside the colours of an sRGB screen" in svg


def test_text_alternatives_tell_every_swatch():
    note = sample_note()
    root = _parsed(value_map_svg(note))
    assert root.get("role") == "img"
    named = {e.get("id"): e.text for e in root if e.get("id")}
    assert set(root.get("aria-labelledby").split()) <= set(named)
    for swatch in note.swatches:
        assert f"{swatch.id}: value {swatch.value:.2f} ± " in named["map-desc"]
    assert "± 0.0 " not in named["map-desc"]  # no reading is that sure


def test_text_from_files_stays_text():
    root = _parsed(value_map_svg(with_text_everywhere(sample_note(2, 1), NASTY)))
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {"svg", "title", "desc", "rect", "path", "text"}
    assert NASTY in root.findtext(f"{SVG}title")


def test_far_out_colours_stay_on_the_sheet():
    temperature = {"warmth": 3.4, "name": "warm", "relative": "warmer", "against": "run"}
    note = changed(sample_note(), "r1c1", temperature=temperature, value=11.0)
    for x, y in _chips(value_map_svg(note))[0].values():
        assert 0 < x < 440
        assert 0 < y < 660


def test_black_letters_are_read_well_on_the_neutral_ground():
    red, green, blue = (int(GROUND[i : i + 2], 16) for i in (1, 3, 5))
    assert red == green == blue
    # WCAG 2.1: contrast of black letters, level AA asks for 4.5.
    luminance = colour.sRGB_to_XYZ([red / 255] * 3)[1]
    assert (luminance + 0.05) / 0.05 >= 4.5


def test_labels_keep_clear_of_things_and_of_one_another():
    things = [Box(100 + 60 * i, 100 + 60 * j, 130 + 60 * i, 130 + 60 * j) for i in range(4) for j in range(4)]
    taken = list(things)
    for thing in things:
        taken.append(place_label(thing, (28, 12), taken, Box(0, 0, 500, 500)))
    assert all(a.overlap(b) == 0 for i, a in enumerate(taken) for b in taken[:i])
    assert Box(0, 0, 2, 2).overlap(Box(1, 1, 3, 3)) == 1
