"""Text tab: what a bar of music looks like in an e-mail."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.text import printable
from reedmill.formats.text_tab import tab_lines, tab_text
from reedmill.score.score import Score
from tunes import score_from

# Read from the rules in words, by hand: a dot for a rest, ~ for a slide, _ for a note that
# goes on over the bar line, | after each bar.
BARS = {
    "plain": ("-2 -3 3 10''", "-2 -3 3 10'' |"),
    "lengths are not shown": ("-2:1/2 -3:3/2 3:2", "-2 -3 3 |"),
    "overbends": ("6^:3 -7^", "6^ -7^ |"),
    "a slide": ("-2 -3:1/2 ~-3':1/2 -1:2", "-2 -3~-3' -1 |"),
    "slides in a row": ("-3 ~-3' ~-3'' ~-3", "-3~-3'~-3''~-3 |"),
    "a slide into the next bar": ("-2:3 -3 ~-3':2 -2:2", "-2 -3 | ~-3' -2 |"),
    "a rest": ("-2 r -3 -1", "-2 . -3 -1 |"),
    "a rest first": ("r:3/2 -2:5/2", ". -2 |"),
    "a long rest is one dot in each bar": ("-2:1/2 r:11/2 -3:2", "-2 . | . -3 |"),
    "the last bar is filled": ("-2 -3", "-2 -3 . |"),
    "a tie inside a bar is one note": ("-2:1/2 -3:5/2 -1", "-2 -3 -1 |"),
    "a tie over a bar line": ("-2:3 -3:2 -1:3", "-2 -3 | _ -1 |"),
    "a tie over a whole bar": ("-2:2 -3:9 -1", "-2 -3 | _ | _ -1 |"),
    "a slide out of a tied note": ("-2:2 -3:3 ~-3':3", "-2 -3 | _~-3' |"),
    "a slide and then a tie": ("-2:2 -3:1 ~-3':3 -2:2", "-2 -3~-3' | _ -2 |"),
    "triplets": ("-2:1/3 -3:1/3 -4:1/3 -1:3", "-2 -3 -4 -1 |"),
}


@pytest.mark.parametrize(("music", "tab"), BARS.values(), ids=BARS)
def test_bars(music: str, tab: str) -> None:
    assert tab_lines(score_from(music)) == [tab]


def test_silence_is_a_dot_in_every_bar() -> None:
    score = replace(score_from("-2"), notes=(), length=Fraction(8))
    assert tab_lines(score) == [". | . |"]


def test_bars_are_those_of_the_meter() -> None:
    assert tab_lines(score_from("-2 -3 -4 -1 -2 -3 -4", meter=(3, 8))) == [
        "-2 -3 -4 | -1 -2 -3 | -4 . |"
    ]


def test_four_bars_to_a_line() -> None:
    music = " ".join(f"-{hole}:4" for hole in range(1, 10))
    assert tab_lines(score_from(music)) == [
        "-1 | -2 | -3 | -4 |",
        "-5 | -6 | -7 | -8 |",
        "-9 |",
    ]


def test_three_bars_where_four_are_wider_than_88_columns() -> None:
    """Eight notes of three columns and a bar sign take 33 columns; two bars 67, three 101."""
    bar = " ".join(["-3':1/2"] * 8)
    shown = " ".join(["-3'"] * 8) + " |"
    assert tab_lines(score_from(" ".join([bar] * 3))) == [f"{shown} {shown}", shown]


def test_the_space_between_two_bars_counts() -> None:
    """Two bars of 44 columns and the space between them are one too many."""
    bar = " ".join(["-2:1/8"] * 13) + " -3':19/8"
    lines = tab_lines(score_from(f"{bar} {bar}"))
    assert [len(line) for line in lines] == [44, 44]


def test_88_columns_are_used_to_the_last() -> None:
    """29 notes take 29 * 3 - 1 columns, and the rest after them two more."""
    [line] = tab_lines(score_from(" ".join(["-2:1/8"] * 29) + " r:3/8"))[:1]
    assert len(line) == 88
    assert line == " ".join(["-2"] * 29) + " ."


def test_a_long_bar_is_broken_between_notes() -> None:
    music = " ".join(["-3':1/8", "10'':1/8"] * 16)
    assert tab_lines(score_from(music)) == [
        " ".join(["-3' 10''"] * 9) + " -3'",
        " ".join(["10'' -3'"] * 6) + " 10'' |",
    ]


def test_a_long_slide_is_broken_before_its_sign() -> None:
    """Ten pairs of a slide take 10 * 9 - 1 columns; the last note of them waits."""
    music = "-3':1/8 " + " ".join(["~-3'':1/8", "~-3':1/8"] * 15) + " -2:1/8"
    first, second = tab_lines(score_from(music))
    assert first == "-3'" + "~-3''~-3'" * 9
    assert second == "~-3''~-3'" * 6 + " -2 |"


word = st.tuples(
    st.sampled_from(["-3", "-3'", "-3''", "10''", "r"]),
    st.builds(Fraction, st.integers(1, 9), st.sampled_from([1, 2, 3, 8])),
    st.booleans(),
)


@st.composite
def tunes(draw: Any) -> Score:
    """Music with slides only where the note before is on draw 3 too, with any meter."""
    words: list[str] = []
    before = ""
    for tab, length, slide in draw(st.lists(word, min_size=1, max_size=24)):
        slides = slide and before.startswith("-3") and tab.startswith("-3")
        words.append(f"{'~' if slides else ''}{tab}:{length}")
        before = tab
    return score_from(" ".join(words), meter=(draw(st.integers(2, 7)), 4))


def shown_bar(score: Score, number: int) -> str:
    """One bar by the rules, from the notes' times alone."""
    start = Fraction(number * score.meter.beats)
    end, now, text = start + score.meter.beats, start, ""
    for note in score.notes:
        if note.end <= start or note.start >= end:
            continue
        text += " ." if note.start > now else ""
        if note.start < start:
            text += " _"
        else:
            text += ("~" if note.joined else " ") + note.reed.tab
        now = note.end
    return text + (" . |" if now < end else " |")


