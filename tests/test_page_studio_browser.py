"""The pages Find, Changes, Sitting, Mix and Tubes in Chromium, with a mouse at 1280 px and a thumb at 390."""

from __future__ import annotations

import base64
import subprocess
from dataclasses import replace

import pytest

from swatchread.recipes.own_tubes import OwnTube
from tests.browser import needs_printing
from tests.page_archive import fill_archive
from tests.page_driver import (
    SIZES,
    axe_source,
    console_trouble,
    drag_on,
    driving,
    every,
    needs_driver,
    one,
    overflows,
    press,
    resize,
    serious_faults,
    until,
)
from tests.page_server import served
from tests.scene import SceneSpec, easy_spec

pytestmark = needs_driver

DAB = replace(easy_spec(7101, (1600, 1200)), rows=1, columns=1, missing=0, cell_pitch=1.3)

PAGES = (
    "find",
    "find?near=3:r1c1&with=white",
    "sitting",
    "mix?wanted=60+18+29&now=5:r1c1",
    "tubes",
    "changes?card=15&card=16&card=17",
    "sitting/sheet?steps=5",
    "find/sheet",
)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    made = tmp_path_factory.mktemp("studio") / "archive.sqlite"
    assert fill_archive(made) == [15, 16, 17]
    return made


@pytest.fixture(scope="module")
def server(path):
    with served(path) as running:
        running.studio.palette()
        yield running


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    with driving(tmp_path_factory.mktemp("profile")) as running:
        yield running


_SLOW_DESK, _SLOW_PHONE = (pytest.param(size, marks=pytest.mark.slow) for size in SIZES)


@pytest.fixture(params=["desk", _SLOW_PHONE])
def driver(request, browser):
    """Every day each deed is driven at one size, the slow tests drive both."""
    return sized(browser, request.param)


@pytest.fixture(params=[_SLOW_DESK, "phone"])
def narrow(request, browser):
    """Drive what is harder on a phone there every day."""
    return sized(browser, request.param)


def sized(browser, size):
    resize(browser, size)
    browser.get_log("browser")
    browser.size_name = size
    return browser


def told(driver):
    return one(driver, "#told").text


def total(driver):
    words = until(driver, lambda d: told(d) != "…" and told(d)).split()
    return int(words[-1] if words[0] == "Showing" else words[0])


@pytest.mark.parametrize("page", PAGES)
def test_each_page_fits_its_window_and_its_policy_and_has_no_serious_fault(narrow, server, page):
    narrow.get(server.address + page)
    until(narrow, lambda d: every(d, "h1"))
    if every(narrow, "#told"):
        total(narrow)
    assert not overflows(narrow)
    assert console_trouble(narrow) == []
    assert serious_faults(narrow, axe_source()) == []
    if narrow.size_name == "phone":
        assert too_small_for_a_thumb(narrow) == []


def too_small_for_a_thumb(driver):
    """44 CSS pixels (WCAG 2.2, 2.5.5), but for links within a sentence."""
    return driver.execute_script(
        "const pressed = 'main button, main .button, main select, main summary, main input, nav a';"
        "return [...document.querySelectorAll(pressed)]"
        ".filter((e) => e.checkVisibility() && !['checkbox', 'range', 'file', 'hidden'].includes(e.type))"
        ".filter((e) => e.getBoundingClientRect().height < 43.5).map((e) => e.outerHTML.slice(0, 120))"
    )


def test_every_page_is_in_sight_in_the_menu(narrow, server):
    driver = narrow
    driver.get(server.address + "find")
    edges = driver.execute_script(
        "return [...document.querySelectorAll('nav a')].map((e) => e.getBoundingClientRect())"
        ".map((box) => [box.left, box.right, box.height])"
    )
    width = 390 if driver.size_name == "phone" else 1280
    assert len(edges) == 8
    assert all(0 <= left < right <= width for left, right, _ in edges)
    assert one(driver, "#boxing").is_displayed()


def test_a_box_drawn_on_the_map_narrows_what_is_found(narrow, server):
    driver = narrow
    driver.get(server.address + "find")
    before = total(driver)
    if driver.size_name == "phone":
        press(driver, "#boxing")
    drag_on(driver, "#map", (0.3, 0.4), (0.6, 0.7), touch=driver.size_name == "phone")
    until(driver, lambda d: total(d) < before)
    values = until(driver, lambda d: [float(item.get_attribute("data-value")) for item in every(d, "[data-result]")])
    assert values == sorted(values)
    low, high = (float(one(driver, f"[name=value-{end}]").get_attribute("value")) for end in ("from", "to"))
    assert 0 < low < high < 10
    assert all(low <= value <= high for value in values)
    assert "value-from" in driver.current_url  # what was asked can be kept as a bookmark
    press(driver, "#clear")
    until(driver, lambda d: total(d) == before)


