"""The pages Cards, a card and Phone driven in Chromium, by mouse on a desk and by thumb on a phone."""

import contextlib
import io
import json
import time
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from tests.browser import (
    DESK,
    PHONE,
    accessibility_faults,
    complaints,
    drag,
    find,
    find_all,
    needs_driver,
    open_browser,
    pointer,
    resize,
    until,
)
from tests.page_server import read_card_of, served, settled, upload
from tests.scene import SceneSpec

pytestmark = needs_driver

SPEC = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)
OTHER = SceneSpec(seed=12, width=1200, height=900, rows=4, columns=3, chart_fraction=0.3)
SIZES = pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
_SLOW_DESK, _SLOW_PHONE = (pytest.param(size, marks=pytest.mark.slow) for size in (DESK, PHONE))
MOSTLY_DESK = pytest.mark.parametrize("size", [DESK, _SLOW_PHONE], ids=["desk", "phone"])
MOSTLY_PHONE = pytest.mark.parametrize("size", [_SLOW_DESK, PHONE], ids=["desk", "phone"])
"""Every day each deed is driven at one size, the drags in turn by mouse and thumb; the slow tests drive both."""

DROP = (
    "const bytes = Uint8Array.from(arguments[0].match(/../g), pair => parseInt(pair, 16));"
    "const files = new DataTransfer(); files.items.add(new File([bytes], 'dropped.jpg', {type: 'image/jpeg'}));"
    "const drop = {dataTransfer: files, bubbles: true, cancelable: true};"
    "document.body.dispatchEvent(new DragEvent('drop', drop))"
)
"""A drop as the browser makes it of a dragged file."""


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    running = open_browser(tmp_path_factory.mktemp("profile"))
    yield running
    running.quit()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("archive") / "archive.sqlite", readers=2) as running:
        yield running


@pytest.fixture(scope="module")
def photo(photograph):
    return photograph(SPEC)


@pytest.fixture(scope="module")
def card(server, photo):
    return read_card_of(server, photo[0])


@pytest.fixture(scope="module")
def without_card(photograph):
    """Return a photo that is refused soon: a chart lies there, and no card."""
    return photograph(SceneSpec(seed=13, width=800, height=600, card_present=False, chart_fraction=0.4))[0]