@given(tunes())
def test_every_bar_shows_its_notes_rests_and_ties_in_order(score: Score) -> None:
    expected = "".join(shown_bar(score, number) for number in range(score.bars))
    shown = " ".join(tab_lines(score))
    assert shown.replace(" ", "") == expected.replace(" ", "")


@given(tunes())
def test_lines_are_no_wider_than_88_and_hold_at_most_four_bars(score: Score) -> None:
    for line in tab_lines(score):
        assert len(line) <= 88
        assert line.count("|") <= 4
        assert line == line.strip()
        for piece in re.split(r"[ ~]+", line):
            assert re.fullmatch(r"-3'{0,2}|10''|[._|]|", piece), "broken inside a tab"


def test_the_whole_page() -> None:
    score = score_from(
        "-2 -3 -2 -3:1/2 ~-3':1/2 -2:2 r -1 -2:3",
        harp="low F",
        position=3,
        tempo=56,
        title="Lean and come home",
        about="Start on the rung before.",
    )
    page, legend = tab_text(score).rsplit("\n\n", 1)
    assert page == (
        "Lean and come home\n"
        "low F harp, 3rd position, key of G minor, 4/4, tempo 56\n"
        "Start on the rung before.\n"
        "\n"
        "-2 -3 -2 -3~-3' | -2 . -1 | -2 . |"
    )
    explained = re.split(r" {3}|\n", legend)
    assert {"-3 draw", "3 blow", "' a semitone of bend", "^ overbend", "~ slide", ". rest",
            "_ goes on"} <= set(explained)  # fmt: skip
    assert legend.endswith("\n")


def test_a_page_without_a_purpose_has_no_empty_line_for_it() -> None:
    text = tab_text(score_from("-2:4", harp="Bb", meter=(2, 2), title="Short"))
    assert text.split("\n")[:4] == [
        "Short",
        "Bb harp, 2nd position (cross harp), key of F, 2/2, tempo 60",
        "",
        "-2 | _ |",
    ]


def test_the_name_of_a_section_from_the_right_turns_no_tab_around() -> None:
    """A line runs as its first letter does (Unicode Annex 9, P2 and P3)."""
    score = replace(
        score_from("-2 3 -3'"), sections=((Fraction(0), printable("\u05e9\u05dc\u05d5\u05dd")),)
    )
    assert tab_lines(score) == ["\u05e9\u05dc\u05d5\u05dd:", "-2 3 -3' . |"]
