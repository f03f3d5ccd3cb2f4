"""Several holes, quarter tones and marks of style in what is read: tab, HTML, MusicXML, braille."""

from __future__ import annotations

import io
import re
from typing import Any

import lxml.etree
import lxml.html
import music21
import pytest
from hypothesis import assume, given, settings

from held_together import PLAY, all_of_it, beats, much_together, on_a_harp
from reedmill.base.errors import InputError
from reedmill.expand import expand
from reedmill.formats.braille import braille_lines
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.formats.musicxml_reader import read_musicxml
from reedmill.formats.text_tab import COLUMNS, tab_lines, tab_text, timed_lines
from reedmill.formats.web_page import html_bytes
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.score import Score
from reedmill.score.style import Mark
from reedmill.theory.positions import Position
from schemas import libxml_schema, python_schema
from together import together

# --- plain tab -------------------------------------------------------------------------------

# Read from the words of the pattern language, by hand; at 60 a shake has 6 turns a second.
TAB = {
    "two holes": ("-2&3 -1&4 2&3&4:2", "-2&3 -1&4 2&3&4 |", "-2&3 -1&4 2&3&4:2 |"),
    "a quarter tone": ("-3q -3'q 8q:2", "-3q -3'q 8q |", "-3q -3'q 8q:2 |"),
    "marks": (
        "slap -2 vibrato4 -3:2 shake -4&5",
        "slap -2 vibrato4 -3 shake6 -4&5 |",
        "slap -2 vibrato4 -3:2 shake6 -4&5 |",
    ),
    "several marks": (
        "scoop mute -3!:2 pull slap -2:2",
        "mute scoop -3! slap pull -2 |",
        "mute scoop -3!:2 slap pull -2:2 |",
    ),
    "a slow slide": ("-3~:2 -3'':3", "-3~-3'' |", "-3~:2 -3'':3 |"),
    "a slide of two holes": ("-2&3:2~-2'&3':2", "-2&3~-2'&3' |", "-2&3:2~-2'&3':2 |"),
    "a slide that ends in a fall": (
        "-3:2~fall -3':2", "-3~fall -3' |", "-3:2~fall -3':2 |",
    ),
    "lifts": (
        "-4~-1&2&3&4:2 r 1&4~1&2&3&4~4 r", "-4~-1&2&3&4 . | 1&4~1&2&3&4~4 . |",
        "-4~-1&2&3&4:2 r | 1&4~1&2&3&4~4 r |",
    ),
    "over the bar line": (
        "fall -4:6 shake3 4&5:2", "fall -4 | _ shake3 4&5 |", "fall -4:4 | ~-4:2 shake3 4&5:2 |",
    ),
}  # fmt: skip


@together(("play", "tab", "timed"), TAB.values())
def test_tab_says_holes_and_marks_as_a_drill_does(play: str, tab: str, timed: str) -> None:
    score = on_a_harp(play)
    assert (tab_lines(score), timed_lines(score)) == ([tab], [timed])


def pasted(lines: list[str], meter: str) -> Score:
    """What a player has after pasting *lines* below the word play."""
    music = "\n".join(f"  {line}" for line in lines)
    text = f'drill "Pasted"\n  tempo 60\n  meter {meter}\n  play\n{music}\n'
    return expand(parse(text)[0], Harp("C"), Position(2))


@settings(max_examples=40, deadline=None)
@given(much_together())
def test_timed_tab_pasted_into_a_drill_is_the_same_music(score: Score) -> None:
    assert beats(pasted(timed_lines(score), score.meter.name)) == beats(score)


@settings(max_examples=40, deadline=None)
@given(much_together())
def test_the_tab_of_a_sheet_pasted_into_a_drill_has_the_same_holes_and_marks(score: Score) -> None:
    assume("_~" not in "".join(tab_lines(score)))  # a slide out of what is held is not read yet

    def told(music: Score) -> list[object]:
        return [(note.reeds, note.joined, note.accent, note.style) for note in music.notes]

    assert told(pasted(tab_lines(score), score.meter.name)) == told(score)


@settings(max_examples=40, deadline=None)
@given(much_together())
def test_no_line_ends_between_a_mark_or_a_slide_and_its_note(score: Score) -> None:
    words = {mark.value for mark in Mark}
    for line in (*tab_lines(score), *timed_lines(score)):
        assert len(line) <= COLUMNS
        last = line.split(" ")[-1]
        assert last.rstrip("0123456789") not in words
        assert not re.search(r"~(:[0-9/]+)?$", last)