@pytest.fixture(scope="module")
def unreadable(tmp_path_factory):
    path = tmp_path_factory.mktemp("photos") / "table.png"
    pixels = np.random.default_rng(5).integers(0, 255, (400, 500, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(path)
    return path


@pytest.fixture
def opened(driver, server, card):
    """Open the card's page as it was read, at a size."""

    def show(size=DESK):
        resize(driver, size)
        while server.studio.archive.pictures.steps(card):
            undo_by_request(server, card)
        driver.get(f"{server.address}cards/{card}")
        until(driver, lambda d: find_all(d, "[data-outline]"))
        complaints(driver)
        return driver

    return show


def undo_by_request(server, card):
    from tests.page_server import post

    post(f"{server.address}cards/{card}/undo", {"edition": server.studio.archive.card(card).edition})


def status(driver):
    return find(driver, "[role=status]").text


def ids(driver):
    return {one.get_attribute("data-swatch") for one in find_all(driver, "[data-swatch]")}


def use(driver, tool):
    press(driver, find(driver, f"[data-tool={tool}]"))
    # What is pointed at has to be in the window.
    driver.execute_script("document.getElementById('stage').scrollIntoView({block: 'center'})")


def press(driver, element):
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
    element.click()


def on_screen(driver, place):
    """Where a place of the photo stands in the window."""
    return driver.execute_script(
        "const s = document.querySelector('#stage svg');"
        "const p = new DOMPoint(arguments[0], arguments[1]).matrixTransform(s.getScreenCTM()); return [p.x, p.y]",
        *map(float, place),
    )


def middles(photo):
    return {swatch.id: swatch.centre_px for swatch in photo[1].truth.swatches}


def hints(server, card):
    text = server.studio.archive.pictures.hints(card)
    return json.loads(text) if text else {}


@MOSTLY_DESK
def test_photos_are_taken_and_one_that_cannot_be_read_says_why(driver, tmp_path, photograph, without_card, size):
    with served(tmp_path / "a.sqlite", readers=2) as server:
        resize(driver, size)
        driver.get(server.address)
        assert find(driver, "#sample").is_displayed()
        photos = [photograph(spec)[0] for spec in (SPEC, OTHER)]
        find(driver, "input[type=file][name=photos]").send_keys("\n".join(map(str, [*photos, without_card])))
        until(driver, lambda d: len(find_all(d, "[data-card]")) == 2 and find_all(d, "[data-refused] img"))
        refused = find(driver, "[data-refused]").text
        for word in (without_card.name, "Why:", "What to do:"):
            assert word in refused
        pictures = "return [...document.querySelectorAll('[data-card] img')].map(image => image.naturalWidth)"
        until(driver, lambda d: all(width > 100 for width in d.execute_script(pictures)))
        assert accessibility_faults(driver) == []
        press(driver, find(driver, "[data-refused] [data-drop]"))
        until(driver, lambda d: not find_all(d, "[data-refused]"))
        assert [line for line in complaints(driver) if "422" not in line] == []


@pytest.mark.slow  # requests prove the same every day
@SIZES
def test_where_the_chart_lies_is_shown_on_a_photo_that_could_not_be_read(driver, tmp_path, unreadable, size):
    with served(tmp_path / "a.sqlite") as server:
        (taken,) = upload(server, (unreadable.name, unreadable.read_bytes()))
        settled(server, taken["id"])
        resize(driver, size)
        complaints(driver)
        driver.get(server.address + "cards")
        press(driver, find(driver, "[data-refused] a.button"))
        until(driver, lambda d: find_all(d, "[data-corner=card-2]"))
        assert not find(driver, "#use-card").is_selected()
        driver.execute_script("document.getElementById('stage').scrollIntoView({block: 'center'})")
        time.sleep(0.3)  # the corners are drawn again when the window has its final size
        drag(driver, find(driver, "[data-corner=card-2]"), -12, 8)
        until(driver, lambda d: find(d, "#use-card").is_selected())
        assert accessibility_faults(driver) == []
        assert driver.execute_script("return document.documentElement.scrollWidth <= innerWidth")
        press(driver, find(driver, "#point button"))
        until(driver, lambda d: "between the corners" in find(d, "[data-refused]").text)
        assert server.studio.inbox.get(taken["id"]).failure.code == "chart_not_there"
        assert complaints(driver) == []


def test_photos_can_be_dropped_anywhere(driver, tmp_path, photo):
    with served(tmp_path / "a.sqlite") as server:
        resize(driver, DESK)
        driver.get(server.address)
        data = photo[0].read_bytes().hex()
        driver.execute_script(DROP, data)
        until(driver, lambda d: find_all(d, "[data-card]"))
        assert server.studio.archive.card(1).note.photo.file == "dropped.jpg"
        driver.execute_script(DROP, data)
        until(driver, lambda d: status(d) == "Already here, as card 1")


def test_a_second_photo_dropped_on_a_card_is_compared_with_it(driver, tmp_path, photograph, photo):
    again, _ = photograph(replace(SPEC, exposure=-0.4))
    with served(tmp_path / "a.sqlite") as server:
        number = read_card_of(server, photo[0])
        resize(driver, DESK)
        driver.get(f"{server.address}cards/{number}")
        until(driver, lambda d: find_all(d, "[data-outline]"))
        driver.execute_script(DROP, photo[0].read_bytes().hex())
        until(driver, lambda d: "this card itself" in status(d))
        driver.execute_script(DROP, again.read_bytes().hex())
        until(driver, lambda d: find_all(d, "[data-result=verdict]"))
        assert f"card={number}&card=" in driver.current_url
        assert "0 of 9 swatches changed" in find(driver, "[data-result=verdict]").text


@MOSTLY_DESK
def test_recipes_are_saved_as_they_are_typed(opened, server, card, size):
    driver = opened(size)
    field = find(driver, '[data-swatch="r2c1"] [name=recipe]')
    field.clear()
    field.send_keys(f"3 titanium white + {size[0]} yellow ochre")
    until(driver, lambda d: status(d) == "Saved")
    assert server.studio.archive.card(card).note.swatch("r2c1").recipe.endswith(f"{size[0]} yellow ochre")
    until(driver, lambda d: "yellow ochre" in find(d, "#told-r2c1 [data-plain]").text)
    sitter = find(driver, "[data-field=sitter]")
    sitter.clear()
    sitter.send_keys("K")
    find(driver, "[data-field=date]").send_keys("2")
    until(driver, lambda _: server.studio.archive.card(card).note.card_info.sitter == "K")
    until(driver, lambda d: status(d) == "Saved")


def test_the_keyboard_is_enough(opened):
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    driver = opened()
    find(driver, '[data-swatch="r1c1"] [name=recipe]').click()

    def keys(*pressed):
        ActionChains(driver).send_keys(*pressed).perform()
        return driver.switch_to.active_element.get_attribute("id")

    assert keys(Keys.ENTER) == "recipe-r1c2"
    assert keys(Keys.ARROW_DOWN, Keys.ARROW_DOWN, Keys.ARROW_UP) == "recipe-r1c3"
    assert find_all(driver, '[data-outline="r1c3"].at-hand')
    use(driver, "corners")
    corner = find(driver, "[data-corner=card-0]")
    before = driver.execute_script("return arguments[0].querySelector('circle').getAttribute('cx')", corner)
    driver.execute_script("arguments[0].focus()", corner)
    keys(Keys.ARROW_LEFT)
    now = driver.execute_script("return document.querySelector('[data-corner=card-0] circle').getAttribute('cx')")
    assert float(now) < float(before)
    until(driver, lambda d: status(d).startswith("Read again"))


def test_two_open_pages_never_overwrite_one_another_silently(opened, server, card):
    driver = opened()
    first = driver.current_window_handle
    driver.switch_to.new_window("tab")
    resize(driver, DESK)
    driver.get(f"{server.address}cards/{card}")
    second = driver.current_window_handle
    try:
        typed = {}
        for tab, text in ((first, "1 viridian"), (second, "2 umber")):
            driver.switch_to.window(tab)
            field = find(driver, '[data-swatch="r3c1"] [name=recipe]')
            field.clear()
            field.send_keys(text)
            typed[tab] = field
            if tab == first:
                until(driver, lambda d: status(d) == "Saved")
        until(driver, lambda d: find_all(d, ".conflict"))
        assert "1 viridian" in find(driver, ".conflict").text
        assert typed[second].get_attribute("value") == "2 umber"
        assert server.studio.archive.card(card).note.swatch("r3c1").recipe == "1 viridian"
        find(driver, ".conflict button").click()
        until(driver, lambda _: server.studio.archive.card(card).note.swatch("r3c1").recipe == "2 umber")
        driver.switch_to.window(first)
        typed[first].send_keys(" + 1 white")
        until(driver, lambda d: find_all(d, ".conflict"))
        find_all(driver, ".conflict button")[1].click()
        until(driver, lambda _: typed[first].get_attribute("value") == "2 umber")
        assert server.studio.archive.card(card).note.swatch("r3c1").recipe == "2 umber"
    finally:
        driver.switch_to.window(second)
        driver.close()
        driver.switch_to.window(first)


@MOSTLY_PHONE
def test_a_corner_is_dragged_and_the_card_read_again_and_undone(opened, server, card, photo, size):
    driver = opened(size)
    use(driver, "corners")
    truth = np.array(photo[1].truth.chart_corners_px)
    drag(driver, find(driver, "[data-corner=chart-0]"), 5, 3)
    until(driver, lambda d: status(d).startswith("Read again"))
    pointed = np.array(hints(server, card)["chart"])
    # The corner went where it was dragged: six pixels of the screen from the true one.
    scale = np.subtract(on_screen(driver, (100, 0)), on_screen(driver, (0, 0)))[0] / 100
    assert np.linalg.norm(pointed[:, None] - truth[None], axis=-1).min(axis=1).max() * scale < 12
    assert len(ids(driver)) == 9
    undo = find(driver, "#undo")
    assert undo.is_enabled()
    press(driver, undo)
    until(driver, lambda d: not find(d, "#undo").is_enabled())
    assert hints(server, card) == {}
    assert complaints(driver) == []


@MOSTLY_DESK
def test_a_line_is_dragged_through_the_paint_and_cuts_it(opened, server, card, photo, size):
    driver = opened(size)
    places = middles(photo)
    use(driver, "lines")
    line = find(driver, "[data-line=rows-0]")
    ends = {k: float(find(line, "line").get_attribute(k)) for k in ("x1", "y1", "x2", "y2")}
    middle = ((ends["x1"] + ends["x2"]) / 2, (ends["y1"] + ends["y2"]) / 2)
    # From between the first and the second row to below the second: two rows become one.
    down = np.subtract(places["r3c2"], places["r2c2"])
    pointer(
        driver,
        [
            on_screen(driver, middle),
            on_screen(driver, np.add(middle, down / 2)),
            on_screen(driver, np.add(middle, down * 0.9)),
        ],
    )
    until(driver, lambda d: status(d).startswith("Read again"))
    assert len(hints(server, card)["rows"]) == 2
    assert len(ids(driver)) < 9
    press(driver, find(driver, "#undo"))
    until(driver, lambda d: len(ids(d)) == 9)


@MOSTLY_PHONE
def test_a_stain_is_clicked_away_and_a_missed_swatch_clicked_in(opened, server, card, photo, size):
    driver = opened(size)
    place = middles(photo)["r2c2"]
    use(driver, "remove")
    pointer(driver, [on_screen(driver, place)])
    until(driver, lambda d: ids(d) and "r2c2" not in ids(d))
    assert len(hints(server, card)["removed"]) == 1
    use(driver, "add")
    pointer(driver, [on_screen(driver, place)])
    until(driver, lambda d: "r2c2" in ids(d))
    assert server.studio.archive.pictures.steps(card) == 2
    for _ in range(2):
        until(driver, lambda d: find(d, "#undo").is_enabled())
        press(driver, find(driver, "#undo"))
        until(driver, lambda d: status(d).startswith("Read again"))


def test_rows_and_columns_that_are_not_there_are_refused_and_nothing_changes(opened, server, card):
    driver = opened()
    use(driver, "lines")
    rows = find(driver, "#grid-rows")
    rows.clear()
    rows.send_keys("9")
    find(driver, "#set-grid").click()
    until(driver, lambda d: find(d, "[role=status]").get_attribute("data-state") == "failed")
    assert "9 rows" in status(driver)
    assert len(ids(driver)) == 9
    assert server.studio.archive.pictures.steps(card) == 0


@pytest.mark.slow  # requests prove the same every day
def test_a_card_is_turned_four_times_round(opened, server, card):
    driver = opened()
    first = find(driver, '[data-swatch="r1c1"] .facts').text
    seen = []
    for count in range(1, 5):
        press(driver, find(driver, "[data-turn]"))
        until(driver, lambda _, count=count: server.studio.archive.pictures.steps(card) == count)
        until(driver, lambda d: not find(d, "#stage").get_attribute("aria-busy"))
        seen.append(find(driver, '[data-swatch="r1c1"] .facts').text)
    assert seen[3] == first
    assert len(set(seen)) >= 3  # two corners may hold like colours


@MOSTLY_PHONE
def test_the_photo_is_looked_at_closely(opened, size):
    driver = opened(size)
    box = "return document.querySelector('#stage svg').viewBox.baseVal.width"
    whole = driver.execute_script(box)
    press(driver, find(driver, "[data-zoom=in]"))
    assert driver.execute_script(box) < whole
    use(driver, "look")
    left = "return document.querySelector('#stage svg').viewBox.baseVal.x"
    before = driver.execute_script(left)
    drag(driver, find(driver, "#stage"), -60, 0)
    assert driver.execute_script(left) > before
    press(driver, find(driver, "[data-zoom=all]"))
    assert driver.execute_script(box) == pytest.approx(whole)


def test_a_click_on_a_swatch_leads_to_its_recipe(opened, photo):
    driver = opened()
    pointer(driver, [on_screen(driver, middles(photo)["r3c2"])])
    until(driver, lambda d: d.switch_to.active_element.get_attribute("id") == "recipe-r3c2")


def test_what_was_typed_stays_when_the_program_has_ended(driver, tmp_path, photo):
    with served(tmp_path / "a.sqlite") as server:
        number = read_card_of(server, photo[0])
        resize(driver, DESK)
        driver.get(f"{server.address}cards/{number}")
        field = find(driver, '[data-swatch="r1c1"] [name=recipe]')
        field.send_keys("3 white")
        until(driver, lambda d: status(d) == "Saved")
    field.send_keys(" + 1 red")
    until(driver, lambda d: "nothing was saved" in status(d))
    assert field.get_attribute("value") == "3 white + 1 red"
    driver.execute_script(
        "window.onbeforeunload = null; document.querySelectorAll('input').forEach(i => i.value = i.defaultValue)"
    )
    driver.execute_cdp_cmd("Page.enable", {})
    driver.get("about:blank")
    with contextlib.suppress(Exception):  # no question is asked where nothing was clicked
        driver.switch_to.alert.accept()


@SIZES
@pytest.mark.parametrize("path", ["cards", "cards/{card}", "phone"])
def test_no_page_is_wider_than_the_window_or_hard_to_reach(driver, server, card, path, size):
    resize(driver, size)
    complaints(driver)
    driver.get(server.address + path.format(card=card))
    until(driver, lambda d: d.execute_script("return document.readyState") == "complete")
    assert driver.execute_script("return document.documentElement.scrollWidth <= innerWidth")
    assert accessibility_faults(driver) == []
    assert complaints(driver) == []
    if size == PHONE:
        small = driver.execute_script(
            "return [...document.querySelectorAll('button, a.button, input:not([type=file]), summary')]"
            ".filter(e => e.offsetParent && e.getBoundingClientRect().height < 40).map(e => e.outerHTML)"
        )
        assert small == []  # a thumb needs about 44 pixels (WCAG 2.2, 2.5.5)


def test_a_phone_takes_a_photo_and_is_told_at_once(driver, tmp_path, photo, without_card, monkeypatch):
    monkeypatch.setattr("swatchread.page.phone_door.home_address", lambda: "127.0.0.1")
    with served(tmp_path / "a.sqlite") as server:
        resize(driver, DESK)
        driver.get(server.address + "phone")
        find(driver, "#open").click()
        link = until(driver, lambda d: find_all(d, "[data-phone-address]"))[0]
        address = link.get_attribute("href")
        assert find(driver, ".code svg").size["height"] > 150
        assert code_says(driver) == address
        phone = open_browser(tmp_path / "phone", PHONE)
        try:
            phone.get(address)
            find(phone, "[name=photos]").send_keys(str(photo[0]))
            until(phone, lambda d: find_all(d, "#verdicts [data-good]"))
            said = find(phone, "#verdicts").text
            assert "Good" in said or "doubts" in said
            assert find(phone, "#verdicts img").get_attribute("alt")
            find(phone, "[name=photos]").send_keys(str(without_card))
            until(phone, lambda d: "Shoot again" in find(d, "#verdicts").text)
            assert "What to do" in find(phone, "#verdicts [data-refused]").text
            assert accessibility_faults(phone) == []
            assert phone.execute_script("return document.documentElement.scrollWidth <= innerWidth")
            find(driver, "#close").click()
            until(driver, lambda d: find_all(d, "#open"))
            find(phone, "[name=photos]").send_keys(str(photo[0]))
            until(phone, lambda d: "does not answer" in find(d, "#verdicts").text)
        finally:
            phone.quit()


def code_says(driver):
    """Read the code on the page as a phone's camera would."""
    import cv2

    picture = np.asarray(Image.open(io.BytesIO(find(driver, ".code").screenshot_as_png)).convert("L"))
    return cv2.QRCodeDetector().detectAndDecode(picture)[0]


@pytest.mark.slow  # requests prove the same every day
def test_a_photo_that_is_opened_leads_to_its_card(driver, tmp_path, photo):
    with served(tmp_path / "a.sqlite") as server:
        (taken,) = upload(server, ("card.jpg", photo[0].read_bytes()))
        resize(driver, DESK)
        driver.get(f"{server.address}photos/{taken['id']}/open")
        until(driver, lambda d: d.current_url.endswith("/cards/1"))
        assert settled(server, taken["id"])["card"] == 1
