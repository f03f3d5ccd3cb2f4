"""The chart of a case of harps as it is printed: read out of the page by PDFium.

Which position plays which key is music21's transposition by fifths (``oracles.root``).  Which of
them are ready for songs is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import pairwise

import pytest

import oracles
from drawn_pages import Ink, PageInk, crowded, overlaps, pages_of
from reedmill.base.errors import InputError
from reedmill.harp import HARP_KEYS, Harp
from reedmill.sheet.case_chart import case_chart
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look

FIVE = ("C", "A", "D", "F", "Bb")
READY = {"1st": "major", "2nd": "major", "3rd": "minor", "4th": "minor"}
WITH_CARE = {"5th": "minor", "12th": "major"}
ORDINALS = ["1st", "2nd", "3rd", "4th", "5th", "6th", "7th", "8th", "9th", "10th", "11th", "12th"]
CASES = {
    "five": (FIVE, Look()),
    "five, large": (FIVE, Look(large=True)),
    "twelve, large": (HARP_KEYS, Look("letter", large=True)),
}
every_case = pytest.mark.parametrize("name", CASES)


def drawn(harps: tuple[str, ...], look: Look) -> bytes:
    with Engraver() as engraver:
        engraver.feed(case_chart([Harp.parse(each) for each in harps], look))
        [pdf] = engraver.sheets(1)
    return pdf


@cache
def page_of(name: str) -> PageInk:
    """The one page of a case."""
    [page] = pages_of(drawn(*CASES[name]))
    return page


def rows_of(page: PageInk) -> Iterator[list[Ink]]:
    """The positions of each row, from the top down and from left to right."""
    found = sorted((each for each in page.words if each.name in ORDINALS), key=lambda w: -w.low)
    while found:
        row = [each for each in found if found[0].low - each.low < found[0].size]
        found = found[len(row) :]
        yield sorted(row, key=lambda each: each.left)


def word_under(page: PageInk, position: Ink) -> str:
    """The third that stands under a position, if any."""
    middle = (position.left + position.right) / 2
    return next(
        (
            each.name
            for each in page.words
            if each.name in ("major", "minor", "both")
            and each.left < middle < each.right
            and 0 < position.low - each.low < 1.6 * position.size
        ),
        "",
    )


@every_case
def test_every_row_has_the_position_of_each_harp_and_its_third(name: str) -> None:
    harps, page = CASES[name][0], page_of(name)
    rows = list(rows_of(page))
    assert len(rows) == 12
    for key, row in enumerate(rows):
        for harp, cell in zip(harps, row, strict=True):
            position = ORDINALS.index(cell.name) + 1
            assert oracles.root(harp, position).pitchClass == key, (harp, cell)
            third = (READY | WITH_CARE).get(cell.name, "")
            assert word_under(page, cell) == third, (harp, cell)


@every_case
def test_what_is_ready_is_white_on_a_ground_and_what_is_hard_is_bare(name: str) -> None:
    page = page_of(name)
    for row in rows_of(page):
        for cell in row:
            assert (cell.colour == (255, 255, 255)) == (cell.name in READY), cell
            around = [
                each
                for each in page.strokes
                if each.left < cell.left < cell.right < each.right
                and each.low < cell.low < cell.high < each.high
            ]
            assert bool(around) == (cell.name in READY | WITH_CARE), cell


@every_case
def test_nothing_touches_and_nothing_leaves_the_page(name: str) -> None:
    page, edge = page_of(name), MARGIN_MM * 72 / 25.4 - 1
    assert overlaps(page) == []
    assert crowded(page) == []
    for each in page.inks:
        assert edge < each.left < each.right < page.width - edge, each
        assert 0 < each.low < each.high < page.height, each


@every_case
def test_keys_are_read_at_two_metres_and_the_page_is_full(name: str) -> None:
    """Letters a two hundred and fiftieth of the distance high: common practice of signs.

    Large print has nothing under 11 points, and no tenth of a page is empty in one piece.
    """
    page, (_, look) = page_of(name), CASES[name]
    least = 0.98 * 2000 / 250 / 25.4 * 72
    keys = [
        each for each in page.letters if each.name in "ABCDEFG" and each.high - each.low >= least
    ]
    assert len(keys) >= 12
    assert all(each.size >= 10.9 for each in page.letters) or not look.large
    levels = sorted({each.low for each in page.words} | {each.high for each in page.words})
    assert max(two - one for one, two in pairwise(levels)) < 0.1 * page.height


def test_the_keys_that_are_missing_are_named() -> None:
    """Counted by hand: no harp of the five has B, Db, F# or Ab as 1st, 2nd or 12th position."""
    text = "".join(each.name for each in page_of("five").words).replace(" ", "")
    assert "Notontheseharps:majorD" in text  # the flat is a sign of music
    assert "Onlywithcare:majorE" in text


@pytest.mark.parametrize("count", [0, 13])
def test_a_chart_of_none_or_of_more_than_twelve_harps_is_refused(count: int) -> None:
    with pytest.raises(InputError, match=f"room for 1 to 12 harps; these are {count}"):
        case_chart([Harp("C")] * count, Look())
