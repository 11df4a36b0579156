"""The page driven from first to last by keyboard, in headless Chromium."""

from __future__ import annotations

import shutil
import time

import numpy as np
import pytest

from swatchread.note.model import load_note
from swatchread.page.note_keeper import NoteKeeper, Words
from tests.archive_data import build_note, flesh_colours, swatch_data
from tests.browser import CHROMIUM, FLAGS
from tests.program import served

DRIVER = shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="chromium and its driver are not installed")

WAIT = 20


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    profile = tmp_path_factory.mktemp("profile")
    for flag in (*FLAGS, "--disable-dev-shm-usage", "--window-size=1200,900", f"--user-data-dir={profile}"):
        options.add_argument(flag)
    running = webdriver.Chrome(options=options, service=Service(executable_path=DRIVER))
    yield running
    running.quit()


def handwriting(text):
    """Draw some words, standing in for a crop of a photo."""
    import cv2

    picture = np.full((120, 640, 3), 205, np.uint8)
    cv2.putText(picture, text, (15, 75), cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, 1.4, (70, 60, 60), 2, cv2.LINE_AA)
    return cv2.imencode(".png", picture)[1].tobytes()


@pytest.fixture
def path(tmp_path):
    colours = flesh_colours(6, np.random.default_rng(2))
    colours = colours[np.argsort(colours[:, 0])]
    swatches = [
        swatch_data(i // 2 + 1, i % 2 + 1, lab, writing=f"card.r{i // 2 + 1}c{i % 2 + 1}.png")
        for i, lab in enumerate(colours)
    ]
    target = tmp_path / "card.note.json"
    build_note(swatches, info={"title": "Harbour evening (invented)"}).save(target)
    for swatch in swatches[:-1]:
        (tmp_path / swatch["writing"]).write_bytes(handwriting("3 white  1 ochre, touch red"))
    return target


@pytest.fixture
def server(path):
    with served(path) as running:
        yield running


def keys(driver, *pressed):
    from selenium.webdriver.common.action_chains import ActionChains

    ActionChains(driver).send_keys(*pressed).perform()


def chord(driver, key):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    ActionChains(driver).key_down(Keys.CONTROL).send_keys(key).key_up(Keys.CONTROL).perform()


def until(driver, condition):
    from selenium.webdriver.support.wait import WebDriverWait

    return WebDriverWait(driver, WAIT).until(condition)


def text_of(driver, css):
    return driver.find_element("css selector", css).text


def focused(driver):
    return driver.switch_to.active_element.get_attribute("id")


def test_a_card_is_filled_in_with_the_keyboard_alone(driver, server, path):
    from selenium.webdriver.common.keys import Keys

    driver.get(server.address)
    assert focused(driver) == "r1c1"
    keys(driver, "3 titanium white + 1 yellow ochre + touch cad red")
    until(driver, lambda d: "touch of cadmium red" in text_of(d, "#r1c1-told p"))
    assert "cadmium" in text_of(driver, "#r1c1-told ul")
    assert text_of(driver, "#state") == "Not saved yet"
    keys(driver, Keys.ENTER)
    assert focused(driver) == "r1c2"
    assert text_of(driver, "#which").startswith("r1c2")
    keys(driver, "2 white")
    until(driver, lambda d: "could be titanium white" in text_of(d, "#r1c2-told ul"))
    keys(driver, Keys.ARROW_DOWN, Keys.ARROW_DOWN, Keys.ARROW_UP)
    assert focused(driver) == "r2c1"
    keys(driver, "1 viridian")
    chord(driver, "s")
    until(driver, lambda d: "Saved in card.note.json" in text_of(d, "#state"))
    assert load_note(path).swatch("r2c1").recipe == "1 viridian"
    keys(driver, *[Keys.ENTER] * 4)
    assert focused(driver) == "card-title"
    keys(driver, "Harbour, second evening", Keys.ENTER, "K", Keys.ENTER, "2026-01-02", Keys.ENTER, "oil", Keys.ENTER)
    keys(driver, "grey card", Keys.ENTER, "windy", Keys.ENTER)
    assert focused(driver) == "close"
    keys(driver, Keys.ENTER)
    until(driver, lambda d: "You can close this page" in text_of(d, "#done"))
    server.thread.join(timeout=10)
    assert not server.thread.is_alive()
    note = load_note(path)
    assert note.swatch("r1c1").recipe == "3 titanium white + 1 yellow ochre + touch cad red"
    assert note.swatch("r1c2").recipe == "2 white"
    assert note.card_info.model_dump() == {
        "title": "Harbour, second evening",
        "sitter": "K",
        "date": "2026-01-02",
        "medium": "oil",
        "support": "grey card",
        "note": "windy",
    }


def test_the_handwriting_of_the_swatch_at_hand_is_shown(driver, server):
    from selenium.webdriver.common.keys import Keys

    driver.get(server.address)
    crop = driver.find_element("id", "crop")
    until(driver, lambda d: d.execute_script("return document.getElementById('crop').naturalWidth") == 640)
    assert crop.is_displayed()
    assert crop.get_attribute("alt") == "Handwriting beside r1c1"
    keys(driver, *[Keys.ARROW_DOWN] * 5)
    assert focused(driver) == "r3c2"
    assert not crop.is_displayed()  # its picture is missing
    assert text_of(driver, "#nocrop")


def test_trouble_with_saving_is_told_and_nothing_is_lost(driver, server, path):
    driver.get(server.address)
    keys(driver, "3 tw")
    NoteKeeper(path).save(Words({"r1c1": "their recipe"}))
    chord(driver, "s")
    until(driver, lambda d: "r1c1 now says their recipe" in text_of(d, "#state"))
    assert driver.find_element("id", "r1c1").get_attribute("value") == "3 tw"
    # The page reads the recipe a moment after the last key. Asked later than the save below, it would speak last.
    until(driver, lambda d: d.find_element("id", "r1c1-told").get_attribute("data-read") == "3 tw")
    # Browsers open connections in advance; one of these must not save when the program is no longer there.
    driver.execute_script(
        "for (const mode of ['anonymous', null]) {"
        " const link = Object.assign(document.createElement('link'), {rel: 'preconnect', href: location.origin});"
        " link.crossOrigin = mode; document.head.append(link); }"
    )
    time.sleep(0.5)
    server.stop()
    server.thread.join(timeout=10)
    chord(driver, "s")
    until(driver, lambda d: "nothing was saved" in text_of(d, "#state"))
    driver.execute_script("for (const f of document.querySelectorAll('input')) f.value = f.defaultValue")


def test_the_pages_policy_stops_nothing_of_its_own(driver, server):
    driver.get_log("browser")
    driver.get(server.address)
    until(driver, lambda d: focused(d) == "r1c1")
    trouble = [line["message"] for line in driver.get_log("browser") if "favicon" not in line["message"]]
    assert trouble == []


def test_the_page_holds_together_on_a_narrow_screen(driver, server):
    driver.get(server.address)
    driver.set_window_size(500, 900)
    try:
        width = driver.execute_script("return [document.documentElement.scrollWidth, window.innerWidth]")
        assert width[0] <= width[1]
        driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride", {"width": 400, "height": 900, "deviceScaleFactor": 1, "mobile": False}
        )
        # What the page says of itself stands in one line there too, and is not broken within its words.
        state = driver.find_element("id", "state")
        assert state.text
        line = driver.execute_script("return parseFloat(getComputedStyle(arguments[0]).lineHeight)", state)
        assert state.size["height"] < 1.5 * line
    finally:
        driver.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
        driver.set_window_size(1200, 900)
