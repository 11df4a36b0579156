"""The pages Find, Changes, Sitting, Mix and Tubes as the server answers them."""

from __future__ import annotations

import base64
import json
import re
import struct
import urllib.parse
from dataclasses import replace
from html import unescape

import numpy as np
import pytest

from swatchread.archive.conditions import Query
from swatchread.archive.map_search import LISTED, MapQuestion
from swatchread.archive.picture_archive import PictureArchive
from swatchread.colour.cielab import delta_e_2000
from swatchread.colour.munsell import munsell_lab, munsell_notation
from swatchread.errors import UsageError
from swatchread.page.named_colour import named_colour
from tests.page_archive import fill_archive
from tests.page_server import form, get, page, post, refused, served
from tests.scene import SceneSpec, easy_spec

DAB = replace(easy_spec(7101, (1600, 1200)), rows=1, columns=1, missing=0, cell_pitch=1.3)
CARD = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("studio") / "archive.sqlite"


@pytest.fixture(scope="module")
def drying(path):
    return fill_archive(path)


@pytest.fixture(scope="module")
def server(path, drying):
    assert drying
    with served(path) as running:
        running.studio.palette()
        yield running


def words_of(html):
    """Return what stands on a page, without its markup."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def answer(server, **asked):
    return json.loads(get(f"{server.address}find/answer?{urllib.parse.urlencode(asked, doseq=True)}")[1])


def shown(html):
    return [dict(re.findall(r'data-(\w+)="([^"]*)"', tag)) for tag in re.findall(r"<li data-result[^>]*>", html)]


def points_of(facts, count):
    return np.unpackbits(np.frombuffer(base64.b64decode(facts["points"]), np.uint8), bitorder="little")[:count]


def test_all_swatches_are_points_of_the_map(server):
    data = get(f"{server.address}find/points")[1]
    (count,) = struct.unpack("<I", data[:4])
    with PictureArchive.open(server.studio.archive.address) as archive:
        found = archive.find(Query(limit=None))
    assert count == len(found)
    values = np.frombuffer(data, "<f4", count, 4)
    assert np.sort(values) == pytest.approx(np.sort([one.value for one in found]), abs=1e-3)
    stated = np.frombuffer(data, "<f4", count, 4 + 8 * count)
    assert np.sort(stated) == pytest.approx(np.sort([one.uncertainty_de00 for one in found]), abs=1e-3)
    assert len(data) == 4 + count * (4 + 4 + 4 + 4 + 3)


def test_a_box_on_the_map_finds_what_lies_in_it_dark_to_light(server):
    facts = answer(server, **{"value-from": 4, "value-to": 6, "warmth-from": 0.1, "warmth-to": 0.5})
    listed = shown(facts["html"])
    values, warmths = [float(one["value"]) for one in listed], [float(one["warmth"]) for one in listed]
    assert values == sorted(values)
    assert all(4 <= value <= 6 for value in values)
    assert all(0.1 <= warmth <= 0.5 for warmth in warmths)
    assert 0 < facts["total"] == points_of(facts, len(server.studio.archive.map.scatter())).sum()


def test_more_answers_follow_those_that_are_shown(server):
    first = answer(server)
    assert first["next"] == LISTED == len(shown(first["html"]))
    second = answer(server, first=LISTED)
    assert not {one["result"] for one in shown(first["html"])} & {one["result"] for one in shown(second["html"])}
    assert f"of {first['total']}" in first["told"]


def test_near_a_chip_the_nearest_come_first_and_the_chip_is_not_its_own_answer(server):
    facts = answer(server, near="3:r1c1", within=20)
    listed = shown(facts["html"])
    assert "3:r1c1" not in [one["result"] for one in listed]
    archive = server.studio.archive
    wanted = archive.card(3).note.swatch("r1c1").lab
    places = [one["result"].split(":") for one in listed]
    far = [float(delta_e_2000(np.array(wanted), archive.card(int(c)).note.swatch(s).lab)) for c, s in places]
    assert far == sorted(far)
    assert max(far) <= 20


def test_tubes_words_and_sitters_are_asked_of_the_database(server):
    archive = server.studio.archive
    for asked, query in (
        ({"with": "viridian"}, Query(with_tubes=("viridian",), limit=None)),
        ({"with": ["white", "viridian"]}, Query(with_tubes=("white", "viridian"), limit=None)),
        ({"without": "white"}, Query(without_tubes=("white",), limit=None)),
        ({"sitter": "K"}, Query(sitter="K", limit=None)),
        ({"words": "evening 7"}, Query(text=("evening", "7"), limit=None)),
    ):
        expected = len(archive.find(query))
        assert answer(server, **asked)["total"] == expected > 0


@pytest.mark.parametrize(
    "asked", [{"near": "/etc/passwd"}, {"near": "a.note.json:r1c1"}, {"value-from": "x"}, {"near": "999:r1c1"}]
)
def test_a_senseless_question_is_told_and_no_file_is_opened(server, asked):
    status, facts = refused(answer, server, **asked)
    assert status in {404, 409}
    assert facts["message"]


def test_the_map_answers_like_the_archive(server):
    """Against the archive's own search, for questions of value and of nearness."""
    archive = server.studio.archive
    for low, high in ((0, 10), (3.2, 4.1), (9.9, 10)):
        found = archive.find(Query(value=(low, high), limit=None))
        assert archive.map.answer(MapQuestion(Query(value=(low, high)))).total == len(found)