def test_a_chip_finds_what_is_near_it_and_a_tube_is_picked(driver, server):
    driver.get(server.address + "find")
    before = total(driver)
    for place in (0, -1):  # the line below the map follows to the second chip's card
        pressed = every(driver, "[data-result]")[place].get_attribute("data-result")
        press(driver, f"[data-near='{pressed}']")
        until(driver, lambda d, near=pressed: one(d, "[name=near]").get_attribute("value") == near)
        until(driver, lambda d: total(d) < before)
        card = pressed.partition(":")[0]
        assert one(driver, "#run").text == f"The run of card {card}, from dark to light."
        assert one(driver, "#run a").get_attribute("href").endswith(f"/cards/{card}")
    assert "away" in one(driver, "#results").text
    press(driver, "#clear")
    until(driver, lambda d: total(d) == before)
    press(driver, "#question details summary")
    press(driver, "[data-tube=viridian]")
    until(driver, lambda d: total(d) < before)
    assert one(driver, "[data-tube=viridian]").text == "with viridian"
    with_it = total(driver)
    press(driver, "[data-tube=viridian]")
    until(driver, lambda d: total(d) != with_it)
    assert one(driver, "[data-tube=viridian]").get_attribute("aria-pressed") == "true"


def test_the_sliders_are_moved_with_the_keyboard(browser, server):
    from selenium.webdriver.common.keys import Keys

    resize(browser, "desk")
    browser.get(server.address + "find")
    before = total(browser)
    one(browser, "[name=value-from]").send_keys(*[Keys.ARROW_RIGHT] * 40)
    until(browser, lambda d: total(d) < before)
    assert float(one(browser, "[name=value-from]").get_attribute("value")) == pytest.approx(4.0, abs=0.05)


@pytest.mark.slow  # every day a step is swapped and printed
def test_a_step_is_swapped_and_swapped_back(driver, server):
    driver.get(server.address + "sitting?steps=5")
    until(driver, lambda d: len(every(d, "[data-plan-step]")) == 5)
    place = "[data-plan-step='3'] .place.run"
    before = one(driver, place).text
    press(driver, f"{place} button")
    until(driver, lambda d: every(d, "#others[open] [data-take]"))
    press(driver, "#others [data-take]")
    until(driver, lambda d: one(d, place).text != before)
    assert "swap=" in driver.current_url
    press(driver, "#unswap")
    until(driver, lambda d: one(d, place).text == before)


def test_the_number_of_steps_is_followed(driver, server):
    driver.get(server.address + "sitting?steps=5")
    until(driver, lambda d: len(every(d, "[data-plan-step]")) == 5)
    field = one(driver, "[name=steps]")
    field.clear()
    field.send_keys("4")
    until(driver, lambda d: len(every(d, "[data-plan-step]")) == 4)


@needs_printing
def test_a_plan_with_a_swapped_step_is_printed_from_the_page(browser, server, tmp_path):
    resize(browser, "desk")
    browser.get(server.address + "sitting?steps=5&amount=15 ml")
    until(browser, lambda d: len(every(d, "[data-plan-step]")) == 5)
    place = "[data-plan-step='3'] .place.run"
    before = one(browser, f"{place} .recipe").text
    press(browser, f"{place} button")
    until(browser, lambda d: every(d, "#others[open] [data-take]"))
    press(browser, "#others [data-take]")
    until(browser, lambda d: one(d, f"{place} .recipe").text != before)
    swapped_in = one(browser, f"{place} .recipe").text
    browser.get(one(browser, "[data-sheet=sparing]").get_attribute("href"))
    browser.execute_script("window.print = () => { window.printed = true; }")
    press(browser, "#print")
    assert browser.execute_script("return window.printed")
    settings = {"preferCSSPageSize": True, "paperWidth": 8.27, "paperHeight": 11.69}
    target = tmp_path / "sheet.pdf"
    target.write_bytes(base64.b64decode(browser.execute_cdp_cmd("Page.printToPDF", settings)["data"]))
    text = subprocess.run(["pdftotext", "-raw", target, "-"], capture_output=True, text=True, check=True).stdout
    text = " ".join(text.split())
    assert swapped_in in text
    assert "Print this sheet" not in text
    assert "Bring" in text
    assert text.count("step ") == 5
    assert " ml" in text
    assert browser.execute_script("return document.fonts.check('18px \"Source Sans 3\"')")
    assert console_trouble(browser) == []


def test_a_mixture_is_corrected_with_chips_of_now_wanted_and_after(driver, server):
    driver.get(server.address + "mix")
    one(driver, "[name=wanted]").send_keys("60 18 29")
    until(driver, lambda d: every(d, "[data-result=recipe]"))
    one(driver, "[name=now]").send_keys("5:r1c1")
    until(driver, lambda d: every(d, "[data-result=correction]"))
    assert {figure.text.split()[0] for figure in every(driver, ".three figure")} >= {"now", "wanted"}
    one(driver, "[name=now]").clear()
    one(driver, "[name=now]").send_keys("nonsense")
    until(driver, lambda d: every(d, "#answer .failure"))


