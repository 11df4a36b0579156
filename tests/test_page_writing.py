"""Handwriting offered on the page of a card: greyed until the painter takes it."""

import json

import pytest

from swatchread.archive.card_pictures import WRITING, Picture
from swatchread.note.entered_words import with_words
from swatchread.page import card_page
from swatchread.writing.installed import is_installed
from tests.archive_data import build_note, swatch_data
from tests.browser import DESK, accessibility_faults, find, needs_driver, open_browser, resize, until
from tests.page_server import get, served
from tests.test_writing import letters_in_print

pytestmark = pytest.mark.skipif(not is_installed(), reason="swatchread[writing] is not installed")

PAINT = (55.0, 15.0, 20.0)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    """Serve the page of an archive with one card: one recipe is missing, the other is there."""
    with served(tmp_path_factory.mktemp("archive") / "archive.sqlite") as running:
        note = build_note([swatch_data(1, 1, PAINT), swatch_data(1, 2, PAINT, recipe="2 red ochre")])
        crops = {f"{WRITING}{s}": Picture("image/jpeg", letters_in_print("3 WHITE")) for s in ("r1c1", "r1c2")}
        running.studio.archive.add_read(note, crops)
        yield running


def test_what_is_missing_is_offered_and_what_was_typed_is_not(server):
    answer = json.loads(get(f"{server.address}cards/1/offers")[1])
    (offered,) = answer["swatches"]
    assert (offered["id"], offered["text"]) == ("r1c1", "3 white")
    assert server.studio.archive.card(1).note.swatch("r1c1").recipe == ""


def test_what_was_confirmed_says_which_words_to_expect(server):
    known = server.studio.archive.known_writing()
    assert known.recipes == ("2 red ochre",)
    assert [recipe for _, recipe in known.crops] == ["2 red ochre"]


def test_without_the_extra_nothing_is_offered(server, monkeypatch):
    monkeypatch.setattr(card_page, "is_installed", lambda: False)
    assert b"offers.js" not in get(f"{server.address}cards/1")[1]


@pytest.mark.slow
@needs_driver
def test_an_offer_stands_greyed_until_it_is_taken(server, tmp_path):
    driver = open_browser(tmp_path / "profile")
    try:
        resize(driver, DESK)
        driver.get(f"{server.address}cards/1")
        field = find(driver, '[data-swatch="r1c1"] [name=recipe]')
        until(driver, lambda _: field.get_attribute("placeholder") == "3 white")
        assert field.get_attribute("value") == ""
        assert accessibility_faults(driver) == []
        field.send_keys("\ue014")  # the right arrow
        assert field.get_attribute("value") == "3 white"
        until(driver, lambda _: server.studio.archive.card(1).note.swatch("r1c1").recipe == "3 white")
        assert not find(driver, "[data-offers]").is_displayed()
    finally:
        driver.quit()


@pytest.mark.slow
@needs_driver
def test_in_the_round_a_sure_offer_is_taken_with_the_card(server, tmp_path):
    server.studio.archive.change(1, lambda note: with_words(note, {"r1c1": ""}))
    driver = open_browser(tmp_path / "profile")
    try:
        resize(driver, DESK)
        driver.get(f"{server.address}doubts")
        field = find(driver, '[data-swatch="r1c1"] [data-recipe]')
        until(driver, lambda _: field.get_attribute("placeholder") == "3 white")
        assert field.get_attribute("value") == ""
        assert accessibility_faults(driver) == []
        find(driver, "[data-deed=take]").click()
        until(driver, lambda _: server.studio.archive.card(1).note.swatch("r1c1").recipe == "3 white")
    finally:
        driver.quit()