def test_the_map_follows_the_archive(tmp_path):
    from tests.archive_data import sample_card

    with PictureArchive.open(str(tmp_path / "archive.sqlite")) as archive:
        archive.add(sample_card(1))
        assert len(archive.map.scatter()) == 12
        archive.add(sample_card(2))
        assert len(archive.map.scatter()) == 24
        archive.remove(1)
        assert archive.map.answer(MapQuestion(Query())).total == 12


def test_the_sheet_of_what_was_found_can_be_printed(server):
    printed = page(f"{server.address}find/sheet?value-from=4&value-to=5&with=viridian")
    assert "value 4 to 5, with viridian" in words_of(printed)
    assert "<style" not in printed  # the page's policy forbids them
    assert ' style="' not in printed


@pytest.mark.parametrize("notation", ["5.0YR 6.0/4.0", "7.5R 3.0/8.0", "5.0PB 5.0/6.0", "10.0RP 7.0/4.0"])
def test_a_munsell_colour_is_found_again_in_its_own_notation(notation):
    with PictureArchive.open(":memory:") as archive:
        assert munsell_notation(named_colour(notation, archive).lab) == [notation]
        grey = named_colour("N 5", archive).lab
    assert np.hypot(*grey[1:]) < 0.05
    assert munsell_notation(munsell_lab(0.0, 5.0, 0.0)) == ["N 5.0"]


def test_three_numbers_are_a_colour_with_commas_or_spaces():
    with PictureArchive.open(":memory:") as archive:
        for text in ("60 18 29", "60,18,29", "60, 18; 29"):
            assert named_colour(text, archive).lab.tolist() == [60.0, 18.0, 29.0]
        with pytest.raises(UsageError):
            named_colour("60 18", archive)


def test_two_photos_of_a_card_are_compared(server, drying):
    wet, day, _ = drying
    words = words_of(page(f"{server.address}changes?card={wet}&card={day}"))
    assert "swatches changed" in words
    assert "darker" in words
    assert "24 hours apart" in words or "1 day apart" in words


def test_what_cannot_have_changed_is_taken_as_unchanged(server, drying):
    wet, day, _ = drying
    words = words_of(page(f"{server.address}changes?card={wet}&card={day}&anchor=r1c1"))
    assert "taken as unchanged" in words


def test_a_series_has_a_curve_for_each_swatch(server, drying):
    html = page(f"{server.address}changes?{'&'.join(f'card={number}' for number in drying)}")
    assert html.count("since the first reading") == 15


def test_the_words_below_the_map_of_moves_keep_clear_of_one_another(server, drying):
    """Letters are 15 high: lines that are 18 apart do not touch."""
    html = page(f"{server.address}changes?card={drying[0]}&card={drying[1]}")
    drawing = re.search(r'<svg class="moves".*?</svg>', html, re.DOTALL)[0]
    words = {text: float(y) for y, text in re.findall(r'<text [^>]*y="([\d.]+)"[^>]*>([^<]+)<', drawing)}
    height = float(re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)"', drawing)[1])
    lowest = max(y for text, y in words.items() if text.isdecimal())
    below = words.get("grey", lowest)
    assert words["← cooler"] - below >= 18
    assert below == lowest or below - lowest >= 15
    assert height - words["← cooler"] >= 5