@pytest.mark.slow  # a request proves the same every day
def test_the_photo_of_a_dab_is_the_colour_wanted_on_a_phone_at_the_easel(browser, server, photograph):
    photo, _ = photograph(DAB)
    resize(browser, "phone")
    browser.get(server.address + "mix")
    one(browser, "[data-dab=wanted]").send_keys(str(photo))
    until(browser, lambda d: len(one(d, "[name=wanted]").get_attribute("value").split()) == 3)
    until(browser, lambda d: every(d, "[data-result=recipe], [data-result=painted]"))


def test_two_photos_are_chosen_and_an_anchor_is_pressed(driver, server):
    from selenium.webdriver.support.select import Select

    driver.get(server.address + "changes")
    Select(every(driver, "select[name=card]")[0]).select_by_value("15")
    Select(every(driver, "select[name=card]")[1]).select_by_value("16")
    until(driver, lambda d: every(d, "[data-result=verdict]"))
    assert "darker" in one(driver, "[data-result=verdict]").text
    press(driver, "[data-swatch=r1c1] button")
    until(driver, lambda d: "taken as unchanged" in one(d, "[data-swatch=r1c1]").text)
    press(driver, "[data-swatch=r1c1] button")
    until(driver, lambda d: "taken as unchanged" not in one(d, "[data-swatch=r1c1]").text)


@pytest.mark.slow  # every day a photo is dropped on a card itself
def test_todays_photo_is_read_and_laid_on_the_earlier_one(browser, photograph, tmp_path):
    """Two photos of two cards: the page reads the second, compares, and says that they are not of one card."""
    from selenium.webdriver.support.select import Select

    photo, _ = photograph(SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36))
    resize(browser, "desk")
    path = tmp_path / "archive.sqlite"
    fill_archive(path)
    with served(path) as running:
        browser.get(running.address + "changes")
        Select(every(browser, "select[name=card]")[0]).select_by_value("15")
        one(browser, "#today").send_keys(str(photo))
        until(browser, lambda d: "not of one card" in one(d, "#answer").text)
        assert "card=18" in browser.current_url
        browser.get("about:blank")


def test_a_tube_is_settled_by_one_press_for_all_cards(driver, tmp_path):
    path = tmp_path / "archive.sqlite"
    fill_archive(path)
    with served(path) as running:
        driver.get(running.address + "tubes")
        press(driver, "[data-question=ochre] button")
        until(driver, lambda d: not every(d, "[data-question=ochre]"))
        assert "on all cards" in one(driver, "[role=status]").text
        assert "yellow ochre" in one(driver, "[data-word=ochre]").text
        one(driver, "#say [name=word]").send_keys("white")
        one(driver, "#say [name=tube]").send_keys("titanium white PW6")
        press(driver, "#say button")
        until(driver, lambda d: every(d, "[data-word=white]"))
        assert not every(driver, "[data-question]")
        driver.get(running.address + "find")
        assert "titanium white" not in one(driver, "#question").get_attribute("textContent")


def test_a_word_that_was_just_typed_is_asked_about_and_every_recipe_follows_the_answer(browser, tmp_path):
    resize(browser, "desk")
    path = tmp_path / "archive.sqlite"
    fill_archive(path)
    with served(path) as running:
        running.studio.archive.tubes.say([OwnTube("white", "titanium white"), OwnTube("red earth", "red ochre")])
        browser.get(running.address + "cards/15")  # its swatches have no recipes yet
        field, other = every(browser, "[name=recipe]")[:2]
        other.send_keys("2 ochre")
        field.send_keys("3 white + 1 ochre")
        until(browser, lambda d: every(d, "[data-question=ochre]"))
        assert browser.switch_to.active_element == field
        assert "could be" in one(browser, "#told-r1c1").text
        press(browser, "[data-question=ochre] [data-tube='yellow ochre']")
        until(browser, lambda d: not every(d, "[data-question=ochre]"))
        for swatch in ("r1c1", "r1c2"):
            until(browser, lambda d, told=f"#told-{swatch}": "could be" not in one(d, told).text)
        browser.get("about:blank")


@pytest.mark.parametrize(
    ("page", "word", "tube"),
    [
        ("cards/1", "white", "titanium white"),
        pytest.param("sitting?steps=5", "ochre", "red earth", marks=pytest.mark.slow),
    ],
)
def test_a_doubt_is_settled_where_it_is_met(browser, tmp_path, page, word, tube):
    resize(browser, "phone")
    path = tmp_path / "archive.sqlite"
    fill_archive(path)
    with served(path) as running:
        browser.get(running.address + page)
        until(browser, lambda d: every(d, f"[data-question={word}]"))
        press(browser, f"[data-question={word}] [data-tube='{tube}']")
        until(browser, lambda d: not every(d, f"[data-question={word}]"))
        assert [str(one) for one in running.studio.archive.tubes.said()] == [f"{word} = {tube}"]
        browser.get("about:blank")