def test_a_page_of_text_explains_the_signs_it_has_and_no_others() -> None:
    plain = tab_text(on_a_harp("-2 -3' 4"))
    assert not re.search(r"&|quarter|slap|vibrato|takes", plain)
    assert tab_text(all_of_it()).rstrip("\n").split("\n")[-11:] == [
        "-2&3  holes together in one breath",
        "-1&4  the tongue covers the holes between",
        "-3q  a quarter tone lower",
        "~:2  the slide takes 2 beats of the note it comes to",
        "mute  hands closed around the harp",
        "slap  a chord for an instant, then the note",
        "scoop  in from a bend below",
        "vibrato4  4 waves a beat",
        "shake5  back and forth between both holes, 5 times a beat",
        "fall  off into a bend below",
        "pull  the note, then a chord for an instant",
    ]


# --- the page for screen readers ---------------------------------------------------------------


def heard_rows(score: Score) -> list[list[str]]:
    """What a screen reader reads of the table; it leaves out what is aria-hidden."""
    page = lxml.html.document_fromstring(html_bytes(score).decode())
    for each in page.xpath("//*[@aria-hidden='true']"):
        each.drop_tree()
    return [[cell.text_content().strip() for cell in row] for row in page.iter("tr")]


def test_a_screen_reader_says_holes_tongue_and_marks() -> None:
    """On a C harp: draw 1 is D, 2 G, 3 B, 4 D, and the key is G."""
    play = "slap -1&4 vibrato4 -3q!:3 | -3:1~:2 fall -3':3 | -2&3:6 r:2"
    score = on_a_harp(play, tempo=200)  # so quick that no breath is in between
    assert heard_rows(score)[1:4] == [
        ["1", "draw 1 and 4, the tongue on 2 and 3, slap; "
         "draw 3 bent a quarter tone for 3 beats, accented, vibrato, 4 a beat",
         "D4 and D5, B4 lowered a quarter tone", "5 and 5, 3 lowered a quarter tone"],
        ["2", "draw 3; slide over 2 beats to draw 3 bent a semitone for 3 beats, fall",
         "B4, B flat 4", "3, flat 3"],
        ["3", "draw 2 and 3 for 4 beats", "G4 and B4", "1 and 3"],
    ]  # fmt: skip


def test_a_screen_reader_says_what_sounds_on_through_a_lift() -> None:
    score = on_a_harp("-4~-1&2&3&4~-4 r | 1&4:2~1&2&3&4 r", tempo=200)
    assert [row[1] for row in heard_rows(score)[1:3]] == [
        "draw 4; hold 4 into draw 1, 2, 3 and 4; hold only draw 4; rest",
        "blow 1 and 4, the tongue on 2 and 3 for 2 beats; hold 1 and 4 into blow 1, 2, 3 and 4; "
        "rest",
    ]


def test_a_lift_is_explained_where_there_is_one() -> None:
    lines = tab_text(on_a_harp("-4~-1&2&3&4~-4 r")).rstrip("\n").split("\n")
    assert lines[-1] == "~-1&2&3&4  no new attack: what both notes share sounds on"


def test_no_sign_of_holes_or_marks_is_left_to_be_heard() -> None:
    page = lxml.html.document_fromstring(html_bytes(all_of_it()).decode())
    for each in page.xpath("//*[@aria-hidden='true']"):
        each.drop_tree()
    assert not set("&'^~:-\u266d") & set(page.find(".//table").text_content())
    assert not any("&" in each.text_content() for each in page.iter("li"))


# --- MusicXML ----------------------------------------------------------------------------------


@pytest.mark.parametrize("harp", ["C", "low F", "Db"])
def test_chords_and_marks_are_valid_by_both_validators(harp: str) -> None:
    data = musicxml_bytes(all_of_it(harp))
    libxml_schema().assertValid(lxml.etree.fromstring(data))
    python_schema().validate(io.BytesIO(data))


def in_music21(score: Score) -> Any:
    return music21.converter.parseData(musicxml_bytes(score).decode(), format="musicxml")