def test_two_different_cards_are_refused_in_words(server):
    html = page(f"{server.address}changes?card=1&card=2")
    assert "failure" in html
    assert "not of one card" in words_of(html)


def test_one_reading_chosen_twice_is_told_in_words(server, drying):
    words = words_of(page(f"{server.address}changes?card={drying[0]}&card={drying[0]}"))
    assert "Choose two different readings" in words
    assert "this is the same photo twice" in words.casefold()
    assert "Choose two different readings" not in words_of(page(f"{server.address}changes?card={drying[0]}"))


def test_a_sitting_is_planned_in_the_painters_words(server):
    words = words_of(page(f"{server.address}sitting?steps=5"))
    assert "titanium white" not in words
    assert "red ochre" not in words
    assert "Bring white" in words or ", white" in words


def test_a_mixture_of_the_plan_leads_to_the_card_it_was_painted_on(server):
    html = page(f"{server.address}sitting?steps=5")
    links = re.findall(r'href="/?([^"]*cards/\d+)#(r\d+c\d+)">card \d+ r\d+c\d+</a>', html)
    assert links
    address, swatch = links[0]
    assert f'id="{swatch}"' in page(urllib.parse.urljoin(server.address, f"/{address}"))


def test_a_chip_is_swapped_for_another(server):
    html = page(f"{server.address}sitting/alternatives?steps=5&step=3&role=run")
    choices = re.findall(r'data-take="(3:run:[^"]+)"', html)
    assert choices
    name = choices[0].split(":", 2)[2]
    before = page(f"{server.address}sitting?steps=5")
    stage = re.compile(r'data-plan-step="3".*?class="place run">.*?</div>', re.DOTALL)
    assert name not in stage.search(before)[0].partition('class="place run"')[2]
    swapped = page(f"{server.address}sitting?steps=5&{urllib.parse.urlencode({'swap': choices[0]})}")
    assert name in stage.search(swapped)[0]
    sheet = page(f"{server.address}sitting/sheet?steps=5&{urllib.parse.urlencode({'swap': choices[0]})}")
    assert name in sheet


@pytest.mark.parametrize("asked", ["steps=99", "from=8&to=3", "steps=x", "tube=unobtainium", "sitter=nobody"])
def test_a_plan_that_cannot_be_made_says_why(server, asked):
    html = page(f"{server.address}sitting?{asked}")
    assert 'class="failure"' in html
    assert "data-plan-step" not in html


def test_recipes_and_a_correction_are_told_with_chips(server):
    html = page(f"{server.address}mix?wanted=60+18+29&now=5:r1c1")
    assert html.count('data-result="recipe"') >= 3
    assert 'data-result="correction"' in html
    words = words_of(html)
    for word in ("now", "wanted", "Nearest that you have painted", "Take care"):
        assert word in words
    assert "titanium white" not in words


@pytest.mark.parametrize("wanted", ["flesh", "60 18", "600 18 29", "5YR 60/4", "99:r1c1", "5:r9c9", "card.jpg:r2c3"])
def test_what_names_no_colour_is_refused_with_what_can_be_done_on_the_page(server, wanted):
    html = page(f"{server.address}mix?{urllib.parse.urlencode({'wanted': wanted})}")
    (told,) = re.findall(r'class="failure">(.*?)</div>', html, re.DOTALL)
    for way in ("Take a photo of it", "on Find", "60 18 29 is L* a* b*"):
        assert way in told
    for foreign in ("--", "`", ".json", "card.jpg:r2c3)", "swatchread "):
        assert foreign not in told
    assert "data-learning" not in html


def test_a_number_may_have_a_comma(server):
    assert "data-plan-step" in page(f"{server.address}sitting?steps=5&from=3,5")


def test_a_recipe_is_predicted(server):
    html = page(f"{server.address}mix?recipe=3+white+%2B+1+red+earth")
    assert 'data-result="predicted"' in html


@pytest.mark.parametrize("name", ["find", "changes", "sitting", "mix?wanted=60+18+29", "tubes"])
def test_an_empty_archive_says_what_to_do(tmp_path, name):
    with served(tmp_path / "archive.sqlite") as running:
        status, body, _ = get(running.address + name, Accept="text/html")
    assert status == 200
    assert b"Traceback" not in body


