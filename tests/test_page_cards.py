"""Photos that come in become cards; cards are corrected, undone and written on, and nothing typed is lost."""

import io
import json
import re
import shutil
import subprocess
import sys
import time

import numpy as np
import pytest
from PIL import Image

from swatchread.note.model import load_note
from tests.archive_data import sample_card
from tests.page_server import (
    WAIT,
    get,
    page,
    post,
    processor_seconds,
    read_card_of,
    refused,
    served,
    settled,
    upload,
)
from tests.scene import SceneSpec

SPEC = SceneSpec(seed=11, width=1000, height=750, rows=3, columns=3, chart_fraction=0.36)


def no_chart():
    pixels = np.random.default_rng(5).integers(0, 255, (400, 500, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG")
    return file.getvalue()


@pytest.fixture(scope="module")
def photo(photograph):
    return photograph(SPEC)


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("archive") / "archive.sqlite") as running:
        yield running


@pytest.fixture(scope="module")
def card(server, photo):
    return read_card_of(server, photo[0])


@pytest.fixture
def places(photo):
    return {swatch.id: list(map(float, swatch.centre_px)) for swatch in photo[1].truth.swatches}


def view(server, card):
    return server.studio.archive.card(card)


def ids(server, card):
    return {swatch.id for swatch in view(server, card).note.swatches}


def hints(server, card):
    text = server.studio.archive.pictures.hints(card)
    return json.loads(text) if text else {}


def correct(server, card, **changed):
    asked = {"edition": view(server, card).edition, "hints": {**hints(server, card), **changed}}
    return post(f"{server.address}cards/{card}/correct", asked)


def undo(server, card):
    return post(f"{server.address}cards/{card}/undo", {"edition": view(server, card).edition})


def type_recipe(server, card, text, was, swatch="r1c1"):
    return post(f"{server.address}cards/{card}/words", {"swatch": swatch, "field": "recipe", "text": text, "was": was})


def test_a_photo_becomes_a_card_with_its_pictures(server, card, photo):
    note = view(server, card).note
    assert note.photo.file == photo[0].name  # as the painter calls it
    assert len(note.swatches) == 9
    roles = server.studio.archive.pictures.of(card)
    assert {"card", "marked", "photo"} <= set(roles)
    assert sum(role.startswith("writing:") for role in roles) >= 7
    _, data, headers = get(f"{server.address}pictures/{roles['card']}")
    assert headers["content-type"] == "image/jpeg"
    assert "immutable" in headers["cache-control"]
    assert min(Image.open(io.BytesIO(data)).size) > 100


def test_the_cards_page_shows_it_and_the_cards_own_page_all_of_it(server, card):
    shelf = page(server.address + "cards")
    assert f'data-card="{card}"' in shelf
    text = page(f"{server.address}cards/{card}")
    for shown in (shelf, text):  # the number that Find, Sitting and the commands call it by
        assert f">card {card}</small>" in shown
    assert text.count("data-swatch=") == text.count('name="recipe"') == 9
    assert 'role="status"' in text


def test_the_same_photo_again_is_the_same_card(server, card, photo):
    (sent,) = upload(server, (photo[0].name, photo[0].read_bytes()))
    assert sent["card"] == card  # the page says that it is here already
    assert settled(server, sent["id"])["card"] == card
    assert len(server.studio.archive.cards()) == 1


def test_a_photo_that_cannot_be_read_stays_with_its_reason(server):
    (taken,) = upload(server, ("table.jpg", no_chart()))
    facts = settled(server, taken["id"])
    assert facts["state"] == "refused"
    assert facts["failure"]["code"] == "no_chart"
    assert facts["failure"]["what"].startswith("table.jpg")  # not the name that it has here
    shelf = page(server.address + "cards")
    assert f'data-refused="{taken["id"]}"' in shelf
    for word in ("what", "why", "remedy"):
        assert facts["failure"][word].split("“")[0][:30] in shelf
    assert "--chart" not in facts["failure"]["remedy"]
    assert get(f"{server.address}photos/{taken['id']}/picture")[2]["content-type"] == "image/jpeg"
    post(f"{server.address}photos/{taken['id']}/drop")
    assert taken["id"] not in page(server.address + "cards")
    assert refused(get, f"{server.address}photos/{taken['id']}")[0] == 404


def test_a_painter_shows_where_the_chart_lies_on_a_photo_that_was_refused(tmp_path, photo):
    from swatchread.page.inbox import Failure

    with served(tmp_path / "a.sqlite") as server:
        (taken,) = upload(server, ("table.jpg", no_chart()))
        settled(server, taken["id"])
        text = page(f"{server.address}photos/{taken['id']}/point")
        assert "500" in text.partition("data-drawn=")[2][:60]  # its width
        again = f"{server.address}photos/{taken['id']}/again"
        post(again, {"hints": {"chart": [[10, 10], [200, 10], [200, 150], [10, 150]]}})
        assert settled(server, taken["id"])["failure"]["code"] == "chart_not_there"
        # The same on a photo that does hold a chart, which is taken for refused here.
        (good,) = upload(server, ("card.jpg", photo[0].read_bytes()))
        settled(server, good["id"])
        server.studio.archive.remove(1)
        poor = {"state": "refused", "failure": Failure(code="no_chart", what="No chart")}
        server.studio.inbox.note(server.studio.inbox.get(good["id"]).model_copy(update=poor))
        corners = [list(map(float, corner)) for corner in photo[1].truth.chart_corners_px]
        post(f"{server.address}photos/{good['id']}/again", {"hints": {"chart": corners}})
        assert settled(server, good["id"])["swatches"] == 9
        assert hints(server, 2 if len(server.studio.archive.cards()) > 1 else server.studio.archive.cards()[0].card)[
            "chart"
        ]


def test_words_are_kept_and_understood(server, card):
    facts = type_recipe(server, card, "2 white + touch cad red", "")
    assert facts["plain"].startswith("2 white + touch of cad")
    assert "titanium white" in facts["doubts"][0]
    assert "cadmium" in facts["cautions"][0]
    assert facts["ambiguous"]
    html = page(f"{server.address}cards/{card}")
    links = re.findall(r'<p [^>]*data-settle( hidden)?><a href="[^"]*/tubes">', html)
    assert links.count("") == 1
    assert links.count(" hidden") == 8
    assert not post(f"{server.address}recipe", {"text": "2 titanium white"})["ambiguous"]
    post(f"{server.address}cards/{card}/words", {"field": "sitter", "text": " K ", "was": ""})
    note = view(server, card).note
    assert note.swatch("r1c1").recipe == "2 white + touch cad red"
    assert note.card_info.sitter == "K"
    assert f'data-card="{card}"' in page(server.address + "cards?words=k")


def test_two_pages_do_not_overwrite_one_another(server, card):
    type_recipe(server, card, "3 white", "", "r2c2")
    status, facts = refused(type_recipe, server, card, "4 ochre", "", "r2c2")
    assert status == 409
    assert facts["theirs"] == "3 white"
    assert view(server, card).note.swatch("r2c2").recipe == "3 white"
    type_recipe(server, card, "1 viridian", "", "r2c3")  # another field of the same card is nobody's conflict
    type_recipe(server, card, "4 ochre", "3 white", "r2c2")
    type_recipe(server, card, "4 ochre", "something", "r2c2")  # the same text twice is none either
    assert view(server, card).note.swatch("r2c2").recipe == "4 ochre"


def test_a_browser_that_drops_a_line_break_makes_no_conflict(tmp_path):
    note = sample_card(1)
    first = note.swatches[0].model_copy(update={"recipe": "2 yo\n+ 1 tw"})
    with served(tmp_path / "a.sqlite") as server:
        server.studio.archive.add(note.model_copy(update={"swatches": (first, *note.swatches[1:])}))
        type_recipe(server, 1, "2 yo+ 1 tw, dot red", "2 yo+ 1 tw")
        assert view(server, 1).note.swatch("r1c1").recipe == "2 yo+ 1 tw, dot red"


def test_a_stain_is_clicked_away_and_comes_back(server, card, places):
    before = view(server, card).note
    answer = correct(server, card, removed=[places["r3c3"]])
    assert answer["swatches"] == 8
    assert ids(server, card) == {swatch.id for swatch in before.swatches} - {"r3c3"}
    assert view(server, card).note.swatch("r1c1").recipe == before.swatch("r1c1").recipe
    type_recipe(server, card, "typed meanwhile", "", "r3c1")
    undo(server, card)
    after = view(server, card).note
    assert after.swatch("r3c1").recipe == "typed meanwhile"
    assert [s.lab for s in after.swatches] == [s.lab for s in before.swatches]
    assert hints(server, card) == {}
    assert refused(undo, server, card)[0] == 409  # nothing is left to undo


def test_a_card_that_is_taken_in_hand_is_not_changed_by_it(server, card):
    edition, steps = view(server, card).edition, server.studio.archive.pictures.steps(card)
    assert post(f"{server.address}cards/{card}/in-hand") == {}
    assert view(server, card).edition == edition
    assert server.studio.archive.pictures.steps(card) == steps
    assert server.studio.inbox.photo(view(server, card).note.photo.sha256).is_file()


def test_a_recipe_on_what_is_clicked_away_comes_back_with_it(server, card, places):
    type_recipe(server, card, "1 umber", "", "r3c2")
    correct(server, card, removed=[places["r3c2"]])
    undo(server, card)
    assert view(server, card).note.swatch("r3c2").recipe == "1 umber"


def test_several_corrections_are_undone_one_by_one(server, card, places):
    correct(server, card, removed=[places["r3c3"]])
    correct(server, card, quarters=2)
    assert server.studio.archive.pictures.steps(card) == 2
    assert len(ids(server, card)) == 8
    undo(server, card)
    assert hints(server, card)["removed"] == [[pytest.approx(x) for x in places["r3c3"]]]
    undo(server, card)
    assert len(ids(server, card)) == 9


def test_corners_and_lines_are_read_again(server, card, photo):
    true = photo[1].truth
    correct(server, card, chart=[list(map(float, corner)) for corner in true.chart_corners_px])
    assert len(ids(server, card)) == 9
    answer = correct(server, card, grid=[3, 3])
    assert answer["swatches"] == 9
    for _ in range(2):
        undo(server, card)


def test_a_correction_that_cannot_be_read_changes_nothing(server, card):
    before = view(server, card)
    status, facts = refused(correct, server, card, grid=[9, 9])
    assert status == 409
    assert facts["code"] == "grid_mismatch"
    assert view(server, card) == before
    assert server.studio.archive.pictures.steps(card) == 0


def test_a_correction_of_what_was_changed_meanwhile_is_refused(server, card):
    old = view(server, card).edition
    type_recipe(server, card, "newer", view(server, card).note.swatch("r1c2").recipe, "r1c2")
    status, facts = refused(post, f"{server.address}cards/{card}/correct", {"edition": old, "hints": {"quarters": 1}})
    assert status == 409
    assert facts["code"] == "changed_meanwhile"


def test_the_card_is_complete_without_its_photo(tmp_path, photo):
    """As on another computer, to which only the archive was copied."""
    there, here = tmp_path / "there", tmp_path / "here"
    there.mkdir(), here.mkdir()
    with served(there / "a.sqlite") as server:
        card = read_card_of(server, photo[0])
    shutil.copy(there / "a.sqlite", here / "a.sqlite")
    with served(here / "a.sqlite") as server:
        text = page(f"{server.address}cards/{card}")
        assert text.count('class="writing"') >= 7
        assert 'id="stage"' in text
        assert 'id="correct"' not in text  # it says why instead
        assert "not on this computer" in text
        status, facts = refused(correct, server, card, quarters=1)
        assert (status, facts["code"]) == (409, "photo_unreadable")


def test_a_photo_that_waits_when_the_program_ends_is_read_at_the_next_start(tmp_path, photo):
    from swatchread.page.inbox import Inbox

    with photo[0].open("rb") as file:
        arrival = Inbox(tmp_path / "a-photos").take(file, "evening.jpg")
    with served(tmp_path / "a.sqlite") as server:
        facts = settled(server, arrival.id)
        assert facts["state"] == "read"
        assert facts["name"] == "evening.jpg"


def test_a_photo_that_was_read_is_known_by_the_photo_alone(tmp_path, photo):
    with served(tmp_path / "a.sqlite") as server:
        read_card_of(server, photo[0])
        folder = server.studio.inbox.folder
    assert [path.suffix for path in folder.iterdir()] == [".jpg"]  # starting the program reads nothing of it
    from swatchread.page.inbox import Inbox

    inbox = Inbox(folder)
    assert list(inbox) == []
    with photo[0].open("rb") as file:
        assert inbox.take(file, "again.jpg", again=False).state == "read"
    with photo[0].open("rb") as file:
        arrival = inbox.take(file, "again.jpg")
    assert arrival.state == "waiting"
    inbox.drop(arrival.id)
    assert list(folder.iterdir()) == []


def test_photos_that_arrive_in_a_folder_are_read(tmp_path, photo):
    folder = tmp_path / "from the phone"
    folder.mkdir()
    (folder / "notes.txt").write_text("no photo")
    with served(tmp_path / "a.sqlite", watched=folder) as server:
        shutil.copy(photo[0], folder / "new.jpg")
        end = time.monotonic() + WAIT
        while not server.studio.archive.cards() and time.monotonic() < end:
            time.sleep(0.1)
        assert [line.photo for line in server.studio.archive.cards()] == ["new.jpg"]
        assert (folder / "new.jpg").exists()
        assert len(list(server.studio.inbox)) == 1


def test_a_note_file_takes_over_what_is_typed(tmp_path):
    path = tmp_path / "card.note.json"
    sample_card(1).save(path)
    beside = path.with_name("card.note.csv")
    beside.write_text("old")
    with served(tmp_path / "a.sqlite") as server:
        card = server.studio.archive.add(load_note(path), tmp_path).card
        server.studio.note_files[card] = path
        was = load_note(path).swatch("r1c1").recipe
        assert type_recipe(server, card, "3 tw + 1 yo", was)["remark"] == ""
        assert load_note(path).swatch("r1c1").recipe == "3 tw + 1 yo"
        assert "3 tw" in beside.read_text()
        sample_card(2).save(path)
        assert "another photo" in type_recipe(server, card, "5 tw", "3 tw + 1 yo")["remark"]
        assert load_note(path) == sample_card(2)


def test_a_card_that_read_put_into_the_archive_has_its_handwriting_and_photo(tmp_path, photo):
    from tests.program import invoke

    folder = tmp_path / "shots"
    folder.mkdir()
    shutil.copy(photo[0], folder / "card.jpg")
    invoke("read", folder / "card.jpg", "--archive", tmp_path / "a.sqlite")
    with served(tmp_path / "a.sqlite") as server:
        kept = server.studio.archive.pictures.of(1)
        assert "marked" in kept
        assert sum(role.startswith("writing:") for role in kept) >= 7
        text = page(server.address + "cards/1")
        assert text.count('class="writing"') >= 7
        assert 'id="correct"' in text  # its photo was found
        assert {"photo", "card"} <= set(server.studio.archive.pictures.of(1))
        assert correct(server, 1, quarters=2)["swatches"] == 9


def test_a_note_that_names_a_file_elsewhere_gets_no_picture_of_it(tmp_path):
    from swatchread.archive.card_pictures import pictures_beside

    (tmp_path / "secret.jpg").write_bytes(b"\xff\xd8\xff secret")
    folder = tmp_path / "notes"
    folder.mkdir()
    note = sample_card(1)
    first = note.swatches[0].model_copy(update={"writing": "../secret.jpg"})
    assert pictures_beside(note.model_copy(update={"swatches": (first, *note.swatches[1:])}), folder) == {}


def test_a_full_disk_is_told_and_loses_nothing(tmp_path, photo, monkeypatch):
    with served(tmp_path / "a.sqlite") as server:

        def full(*_):
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("swatchread.page.inbox._copy", full)
        (taken,) = upload(server, ("card.jpg", photo[0].read_bytes()))
        assert taken["failure"]["code"] == "output"
        assert "No space" in taken["failure"]["why"]
        monkeypatch.undo()
        assert read_card_of(server, photo[0]) == 1


def test_a_poor_reading_is_taken_when_the_painter_asks_for_it(tmp_path, photo):
    from swatchread.page.inbox import Failure

    with served(tmp_path / "a.sqlite") as server:
        (taken,) = upload(server, ("card.jpg", photo[0].read_bytes()))
        settled(server, taken["id"])
        arrival = server.studio.inbox.get(taken["id"])
        poor = {"state": "refused", "failure": Failure(code="too_poor", what="The colours do not fit")}
        server.studio.inbox.note(arrival.model_copy(update=poor))
        assert f'data-accept="{taken["id"]}"' in page(server.address + "cards")
        post(f"{server.address}photos/{taken['id']}/again", {"accept_poor": True})
        assert settled(server, taken["id"])["state"] == "read"
        assert json.loads(server.studio.inbox.get(taken["id"]).hints) == {"accept_poor": True}


def test_a_card_that_is_removed_takes_its_pictures_along(tmp_path, photo):
    with served(tmp_path / "a.sqlite") as server:
        card = read_card_of(server, photo[0])
        digest = server.studio.archive.pictures.of(card)["card"]
        post(f"{server.address}cards/{card}/remove", {"edition": view(server, card).edition})
        assert server.studio.archive.cards() == ()
        assert server.studio.archive.pictures.picture(digest) is None
        assert refused(get, f"{server.address}cards/{card}")[0] == 404
        assert read_card_of(server, photo[0])  # the photo can be dropped again


def test_what_happens_is_told_to_whoever_listens(server):
    import urllib.request

    with urllib.request.urlopen(server.address + "events", timeout=WAIT) as stream:
        (taken,) = upload(server, ("again.jpg", no_chart()[:-2]))
        states = []
        while "refused" not in states:
            line = stream.readline().decode()
            if line.startswith("data: "):
                news = json.loads(line[6:])
                if news.get("photo") == taken["id"]:
                    states.append(news["state"])
    assert states[0] == "waiting"


def test_a_remark_on_the_run_is_not_called_a_doubt(tmp_path):
    from swatchread.archive.picture_archive import PictureArchive
    from tests.archive_data import build_note, swatch_data

    with PictureArchive.open(str(tmp_path / "a.sqlite")) as archive:
        for seed, flags in enumerate((("close_valued", "chalky"), ("near_ground",))):
            swatches = [swatch_data(1, k, (50, 10, 15 + k), flags=flags) for k in (1, 2)]
            archive.add(build_note(swatches, seed=seed))
    with served(tmp_path / "a.sqlite") as server:
        shelf = page(server.address + "cards")
    told = dict(re.findall(r'data-card="(\d)">(.*?)</li>\s*(?=<li data-card|</ul>)', shelf, re.DOTALL))
    assert "2 remarks" in told["1"]
    assert "2 swatches: a neighbouring step has nearly the same value" in told["1"]
    assert "doubt" not in told["1"].replace('class="doubts"', "")
    assert "1 doubt" in told["2"]
    assert "remark" not in told["2"]


def test_nothing_is_done_while_nobody_asks(tmp_path):
    """Processor time of the program and its readers, from the kernel's own count."""
    words = [sys.executable, "-m", "swatchread", "open", "--no-browser", "--archive", str(tmp_path / "a.sqlite")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as program:
        try:
            page(program.stdout.readline().strip() + "cards")
            before, now = -1.0, processor_seconds(program.pid)
            while now - before > 0.02:  # readers load what they need
                time.sleep(1.0)
                before, now = now, processor_seconds(program.pid)
            time.sleep(2.0)
            assert processor_seconds(program.pid) - now < 0.06
        finally:
            program.terminate()


def test_an_empty_archive_offers_a_sample(tmp_path):
    with served(tmp_path / "a.sqlite") as server:
        text = page(server.address)
        assert 'id="sample"' in text
        (taken,) = post(server.address + "photos/sample")["photos"]
        assert settled(server, taken["id"])["swatches"] == 18
        assert 'id="sample"' not in page(server.address)