def test_music21_finds_every_note_of_a_chord_and_its_quarter_tones() -> None:
    """By the published layout of a C harp: draw 1 to 5 are D G B D F, blow 2 to 5 E G C E."""
    score = on_a_harp(PLAY, tempo=200)  # so quick that no breath is in between
    found = [
        (float(each.quarterLength), [float(pitch.ps) for pitch in sorted(each.pitches)])
        for each in in_music21(score).stripTies().flatten().notes
    ]
    slapped = [(1, [67.0]), (1, [71.0]), (1, [70.0])]
    assert found == [
        (1, [62.0, 74.0]), (2, [67.0, 71.0]), (1, [67.0]), (2, [74.0, 77.0]), (1, [70.5]),
        (1, [74.0]), (1, [76.0]), (1, [62.0, 67.0, 71.0]), (2, [74.0]), (1, [71.0]), (3, [69.0]),
        *slapped, *slapped, (1, [64.0, 67.0, 72.0]),
    ]  # fmt: skip


def test_music21_reads_what_sounds_on_through_a_lift_as_tied_and_nothing_else() -> None:
    """Draw 1 to 4 are D G B D, blow 1 and 4 C and C (OEIS A291810 above C4)."""
    music = "-4:2~-1&2&3&4 r | 1&4~1&2&3&4:2~4 | -4:4 | ~-1&4 -3'~-3~-2&3 |"
    score = on_a_harp(music, tempo=200)
    found = [
        (note.nameWithOctave, note.tie.type if note.tie else None)
        for each in in_music21(score).flatten().notes
        for note in (each.notes if each.isChord else [each])
    ]
    assert found == [
        ("D5", "start"), ("D4", None), ("G4", None), ("B4", None), ("D5", "stop"),
        ("C4", "start"), ("C5", "start"),
        ("C4", "stop"), ("E4", None), ("G4", None), ("C5", "continue"), ("C5", "stop"),
        ("D5", "start"), ("D4", None), ("D5", "stop"),
        ("B-4", None), ("B4", "start"), ("G4", None), ("B4", "stop"),
    ]  # fmt: skip
    root = lxml.etree.fromstring(musicxml_bytes(score))
    assert len(root.findall(".//slide")) == len(root.findall(".//slur")) == 2  # of -3'~-3 alone


# Where MusicXML 4.0 has an element it is that; else the word of the pattern language.
ELEMENTS = {
    "scoop -4": ["articulations/scoop"],
    "fall -4": ["articulations/falloff"],
    "mute -4": ["technical/harmon-mute/harmon-closed"],
    "vibrato4 -4": [
        "ornaments/wavy-line[@type='start']", "ornaments/wavy-line[@type='stop']",
        "technical/other-technical[.='vibrato4']",
    ],
    "shake5 -4&5": ["technical/other-technical[.='shake5']"],
    "slap -2": ["technical/other-technical[.='slap']"],
    "pull -2": ["technical/other-technical[.='pull']"],
    "-3 ~:2 -3'':3": ["slide[@type='start'][.='2 beats']"],
}  # fmt: skip


@together(("play", "paths"), ELEMENTS.items())
def test_a_mark_is_the_standards_element_or_a_word(play: str, paths: list[str]) -> None:
    root = lxml.etree.fromstring(musicxml_bytes(on_a_harp(play)))
    for path in paths:
        assert len(root.xpath(f".//notations/{path}")) == 1, (play, path)


def test_what_has_no_element_stands_over_the_staff_in_words() -> None:
    words = [text for _, text in read_musicxml(musicxml_bytes(all_of_it())).words]
    assert [text for text in words if text.rstrip("0123456789") in {"slap", "pull"}] == [
        "slap", "pull", *["slap"] * 4,
    ]  # fmt: skip
    assert {"shake5", "vibrato4"} <= set(words)


def test_a_quarter_flat_is_altered_by_half_a_semitone_and_shown() -> None:
    """MusicXML 4.0, accidental-value: quarter-flat and three-quarters-flat are of Tartini."""
    root = lxml.etree.fromstring(musicxml_bytes(on_a_harp("-3q -3'q -2'q r")))
    notes = root.findall(".//note[pitch]")
    assert [
        (each.findtext("pitch/step"), each.findtext("pitch/alter"), each.findtext("accidental"))
        for each in notes
    ] == [
        ("B", "-0.5", "quarter-flat"), ("B", "-1.5", "three-quarters-flat"),
        ("F", "0.5", "quarter-sharp"),
    ]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(much_together())