def test_texts_of_the_painter_are_escaped(tmp_path):
    from tests.archive_data import build_note, swatch_data

    bad = '<img src=x onerror="alert(1)">'
    note = build_note([swatch_data(1, 1, (50, 10, 15), recipe=f"1 {bad}")], info={"title": bad, "sitter": bad})
    with PictureArchive.open(str(tmp_path / "archive.sqlite")) as archive:
        archive.add(note)
    with served(tmp_path / "archive.sqlite") as running:
        for name in ("find", "find/answer", "find/sheet", "tubes", "sitting", "changes"):
            assert b"<img src=x" not in get(running.address + name, Accept="text/html")[1]


def test_recipes_in_words_that_are_open_are_not_called_missing(tmp_path):
    from tests.archive_data import build_note, swatch_data

    path = tmp_path / "archive.sqlite"
    with PictureArchive.open(str(path)) as archive:
        archive.add(build_note([swatch_data(1, 1, (50, 10, 15), recipe="2 ochre")]))
    with served(path) as running:
        words = words_of(page(f"{running.address}tubes"))
    assert "To settle" in words
    assert "No recipe is understood yet" in words
    assert "No recipes are on file yet" not in words


def test_many_questions_do_not_push_the_page_away(tmp_path):
    from tests.archive_data import build_note, swatch_data

    words = ("white", "ochre", "umber", "black")
    swatches = [swatch_data(1, k, (50, 10, 15), recipe=f"1 {word}") for k, word in enumerate(words, 1)]
    with PictureArchive.open(str(tmp_path / "a.sqlite")) as archive:
        archive.add(build_note(swatches))
    with served(tmp_path / "a.sqlite") as running:
        asked = page(f"{running.address}tubes/asked?card=1")
        shown, _, folded = asked.partition("<details>")
        assert shown.count("data-question") == 2
        assert folded.count("data-question") == len(running.studio.archive.tubes.questions()) - 2 > 0
        assert (
            "<details>" not in page(f"{running.address}tubes").partition('id="questions"')[2].partition("</section>")[0]
        )


def test_a_tube_is_settled_by_one_click_for_all_cards(tmp_path):
    path = tmp_path / "archive.sqlite"
    fill_archive(path)
    with served(path) as running:
        html = page(f"{running.address}tubes")
        assert 'data-question="ochre"' in html
        before = answer(running, **{"with": "red ochre"})["total"]
        told = post(f"{running.address}tubes/say", {"word": "ochre", "tube": "yellow ochre"})
        assert "on all cards" in told["message"]
        assert 'data-question="ochre"' not in page(f"{running.address}tubes")
        assert answer(running, **{"with": "red ochre"})["total"] < before
        post(f"{running.address}tubes/table", {"table": "word,tube\nwhite,zinc white\n"})
        assert 'data-question="white"' not in page(f"{running.address}tubes")
        post(f"{running.address}tubes/forget", {"word": "ochre"})
        assert 'data-question="ochre"' in page(f"{running.address}tubes")
        status, facts = refused(post, f"{running.address}tubes/say", {"word": "--", "tube": "x"})
        assert status == 409
        assert facts["message"]


def test_the_photo_of_a_dab_fills_in_its_colour_and_is_not_kept(server, photograph):
    path, scene = photograph(DAB)
    cards = len(server.studio.archive.cards())
    body, kind = form((path.name, path.read_bytes()))
    told = post(f"{server.address}mix/dab", body, **{"Content-Type": kind})
    (truth,) = scene.truth.swatches
    L, a, b = (float(number) for number in told["colour"].split())
    assert (
        delta_e_2000(np.array([L, a, b]), np.array(truth.lab)) < 3.0
    )  # a small photo of one dab; a trained eye sees 1
    assert len(server.studio.archive.cards()) == cards
    assert 'data-result="recipe"' in page(f"{server.address}mix?{urllib.parse.urlencode({'wanted': told['colour']})}")


def test_a_photo_of_a_whole_card_is_no_dab(server, photograph):
    path, _ = photograph(CARD)
    body, kind = form((path.name, path.read_bytes()))
    status, facts = refused(post, f"{server.address}mix/dab", body, **{"Content-Type": kind})
    assert status == 422
    assert "9 swatches" in facts["message"] + facts["why"]
