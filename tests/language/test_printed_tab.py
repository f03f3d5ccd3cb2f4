"""Plain tab, as it is printed, is a play line again: the same reeds in the same order."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from reedmill.base.errors import PatternError
from reedmill.expand import expand
from reedmill.expand.breath import without_breaths
from reedmill.formats.text_tab import tab_lines, timed_lines
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.language.formatter import tidy
from reedmill.library import Shelved, shipped
from reedmill.score.score import Score
from reedmill.theory.positions import Position

SHELF: dict[str, Shelved] = {each.drill.title: each for each in shipped()}


def pasted(lines: list[str]) -> str:
    """What a player has after pasting *lines* below the word play."""
    return 'drill "Pasted"\n  play\n' + "".join(f"    {line}\n" for line in lines)


def music_of(score: Score) -> list[str]:
    """The tab of *score* without the names of its sections, which are not music."""
    names = {f"{name}:" for _, name in score.sections}
    lines = tab_lines(score)
    for at, line in enumerate(lines):
        name = next((name for name in names if line.startswith(name)), "")
        lines[at] = line.removeprefix(name).strip()
    return [line for line in lines if line]


def played(text: str, position: int = 2) -> list[tuple[str, bool, bool]]:
    """Tab, slide and accent of every note of the drill in *text*."""
    [drill] = parse(text)
    return told(expand(drill, Harp("C"), Position(position)))


def told(score: Score) -> list[tuple[str, bool, bool]]:
    return [(note.reed.tab, note.joined, note.accent) for note in score.notes]


@pytest.mark.parametrize("title", SHELF)
def test_the_tab_of_every_drill_can_be_pasted_into_a_drill(title: str) -> None:
    each: Shelved = SHELF[title]
    text = pasted(music_of(each.score))
    assert played(text, each.score.position.number) == told(each.score)
    laid_out = tidy(text)
    assert tidy(laid_out) == laid_out
    assert played(laid_out, each.score.position.number) == told(each.score)


@pytest.mark.parametrize("title", SHELF)
def test_timed_tab_pasted_into_a_drill_keeps_every_time(title: str) -> None:
    """What a page of plain text says is all there is: reeds, starts, lengths, slides, accents.

    The rests of breaths are in it; where else the new drill would breathe is its own affair.
    """
    score = SHELF[title].score
    names = {f"{name}:" for _, name in score.sections}
    lines = [
        line.removeprefix(next((name for name in names if line.startswith(name)), "")).strip()
        for line in timed_lines(score)
    ]
    bare = pasted([line for line in lines if line])
    meter = f"\n  meter {score.meter.name}\n"
    pickup = f"  pickup {score.pickup}\n" if score.pickup else ""
    text = bare.replace("\n", meter + pickup, 1)
    [drill] = parse(text)
    again = expand(drill, Harp("C"), score.position)
    assert timed(without_breaths(again)) == timed(score)


def timed(score: Score) -> list[tuple[str, Fraction, Fraction, bool, bool]]:
    return [(n.reed.tab, n.start, n.length, n.joined, n.accent) for n in score.notes]


@pytest.mark.parametrize("breath", [",", ",out", ",in"])
def test_signs_of_printed_tab_are_read_where_they_stand_alone(breath: str) -> None:
    [drill] = parse(f'drill "Pasted"\n  play -2 . -3 {breath} -2 _ |\n')
    score = expand(drill, Harp("C"), Position(2))
    heard = [f"{note.reed.tab} {note.start} {note.length}" for note in score.notes]
    assert heard == ["-2 0 1", "-3 2 1", "-2 3 2"]  # a rest of one beat, two beats held


@pytest.mark.parametrize(
    "music",
    [
        "-3:6 ~-3':2",
        "-2 -3:5~:1 -3':2",
        "-2&3:6~-2'&3':2",
        "-3' -3:4~-3':3 -2:8~-2'':4 r:4",
        "(-2 -3:5~-3' -2)x2",
        "-2:18~-2':2",  # where a line of the tab begins with it
    ],
)
def test_a_slide_from_the_bar_before_is_read_back(music: str) -> None:
    """Tab prints a note that goes on into the next bar and slides there as ``_~-3'``."""
    [drill] = parse(f'drill "Slid"\n  level 5\n  tempo 300\n  play {music}\n')
    score = without_breaths(expand(drill, Harp("C"), Position(2)))
    text = pasted(tab_lines(score))
    assert "_~" in text
    for each in (text, tidy(text)):
        assert [(tab, joined) for tab, joined, _ in played(each)] == [
            (note.reed.tab, note.joined) for note in score.notes
        ]