def test_any_music_of_several_holes_is_valid_and_comes_back_whole(score: Score) -> None:
    data = musicxml_bytes(score)
    libxml_schema().assertValid(lxml.etree.fromstring(data))
    assert [
        (n.start, n.length, {n.pitch, *n.beside}, n.tab, n.degree, n.joined, n.accent, n.style,
         n.slide_beats)
        for n in read_musicxml(data).notes
    ] == [
        (n.start, n.length, {each.pitch for each in n.sounded}, n.tab, n.degrees, n.joined,
         n.accent, frozenset(n.style.words), n.slide_beats)
        for n in score.notes
    ]  # fmt: skip


def foreign(notes: str) -> bytes:
    """A file by hand, in 4/4 with two divisions to the quarter."""
    return (
        "<score-partwise><part-list><score-part id='P1'><part-name/></score-part></part-list>"
        "<part id='P1'><measure number='1'><attributes><divisions>2</divisions>"
        f"<time><beats>4</beats><beat-type>4</beat-type></time></attributes>{notes}</measure>"
        "</part></score-partwise>"
    ).encode()


def head(step: str, *, chord: bool = False, duration: int = 2, tie: str = "") -> str:
    return (
        f"<note>{'<chord/>' if chord else ''}<pitch><step>{step}</step><octave>4</octave></pitch>"
        f"<duration>{duration}</duration>{tie}</note>"
    )


def test_a_chord_of_another_hand_is_one_note_with_others_beside_it() -> None:
    music = head("B") + head("G", chord=True) + head("A", duration=4)
    read = read_musicxml(foreign(music))
    found = [
        (float(n.start), float(n.length), n.pitch.name, [p.name for p in n.beside])
        for n in read.notes
    ]
    assert found == [(0, 1, "B4", ["G4"]), (1, 2, "A4", [])]
    assert read.length == 3


STOP, START = "<tie type='stop'/>", "<tie type='start'/>"
BAD_CHORDS = {
    "two lengths": (head("B") + head("G", chord=True, duration=4), "have two lengths"),
    "a chord on nothing": (head("B", chord=True), "does not follow another note"),
    "half of it tied": (
        head("B", tie=START) + head("G", chord=True) + head("B", tie=STOP) + head("G", chord=True),
        "some notes of a chord are tied",
    ),
    "tied to another chord": (
        head("B", tie=START) + head("G", chord=True, tie=START)
        + head("B", tie=STOP) + head("A", chord=True, tie=STOP),
        "does not continue the note before it",
    ),
}  # fmt: skip


@together(("music", "message"), BAD_CHORDS.values())
def test_a_chord_that_cannot_be_read_whole_is_refused(music: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_musicxml(foreign(music))


# --- braille -----------------------------------------------------------------------------------

# Music Braille Code 2015 (BANA): the highest note is written and the others are intervals down:
# third 346, fourth 3456, octave 36; the tie of a chord is 46-14, a slur 14, an accent 46-236, a
# triplet 23; a quarter tone lower is 4-126 before the note.
CELLS = {
    "a third": ("-2&3:4", "⠐⠾⠬"),
    "a chord": ("2&3&4:4", "⠨⠽⠼⠴"),
    "an octave": ("-1&4:4", "⠨⠵⠤"),
    "a tie": ("-2&3:6 r:2", "⠐⠾⠬⠨⠉⠀⠐⠞⠬⠥"),
    "a slide": ("-2&3:2 ~-2'&3':2", "⠐⠞⠬⠉⠣⠞⠩⠼"),
    "an accent": ("-2&3!:4", "⠨⠦⠐⠾⠬"),
    "a triplet": ("triplet (-2&3 -2&3 -2&3) r:2", "⠆⠐⠺⠬⠺⠬⠺⠬⠥"),
    "a triplet of single notes": ("-3:2/3 -2:1/3 r:1/3 -2:2/3 r:2", "⠆⠐⠺⠓⠆⠭⠳⠥"),
    "a quarter tone": ("-3q:4", "⠈⠣⠐⠾"),
}


@together(("play", "cells"), CELLS.values())
def test_a_chord_is_its_highest_note_and_intervals_down(play: str, cells: str) -> None:
    [_, line] = braille_lines(on_a_harp(play))
    assert line.removeprefix("⠼⠁⠀").removesuffix("⠣⠅").strip("\u2800") == cells
