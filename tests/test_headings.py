"""The head of a card: title, sitter and date as painters write them, offered and learned."""

from datetime import date

import numpy as np
import pytest

from swatchread.writing.heading_language import HeadingLanguage
from swatchread.writing.headings import heading_of
from swatchread.writing.ink_lines import lines_of
from swatchread.writing.note_writing import ConfirmedHead, WritingReader
from swatchread.writing.written_dates import day_words, find_date, order_in
from tests.scene import hands
from tests.test_writing import NO_TUBES, clearly, needs_hands, needs_recogniser, seen

DAY = date(2025, 6, 1)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("12 march 2024", "2024-03-12"),
        ("March 12, 2024", "2024-03-12"),
        ("12th mar '24", "2024-03-12"),
        ("16.11.2023", "2023-11-16"),
        ("2023-11-16", "2023-11-16"),
        ("11/16/23", "2023-11-16"),
        ("14. märz 24", "2024-03-14"),
        ("2 août 1998", "1998-08-02"),
        ("nov 2023", "2023-11"),
        ("2023-11", "2023-11"),
        ("3.3.99", "1999-03-03"),
        ("run 2, 2021", "2021"),
        ("18.12 2020", "2020-12-18"),
    ],
)
def test_dates_are_understood_as_they_are_usually_written(text, meant):
    """Common practice; the days are worked out by hand."""
    assert find_date(text, latest=DAY).meanings == (meant,)


@pytest.mark.parametrize("text", ["evening 2", "run 3 2.5", "30.2.2024", "3 white 1 red 24", "may light 2", "31/31/24"])
def test_what_is_no_date_is_none(text):
    assert find_date(text, latest=DAY) is None


def test_where_day_and_month_cannot_be_told_both_are_named():
    written = find_date("sitter k 3/4/24", latest=DAY)
    assert written.meanings == ("2024-04-03", "2024-03-04")
    assert order_in("sitter k 3/4/24", "2024-04-03") == "day first"
    assert order_in("sitter k 3/4/24", "2024-03-04") == "month first"
    assert [order_in("3/4/24", meant) for meant in ("2024-01-01", "spring", "")] == [None] * 3
    assert find_date("3/4/24", latest=DAY, order="day first").meanings == ("2024-04-03",)
    assert find_date("3/4/24", latest=DAY, order="month first").meanings == ("2024-03-04",)
    assert day_words("2024-04-03") == "3 April 2024"


def test_no_card_was_painted_after_its_photo():
    """On 1 June 2025 the 12/3/25 can only be the 12th of March, and '30 was 1930."""
    assert find_date("12/3/25", latest=DAY).meanings == ("2025-03-12",)
    assert find_date("3.3.30", latest=DAY).meanings == ("1930-03-03",)


def heading(*lines, **kept):
    return heading_of([seen(*clearly(line)) for line in lines], HeadingLanguage(), latest=DAY, **kept)


def test_a_heading_is_told_apart_into_title_sitter_and_date():
    found = heading("evening light", "sitter k 12 march 2024")
    assert {name: offer.text for name, offer in found.offers().items()} == {
        "title": "Evening light",
        "sitter": "K",
        "date": "2024-03-12",
    }
    assert not found.title.doubts
    assert not found.date.doubts


def test_a_number_that_ends_a_title_is_no_day_of_the_next_line():
    found = heading("lamp study 3", "august 2020")
    assert (found.title.text, found.date.text) == ("Lamp study 3", "2020-08")


def test_a_date_that_may_mean_two_days_is_asked_about_and_not_offered():
    found = heading("harbour group 3/4/24")
    assert found.title.text == "Harbour group"
    assert found.date.text == ""
    assert found.dates == ("2024-04-03", "2024-03-04")


def test_a_sitter_of_other_cards_is_known_by_name():
    assert heading("portrait mira").sitter.text == ""
    assert heading("portrait mira", sitters=["Mira"]).sitter.text == "Mira"


def test_a_year_alone_is_never_sure():
    assert heading("shadows 2021").date.doubts


@needs_hands
def test_what_reaches_in_from_the_rim_is_no_writing():
    """The table beyond the card's edge, the edge itself across the whole strip, and the top of a swatch."""
    crop = hands.write_crop("klee", ["harbour group"], 3, struck=0.0).pixels
    paper = np.full((crop.shape[0] + 60, crop.shape[1] + 600, 3), np.median(crop, axis=(0, 1)), np.uint8)
    paper[30:-30, 100 : 100 + crop.shape[1]] = crop
    (alone,) = lines_of(paper, within=True)
    paper[:, :12] = 40
    paper[8:14, 200:] = 90
    paper[-10:, 700:800] = 80
    (line,) = lines_of(paper, within=True)
    assert np.abs(np.subtract(line.shape, alone.shape)).max() <= 4
    assert np.abs(np.subtract(lines_of(paper)[0].shape, alone.shape)).max() > 20


@needs_recogniser
@needs_hands
def test_a_hand_s_heading_is_read_and_its_order_in_day_and_month_learned():
    reader = WritingReader(NO_TUBES)
    crop = hands.write_crop("klee", ["harbour group", "sitter K 3/4/24"], 1, struck=0.0).pixels
    found = reader.read_heading(crop, DAY)
    assert (found.title.text, found.sitter.text) == ("Harbour group", "K")
    assert found.dates == ("2024-04-03", "2024-03-04")
    earlier = hands.write_crop("klee", ["cool greys", "2/5/24"], 2, struck=0.0).pixels
    known = [ConfirmedHead(earlier, "cool greys", "", "2024-02-05")]
    assert WritingReader(NO_TUBES, heads=known).read_heading(crop, DAY).date.text == "2024-03-04"
