"""Pictures of cards in the archive, and corrections that can be undone, in SQLite and in PostgreSQL."""

import pytest
from sqlalchemy import text

from swatchread.archive.card_pictures import MOST_STEPS, Picture
from swatchread.archive.picture_archive import PictureArchive
from swatchread.errors import ArchiveError, ConflictError
from swatchread.note.entered_words import carried_words
from tests.archive_data import sample_card


def picture(number):
    return Picture("image/jpeg", b"\xff\xd8\xff" + str(number).encode())


def corrected(number):
    """Return a note of the same photo with other measurements."""
    note = sample_card(1)
    first = note.swatches[0].model_copy(update={"lab": (float(number), 1.0, 2.0)})
    return note.model_copy(update={"swatches": (first, *note.swatches[1:])})


@pytest.fixture
def archive(address):
    with PictureArchive.open(address) as opened:
        yield opened


@pytest.fixture
def card(archive):
    return archive.add_read(sample_card(1), {"card": picture(0), "photo": picture("photo")}).card


def correct(archive, card, number, **kept):
    pictures = {"card": picture(number), "photo": picture("photo")}
    return archive.correct(card, lambda now: carried_words(now, corrected(number)), pictures, f"hint {number}", **kept)


def stored(archive):
    with archive._engine.connect() as connection:
        return connection.execute(text("SELECT COUNT(*) FROM pictures")).scalar()


def test_a_picture_is_kept_once_under_its_hash(archive, card):
    roles = archive.pictures.of(card)
    assert roles == {"card": picture(0).digest, "photo": picture("photo").digest}
    assert archive.pictures.picture(roles["card"]) == picture(0)
    other = archive.add_read(sample_card(2), {"card": picture(0)}).card
    assert stored(archive) == 2
    assert archive.pictures.of_cards([card, other, 99], "card") == dict.fromkeys((card, other), picture(0).digest)
    assert archive.pictures.picture("0" * 64) is None


def test_a_correction_is_undone_with_its_pictures_and_hints(archive, card):
    before = archive.card(card).note
    correct(archive, card, 40)
    correct(archive, card, 50)
    assert archive.card(card).note.swatches[0].lab[0] == pytest.approx(50.0)
    assert (archive.pictures.hints(card), archive.pictures.steps(card)) == ("hint 50", 2)
    archive.undo(card, carried_words)
    assert archive.pictures.hints(card) == "hint 40"
    assert archive.pictures.of(card)["card"] == picture(40).digest
    archive.undo(card, carried_words)
    assert archive.card(card).note == before
    assert archive.pictures.of(card)["card"] == picture(0).digest
    assert stored(archive) == 2  # what belongs to no step any more is gone
    with pytest.raises(ArchiveError, match="undo") as caught:
        archive.undo(card, carried_words)
    assert caught.value.remedy
    assert archive.check() == ()


def test_a_correction_of_another_edition_changes_nothing(archive, card):
    seen = archive.card(card)
    archive.change(card, lambda _: corrected(30), expected=seen.edition)
    with pytest.raises(ConflictError):
        correct(archive, card, 40, expected=seen.edition)
    assert archive.card(card).note.swatches[0].lab[0] == pytest.approx(30.0)
    assert archive.pictures.steps(card) == 0
    assert archive.pictures.of(card)["card"] == picture(0).digest


def test_the_oldest_steps_are_forgotten(archive, card):
    for number in range(MOST_STEPS + 3):
        correct(archive, card, number % 90)
    assert archive.pictures.steps(card) == MOST_STEPS
    assert stored(archive) <= MOST_STEPS + 2


def test_a_card_of_an_older_version_is_corrected_beside_its_reading(archive, card):
    newer = sample_card(1, version="0.2.0")
    archive.correct(card, lambda now: carried_words(now, newer), {"card": picture(7)}, "")
    assert [line.tool_version for line in archive.card(card).readings] == ["0.1.0", "0.2.0"]
    assert archive.card(card).note.tool.version == "0.2.0"


def test_a_removed_card_takes_its_pictures_along(archive, card):
    archive.add_read(sample_card(2), {"photo": picture("photo")})
    correct(archive, card, 40)
    archive.remove(card)
    assert stored(archive) == 1
    assert archive.pictures.of(card) == {}
    assert archive.check() == ()


def test_the_shelf_shows_the_newest_first_a_page_at_a_time(archive):
    from swatchread.archive.card_shelf import SHELF

    archive.add_all((sample_card(k), None) for k in range(SHELF + 5))
    first = archive.shelf()
    assert [one.card for one in first.cards] == list(range(SHELF + 5, 5, -1))
    second = archive.shelf(first.older)
    assert [one.card for one in second.cards] == [5, 4, 3, 2, 1]
    assert second.older is None
    assert [one.note.card_info.title for one in archive.shelf(words="EVENING  7").cards][-1] == "invented evening 7"
    assert archive.shelf(words="100%").cards == ()


def test_an_archive_of_before_gets_the_tables(tmp_path):
    from sqlalchemy import create_engine

    from swatchread.archive.migrations.versions import card_pictures_and_corrections as revision

    path = tmp_path / "archive.sqlite"
    with PictureArchive.open(str(path)) as archive:
        number = archive.add(sample_card(1)).card
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        for table in ("card_pictures", "pictures", "corrections", "card_hints", "own_tubes"):
            connection.execute(text(f"DROP TABLE {table}"))
        connection.execute(
            text("UPDATE swatchread_revision SET version_num = :before"), {"before": revision.down_revision}
        )
    engine.dispose()
    with PictureArchive.open(str(path)) as archive:
        assert archive.card(number).note == sample_card(1)
        archive.add_pictures(number, {"card": picture(1)})
        correct(archive, number, 40)
        archive.undo(number, carried_words)
        assert archive.pictures.of(number) == {"card": picture(1).digest}
