"""A photo of several cards on the local page: each becomes a card of its own, and is corrected by itself."""

import numpy as np
import pytest

from tests.page_server import get, post, served, settled, upload
from tests.scene import several
from tests.several_data import spec_of


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("archive") / "archive.sqlite") as running:
        yield running


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    scene = several.draw(spec_of(51003, (1200, 900)))
    return several.save(scene, tmp_path_factory.mktemp("several") / "box.jpg"), scene


@pytest.fixture(scope="module")
def facts(server, photo):
    return settled(server, upload(server, (photo[0].name, photo[0].read_bytes()))[0]["id"])


def notes_of(server, photo_id):
    cards = server.studio.archive.cards_of_photo(photo_id)
    return {card: server.studio.archive.card(card).note for card in cards}


def test_each_card_of_a_photo_becomes_a_card(server, photo, facts):
    notes = notes_of(server, facts["id"])
    assert (facts["state"], facts["cards"]) == ("read", len(photo[1].truths))
    assert [note.card.letter for note in notes.values()] == list("abcdefgh"[: len(notes)])
    assert facts["swatches"] == sum(len(note.swatches) for note in notes.values())
    shown = get(f"{server.address}cards")[1].decode()
    assert all(f"box.jpg, card {note.card.letter}" in shown for note in notes.values())


def test_one_card_is_corrected_and_the_others_stay(server, facts):
    before = notes_of(server, facts["id"])
    chosen, note = max(before.items(), key=lambda pair: len(pair[1].swatches))
    removed = np.mean(note.swatches[-1].outline, axis=0).tolist()
    asked = {"edition": server.studio.archive.card(chosen).edition, "hints": {"removed": [removed]}}
    post(f"{server.address}cards/{chosen}/correct", asked)
    after = notes_of(server, facts["id"])
    assert len(after[chosen].swatches) == len(note.swatches) - 1
    assert after[chosen].card.letter == note.card.letter
    assert all(after[card] == before[card] for card in before if card != chosen)


def test_the_same_photo_again_gives_no_new_cards(server, photo, facts):
    before = list(notes_of(server, facts["id"]))
    settled(server, upload(server, (photo[0].name, photo[0].read_bytes()))[0]["id"])
    assert list(notes_of(server, facts["id"])) == before
