"""The page Doubts: one thing to decide after the other, by keys alone, at both sizes."""

import json

import pytest

from swatchread.page.inbox import Failure
from tests.browser import (
    DESK,
    PHONE,
    accessibility_faults,
    complaints,
    find,
    find_all,
    needs_driver,
    open_browser,
    resize,
    until,
)
from tests.page_server import get, page, post, refused, served, upload
from tests.test_doubts import full_card
from tests.test_page_cards import no_chart

ESCAPE, PAGE_DOWN, ENTER = "\ue00c", "\ue00f", "\ue007"


@pytest.fixture
def server(tmp_path):
    """Serve an archive with a card whose grid is in doubt, one without recipes, and a warning."""
    with served(tmp_path / "archive.sqlite") as running:
        running.studio.archive.tubes.say([])
        running.studio.archive.add(full_card("card_cut", "dark", seed=1, recipes="2 titanium white"))
        running.studio.archive.add(full_card(seed=2, recipes=""))
        yield running


def shown(server):
    told = page(f"{server.address}doubts")
    return told[told.index('data-key="') :].split('"')[1], told


def decide(server, deed, key=None, seconds=4.0):
    return post_text(
        f"{server.address}doubts/decide", {"key": key or shown(server)[0], "deed": deed, "seconds": seconds}
    )


def post_text(address, data):
    import urllib.request

    request = urllib.request.Request(address, json.dumps(data).encode(), {"Content-Type": "application/json"})
    with urllib.request.urlopen(request, timeout=20) as answer:
        return answer.read().decode()


def count(server):
    return json.loads(get(f"{server.address}doubts/count")[1])["doubts"]


def test_what_matters_most_comes_first_and_what_was_taken_does_not_come_again(server):
    key, told = shown(server)
    assert key.endswith(":grid")
    assert 'data-left="3"' in told
    assert "less than a minute" in told
    assert 'data-kind="recipes"' in decide(server, "take")
    assert server.studio.archive.card(1).note.settled == ("grid",)
    assert 'data-kind="warnings"' in decide(server, "later")
    assert 'data-kind="recipes"' in decide(server, "take")
    assert "Nothing is in doubt" in decide(server, "skip")
    assert server.studio.archive.card(2).note.settled == ("recipes",)
    assert count(server) == 0


def test_recipes_that_are_typed_take_the_card_out_of_the_round(server):
    for swatch in server.studio.archive.card(2).note.swatches:
        words = {"swatch": swatch.id, "field": "recipe", "text": "2 titanium white", "was": ""}
        post(f"{server.address}cards/2/words", words)
    assert {key.rsplit(":", 1)[1] for key in [shown(server)[0]]} == {"grid"}
    assert count(server) == 2


def test_a_photo_that_could_not_be_read_comes_before_all_else_until_it_is_left_out(server):
    arrival = upload(server, ("street.jpg", no_chart()))[0]
    inbox = server.studio.inbox
    failure = Failure(code="no_chart", what="No chart was found", why="", remedy="Show the whole chart")
    known = inbox.get(arrival["id"]).model_copy(update={"state": "refused", "failure": failure, "width": 500})
    inbox.note(known)
    key, told = shown(server)
    assert key == f"{known.id}:unread"
    assert "Show the whole chart." in told
    assert f"/photos/{known.id}/point" in told
    assert 'data-kind="grid"' in decide(server, "skip")
    assert inbox.get(known.id).left_out
    assert inbox.photo(known.id).is_file()  # it stays on Cards


def test_what_makes_no_sense_is_refused_and_a_strange_key_changes_nothing(server):
    address = f"{server.address}doubts/decide"
    assert refused(post, address, {"key": "x", "deed": "burn", "seconds": 1})[0] == 400
    assert refused(post, address, {"key": "x", "deed": "take", "seconds": -1})[0] == 400
    assert 'data-kind="grid"' in post_text(address, {"key": f"{'0' * 64}:grid", "deed": "take", "seconds": 1})
    assert count(server) == 3


@needs_driver
def test_the_round_is_walked_by_keys_alone(server, tmp_path):
    driver = open_browser(tmp_path / "profile")
    try:
        resize(driver, DESK)
        driver.get(f"{server.address}doubts")
        assert accessibility_faults(driver) == []
        active = driver.switch_to.active_element
        assert active.get_attribute("data-deed") == "take"
        active.send_keys(PAGE_DOWN)
        until(driver, lambda _: find(driver, ".doubt").get_attribute("data-kind") == "recipes")
        assert accessibility_faults(driver) == []
        for number in range(4):
            field = find_all(driver, "[data-recipe]")[number]
            until(driver, lambda d, field=field: d.switch_to.active_element == field)
            field.send_keys(f"{number + 1} titanium white", ENTER)
        until(driver, lambda _: find(driver, ".doubt").get_attribute("data-kind") == "warnings")
        recipes = [swatch.recipe for swatch in server.studio.archive.card(2).note.swatches]
        assert recipes == [f"{n} titanium white" for n in range(1, 5)]
        resize(driver, PHONE)
        assert accessibility_faults(driver) == []
        driver.switch_to.active_element.send_keys(ENTER)
        until(driver, lambda _: find(driver, ".doubt").get_attribute("data-kind") == "grid")
        driver.switch_to.active_element.send_keys(ENTER)
        until(driver, lambda _: "Nothing is in doubt" in find(driver, "h1").text)
        assert server.studio.archive.card(1).note.settled == ("grid", "warnings")
        assert complaints(driver) == []
    finally:
        driver.quit()
