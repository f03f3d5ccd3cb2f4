"""What is filled in by ear tells nothing of what is played, and stands well on its pages.

Finished pages are read by PDFium, as ``drawn_pages`` has it.
"""

from __future__ import annotations

import re
from functools import cache

import pytest

from drawn_pages import MM, PageInk, judged, pages_of
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import find_drills
from reedmill.score.repeats import printed
from reedmill.score.rung_questions import Asking, rung_questions
from reedmill.score.score import Score
from reedmill.sheet.dictation import bound, dictation_parts
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.frame import preamble, swept
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.rung_question_page import question_parts
from reedmill.theory.positions import Position
from together import together

LOOKS = {
    "A4": Look(), "large": Look(large=True), "Letter, large": Look("letter", large=True),
}  # fmt: skip
HARPS = ("low F", "C", "A", "F")


def score_of(*lines: str, harp: str = "C") -> Score:
    text = "\n  ".join(['drill "One"', 'about "Some of them."', *lines])
    return expand(parse(text)[0], Harp.parse(harp), Position(2))


def to_fill_in(score: Score, look: Look | None = None) -> str:
    return dictation_parts(score, look or Look())[0]


# Pairs of drills with one rhythm, in which all is different that a sheet says besides.
ALIKE = [
    (["play -2 -3 -4:2"], ["play 6 10'' -3''':2"]),
    (["play -3~-3' -4:2"], ["play -2'~-2 4:2"]),  # down, and up
    (["play -2:2 -3:2"], ["play -2&3:2 -1&4:2"]),
    (["play -2:2 vibrato4 -3:2"], ["play slap -4:2 -5:2"]),
    (["play -2:2 -3q:2"], ["play -6:2 6^:2"]),
    (["embouchure anchors tongue left, rungs lips", "play -2:2 -3:2"], ["play -2:2 3:2"]),
    (['section "Down to hole 3"', "play -2:4"], ["play 5:4"]),
    (["listen \"Hear the third.\"", "play -2:4"], ["play -9:4"]),
]  # fmt: skip


@together(("one", "other"), ALIKE)
def test_the_page_is_the_same_whatever_is_played_in_its_rhythm(
    one: list[str], other: list[str]
) -> None:
    assert to_fill_in(score_of(*one)) == to_fill_in(score_of(*other))


@together("line", ["play -2 -3 -4 -3:1/2 r:1/2", "play -2 -3 -4! -3", "play -2 -3 (-4 -3):1"])
def test_another_rhythm_is_another_page(line: str) -> None:
    if "(" in line:
        line = "play -2 -3 -4:2"
    assert to_fill_in(score_of(line)) != to_fill_in(score_of("play -2 -3 -4 -3"))


def test_music_whose_repeats_differ_in_pitch_alone_stays_written_out() -> None:
    twice = score_of("play (-2 -3 -4 -5)x2")
    changed = score_of("play -2 -3 -4 -5 -2 -3 -4 -3")
    assert len(printed(twice)) == 1
    assert "end-repeat" in to_fill_in(twice) or ":|." in to_fill_in(twice)
    assert len(printed(changed)) == 2
    assert ":|." not in to_fill_in(changed)


def test_a_box_stands_under_every_note_and_under_no_rest_or_tie() -> None:
    source = to_fill_in(score_of("play -2:2 r:1 -3:3 -4~-4':2"))  # -3 is tied over the bar line
    row = source[source.index("\\new Lyrics") :]
    assert row.count("\\path") == 4


def drawn(sources: list[list[str]], look: Look) -> list[list[PageInk]]:
    books = [bound(number, "By ear", parts) for number, parts in enumerate(sources)]
    with Engraver() as engraver:
        engraver.feed(preamble(look) + swept(books))
        return [pages_of(pdf) for pdf in engraver.sheets(len(books))]


def library(title: str, harp: str) -> Score:
    [drill, *_] = find_drills(title)
    return expand(drill, Harp.parse(harp), Position(2))


TITLES = ("Home from every rung", "Triplets down the rungs", "Twelve slow bars")
DENSE = score_of("length 1/8", f"play {'-2 -3 -4 -5 ' * 8}")


@cache
def sources(name: str) -> list[list[str]]:
    """Dictations of short, long and very quick music, then questions of three kinds."""
    look = LOOKS[name]
    scores = [*map(library, TITLES, HARPS), library("Slide down, step up", "F"), DENSE]
    many = score_of("anchor -2", "rungs all of -3 4 5 -5 6 -6 -6' 7", "phrase anchor rung")
    chords = score_of("anchor 1&4", "rungs 1&2&3 -2&3&4 2&3&4 4&5&6&7", "phrase anchor rung")
    asked = [
        rung_questions(chords, Asking(8)),
        rung_questions(library("Home from four rungs", "low F"), Asking(told=True)),
        rung_questions(library("Bends behind the tongue", "A"), Asking(40, 4)),
        rung_questions(many, Asking(9)),
    ]
    dictated = [dictation_parts(score, look) for score in scores]
    return [*dictated, *(question_parts(each, look) for each in asked)]


@cache
def in_look(name: str) -> list[list[PageInk]]:
    return drawn(sources(name), LOOKS[name])


@pytest.mark.parametrize("look", LOOKS)
def test_pages_end_where_they_were_meant_to(look: str) -> None:
    drawn_pages = zip(sources(look), in_look(look), strict=True)
    for number, (parts, pages) in enumerate(drawn_pages):
        if number != len(TITLES) + 1:  # the sheet of the very quick music breaks by itself
            assert len(pages) == sum(1 + part.count("\\pageBreak") for part in parts)


@pytest.mark.parametrize("look", LOOKS)
def test_nothing_touches_and_nothing_is_too_small(look: str) -> None:
    for pages in in_look(look):
        found = judged(pages, large=LOOKS[look].large, side=MARGIN_MM * MM)
        for kind in ("overlaps", "crowded", "past the margins", "type under 11 pt"):
            assert not found[kind], (look, kind, found[kind][:5])


def test_every_question_has_its_row() -> None:
    rows = [word.name for page in in_look("A4")[7] for word in page.words]
    assert rows.count("continued") >= 1
    for number in range(1, 41):
        assert rows.count(f"{number}") >= 2, number  # to tick, and told
    assert [word for word in rows if re.fullmatch(r"\d+:\d\d", word)].count("0:12") == 2
