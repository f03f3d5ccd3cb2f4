"""A word is parted only where it is longer than its line, and then with one hyphen.

Read from the finished page by PDFium.  Common practice of setting ragged text: few hyphens, not two
lines in a row that end with one, and no stub of two letters after one.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from drawn_pages import MM, PageInk, pages_of
from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills, usual_position
from reedmill.score.score import Score
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages

LOOKS = (Look(), Look(large=True))
# Made up, of usual parts: less than a line, more than one, and more than two.
SHORTER = "Mundharmonikazungenschlagwechseluebungenfolgen"
LONGER = SHORTER + "fuerlangsameundschnelleundallemoeglichenanderenTage"
LONGEST = LONGER + LONGER.lower() * 2


def score(about: str) -> Score:
    [drill, *_] = find_drills("Two bars home")
    words = printable(about)
    return replace(expand(drill, Harp("C"), usual_position(drill)), about=words, listen=words)


def drawn(about: str, look: Look) -> list[PageInk]:
    with Engraver() as engraver:
        engraver.feed(pages([score(about)], look))
        [pdf] = engraver.sheets(1)
    return pages_of(pdf)


def lines_of(about: str, look: Look) -> list[str]:
    """The printed lines of *about* under the title, without their spaces."""
    [page, *_] = drawn(about, look)
    top = max(word.high for word in page.words)
    rule = max(stroke.high for stroke in page.strokes if stroke.is_rule)
    title = max(page.words, key=lambda word: word.size)
    under = [word for word in page.words if rule < word.low < top and word.size < title.size]
    for word in under:
        assert word.right <= page.width - MARGIN_MM * MM + 1, word
    heights: dict[int, list[str]] = {}
    for word in sorted(under, key=lambda word: word.left):
        near = [low for low in heights if abs(low - (word.low + word.high) / 2) < 6]
        middle = near[0] if near else round((word.low + word.high) / 2)
        heights.setdefault(middle, []).append(word.name)
    lines = ["".join(heights[middle]) for middle in sorted(heights, reverse=True)]
    return [line.replace("\x02", "-") for line in lines]  # as PDFium has a hyphen that parts


@pytest.mark.parametrize("look", LOOKS)
def test_a_long_word_that_has_room_on_the_next_line_is_not_parted(look: Look) -> None:
    lines = lines_of(f"Play it softly and slowly, and never forget what {SHORTER} means", look)
    assert SHORTER in "|".join(lines)
    assert not any("-" in line for line in lines)


@pytest.mark.parametrize("look", LOOKS)
def test_a_word_longer_than_its_line_goes_on_after_one_hyphen(look: Look) -> None:
    lines = lines_of(f"Play {LONGER} softly", look)
    assert "".join(lines).replace("-", "") == f"Play{LONGER}softly"
    [parted] = [line for line in lines if "-" in line]
    assert parted.endswith("-")
    assert len(lines[lines.index(parted) + 1].removesuffix("softly")) >= 3


@pytest.mark.parametrize("look", LOOKS)
def test_no_two_lines_in_a_row_end_with_a_hyphen(look: Look) -> None:
    """What needs more than two lines is an address or a jest: it goes on without."""
    lines = lines_of(f"Play {LONGEST} softly", look)
    assert len(lines) > 2
    assert "".join(lines) == f"Play{LONGEST}softly"


@pytest.mark.parametrize("look", LOOKS)
def test_digits_and_addresses_are_never_given_a_hyphen(look: Look) -> None:
    digits = "0123456789" * 15
    assert "".join(lines_of(f"Call {digits} today", look)) == f"Call{digits}today"


def test_the_accents_of_a_long_word_stay_with_their_letters() -> None:
    word = "क्षि" * 40
    source = pages([score(word)])
    places = source.split("\\parted #'(", 1)[1].split(")", 1)[0].split()
    assert [int(place) for place in places] == [
        place for place in range(1, len(word)) if word[place] in "्षि" and word[place] != "ष"
    ]