def test_bars_of_printed_tab_are_for_the_eye_until_a_length_is_written() -> None:
    assert len(played('drill "P"\n  play\n    -2 -3 | -4 |\n')) == 3
    with pytest.raises(PatternError, match="this bar has 3 beats, but 4/4 has 4"):
        played('drill "P"\n  play\n    -2:2 -3 | -4 |\n')
    with pytest.raises(PatternError, match=r"Printed tab has no lengths to count"):
        played('drill "P"\n  play -2 -3 | -4 |\n')  # on the line of its word it is counted


def test_music_below_its_word_goes_on_over_blank_lines_and_remarks() -> None:
    text = 'drill "P"\n  play  -2 -3  # first\n\n        4 . |\n  tempo 60\n'
    assert [tab for tab, _, _ in played(text)] == ["-2", "-3", "4"]
    assert tidy(text) == 'drill "P"\n  play   -2 -3  # first\n         4 . |\n  tempo  60\n'


@pytest.mark.parametrize(
    ("music", "column", "fact"),
    [
        ("-2 ;", 8, '";" does not fit here'),
        ("-2, -3", 7, "notes need no commas"),
        ("-2 D3", 8, '"D3" is another way of writing tab'),
        ("-2 (-3", 8, "this bracket is never closed"),
    ],
)
def test_a_mistake_below_the_word_is_told_as_one_of_its_line(
    music: str, column: int, fact: str
) -> None:
    with pytest.raises(PatternError) as caught:
        parse(f'drill "P"\n  play -2\n    {music}\n')
    assert caught.value.fact == fact
    assert (caught.value.span.line, caught.value.span.column) == (3, column)


# Each as players write it, and what is answered.
OTHER_TAB = {
    "-3b": "-3' for draw 3 bent a semitone",
    "-3bb": "-3'' for draw 3 bent two semitones",
    "-3'b": "-3'' for draw 3 bent two semitones",
    "3b": "-3' for draw 3 bent a semitone, or 3 for blow 3",
    "9b": "9' for blow 9 bent a semitone, or 9 for blow 9",  # there the blow reed bends
    "6o": "6^ for overblow 6",
    "6ob": "6^ for overblow 6",
    "7o": "-7^ for overdraw 7",  # hole 7 overbends drawn
    "7od": "-7^ for overdraw 7",
    "3D": "-3 for draw 3",
    "3d'": "-3' for draw 3 bent a semitone",
    "D3": "-3 for draw 3",
    "4B": "4 for blow 4",
    "B4": "4 for blow 4",
    "3\u2193": "-3 for draw 3",
    "\u21914": "4 for blow 4",
    "8B'": "8' for blow 8 bent a semitone",
    "+8b": "8' for blow 8 bent a semitone",
}


@pytest.mark.parametrize(("theirs", "ours"), OTHER_TAB.items())
@pytest.mark.parametrize("line", ["play -2 {}", "anchor {}", "rungs -2 {}", "phrase -2 {} rung"])
def test_other_ways_of_writing_tab_are_answered_with_ours(
    theirs: str, ours: str, line: str
) -> None:
    text = line.format(theirs)
    with pytest.raises(PatternError) as caught:
        parse(f'drill "P"\n  {text}\n')
    assert caught.value.fact == f'"{theirs}" is another way of writing tab'
    assert caught.value.remedy.startswith(f"Write {ours}.")
    assert (caught.value.span.column, caught.value.span.width) == (
        text.index(theirs) + 3, len(theirs),
    )  # fmt: skip
    for tab in re.findall(r"(\S+) for ", ours):
        assert played(f'drill "P"\n  play {tab}\n') == [(tab, False, False)]


def test_a_plus_for_a_blow_is_read() -> None:
    assert [tab for tab, _, _ in played('drill "P"\n  play -2 -3 +4\n')] == ["-2", "-3", "4"]


@pytest.mark.parametrize(
    ("written", "instead"),
    [
        ("-2-3", "Write -2&3 for all of them at once, or -2 -3 for one after the other."),
        ("2+3+4", "Write 2&3&4 for all of them at once, or 2 3 4 for one after the other."),
        ("-2-3-2", "Write -2 -3 -2 for one after the other."),
        ("-2+3", "Write -2 3 for one after the other."),
    ],
)
def test_reeds_without_a_space_are_asked_about(written: str, instead: str) -> None:
    """Some print a double stop so, others two notes: common practice, no published source."""
    with pytest.raises(PatternError) as caught:
        played(f'drill "P"\n  play {written} -4\n')
    assert str(caught.value).endswith(instead)
    assert caught.value.span.width == len(written)


def test_a_hole_alone_in_brackets_is_asked_about_and_what_is_repeated_is_not() -> None:
    with pytest.raises(PatternError, match="brackets do not say draw or blow here"):
        parse('drill "P"\n  play -2 (3)\n')
    for music in ("(3)x2", "(-3)", "(3 4)", "(3:2)", "(3 4) 1st (3) 2nd (4)", "triplet(3 4 5)"):
        assert played(f'drill "P"\n  play {music}\n')
