"""Rests on thirds of a beat that no note touches: written, played and read back like any other.

An echo, a pick-up or a triplet may begin or end a rest on a third of a beat where no note
begins or ends.  Such a beat is written as a triplet, as the notes around it are.  What every
program should find follows from the music itself: each word lasts its length, in a triplet
two thirds of it.  Readers: music21 and mido; the schema is that of MusicXML 4.0 by the W3C.
"""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import lxml.etree
import mido
import music21
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.formats.midi import midi_bytes
from reedmill.formats.musicxml import musicxml_bytes
from reedmill.formats.musicxml_reader import read_musicxml
from reedmill.formats.text_tab import tab_lines
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.make.material import make
from reedmill.practice.practice import Practice, plan_recording
from reedmill.score.notation import bars
from reedmill.score.repeats import printed
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from schemas import libxml_schema
from tunes import score_from

ECHO_OFF_THE_BEAT = 'drill "Echo"\n  echo\n  play -2 triplet(-2 r -4:1/2) r\n'
PICKUP_OF_REST = 'drill "Pick-up"\n  pickup 1/3\n  play r:1/3 -3\n'


def played(text: str) -> Score:
    [drill] = parse(text)
    return expand(drill, Harp("C"), Position(2))


def in_music21(score: Score) -> list[tuple[Fraction, Fraction, bool]]:
    """Onset and length in quarters of every written value as music21 reads it, and if it sounds."""
    read = music21.converter.parseData(musicxml_bytes(score).decode(), format="musicxml")
    return [
        (Fraction(each.offset), Fraction(each.quarterLength), each.isNote)
        for each in read.flatten().notesAndRests
    ]


# --- the two that never ended ----------------------------------------------------------------


def test_an_echo_that_begins_on_a_third_is_written_as_a_triplet_of_rests() -> None:
    """Two thirds of the fourth beat are the rest of the phrase, the last is the student's."""
    third = Fraction(1, 3)
    assert in_music21(played(ECHO_OFF_THE_BEAT)) == [
        (0, 1, True),
        (1, 2 * third, True), (1 + 2 * third, third, False),
        (2, third, False), (2 + third, third, True), (2 + 2 * third, third, False),
        (3, 2 * third, False), (3 + 2 * third, third, False),
        (4, 4, False),
    ]  # fmt: skip


def test_a_pickup_of_a_third_may_be_a_rest() -> None:
    third = Fraction(1, 3)
    assert in_music21(played(PICKUP_OF_REST)) == [
        (0, third, False), (third, 1, True), (third + 1, 3, False),
    ]  # fmt: skip


@pytest.mark.parametrize("text", [ECHO_OFF_THE_BEAT, PICKUP_OF_REST], ids=["echo", "pickup"])
def test_every_file_of_such_a_drill_is_made(text: str, tmp_path: Path) -> None:
    made = make([played(text)], tmp_path, ("sheet", "svg", "midi", "musicxml", "tab", "json"))
    assert len(made) == 6
    assert len(pypdf.PdfReader(io.BytesIO(made[0].path.read_bytes())).pages) == 1


def test_tab_of_such_drills_reads_as_it_is_played() -> None:
    assert tab_lines(played(ECHO_OFF_THE_BEAT)) == ["-2 -2 . -4 . | . |"]
    assert tab_lines(played(PICKUP_OF_REST)) == [". | -3 . |"]


# --- any music in thirds, sixths, halves and quarters ----------------------------------------

PARTS = (1, 2, 3, 4, 6, 8)  # of a beat: what the language counts
LENGTHS = st.builds(Fraction, st.integers(1, 9), st.sampled_from(PARTS))
METERS = st.sampled_from(("4/4", "3/4", "2/2", "5/4", "6/8", "12/8", "7/8", "1/4"))


@st.composite
def drills(draw: st.DrawFn) -> str:
    """A drill of notes, rests and triplets of any length, often with a pick-up and an echo."""
    words = draw(st.lists(st.sampled_from(("-2", "4", "r", "r", "r")), min_size=1, max_size=7))
    lengths = draw(st.lists(LENGTHS, min_size=len(words), max_size=len(words)))
    music = [f"{word}:{length}" for word, length in zip(words, lengths, strict=True)]
    if draw(st.booleans()):
        at = draw(st.integers(0, len(music) - 1))
        rests = (
            ("r r", "r", "r r r") if lengths[at] != 1 else ("r r",)
        )  # two or four alike are none
        music[at] = f"triplet({music[at]} {draw(st.sampled_from(rests))})"
    meter = draw(METERS)
    lines = [f"meter {meter}", f"play {' '.join(music)} -3"]
    pickup = draw(st.none() | LENGTHS)
    if pickup is not None and pickup < int(meter.split("/")[0]):
        lines.append(f"pickup {pickup}")
    if draw(st.booleans()):
        lines.append("echo")
    if draw(st.booleans()):
        lines.append("feel shuffle")
    return 'drill "Any"\n' + "".join(f"  {line}\n" for line in lines)


def score_of(text: str) -> Score | None:
    """The score; ``None`` where a third of a third was asked for, which the language refuses."""
    try:
        return played(text)
    except InputError as error:
        assert "cannot be written" in str(error) or "third" in str(error)  # noqa: PT017
        return None


@given(drills())
@settings(max_examples=150, deadline=None)
def test_written_values_fill_the_bars_without_a_gap_and_none_is_split_for_ever(text: str) -> None:
    """No value is shorter than half the finest step of the edges in its beat."""
    score = score_of(text)
    if score is None:
        return
    written = [each for bar in bars(score) for each in bar]
    now = score.first_beat
    for each in written:
        assert each.start == now
        assert each.length > 0
        now += each.length
    assert now == score.length
    finest = max(edge.denominator for edge in score.edges())
    assert all(each.length >= Fraction(1, 3 * finest) for each in written)
    assert {begin for begin, _ in score.echoes} <= {each.start for each in written} | {now}
    printed(score)


@given(drills())
@settings(max_examples=40, deadline=None)
def test_musicxml_of_any_such_music_is_valid_and_music21_finds_every_note(text: str) -> None:
    score = score_of(text)
    if score is None:
        return
    libxml_schema().assertValid(lxml.etree.fromstring(musicxml_bytes(score)))
    read = music21.converter.parseData(musicxml_bytes(score).decode(), format="musicxml")
    per = Fraction(4, score.meter.unit)
    found = [
        (Fraction(n.offset), Fraction(n.quarterLength)) for n in read.stripTies().flatten().notes
    ]
    assert [
        (start.limit_denominator(999), length.limit_denominator(999)) for start, length in found
    ] == [((note.start - score.first_beat) * per, note.length * per) for note in score.notes]
    assert [each.start for each in read_musicxml(musicxml_bytes(score)).notes] == [
        note.start for note in score.notes
    ]


@given(drills())
@settings(max_examples=60, deadline=None)
def test_midi_of_any_such_music_begins_every_note_on_its_tick(text: str) -> None:
    score = score_of(text)
    if score is None:
        return
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)))
    now, begun = 0, []
    for message in file.tracks[1]:
        now += message.time
        if message.type == "note_on" and message.velocity:
            begun.append(now)
    per_beat = file.ticks_per_beat * Fraction(4, score.meter.unit)
    assert begun == [round(score.performed(note.start) * per_beat) for note in score.notes]


@given(drills(), st.integers(0, 3))
@settings(max_examples=40, deadline=None)
def test_practice_of_any_such_music_ends(text: str, echo_bars: int) -> None:
    score = score_of(text)
    if score is None:
        return
    found = plan_recording(score, Practice(echo_bars=echo_bars, repeats=2))
    assert found.length_s == 4 * score.seconds(score.length)


# --- scores of other programs ----------------------------------------------------------------


@pytest.mark.parametrize("part", [5, 7, 9, 27])
def test_a_rest_on_a_part_of_a_beat_that_no_sign_shows_is_refused(part: int) -> None:
    score = replace(score_from("-2 r:3"), echoes=((2 + Fraction(1, part), Fraction(3)),))
    with pytest.raises(PatternError, match="a rest begins at beat"):
        bars(score)
    with pytest.raises(PatternError, match="a rest begins at beat"):
        bars(replace(score_from("r:3 -2"), pickup=Fraction(1, part)))


@pytest.mark.parametrize("pickup", ["1", "1/3", "5/2"])
def test_a_section_may_begin_with_a_pickup(pickup: str, tmp_path: Path) -> None:
    text = (
        f'drill "Up to it"\n  pickup {pickup}\n  section "First"\n  play -2:{pickup} | -3 -3 -2:2\n'
        '  section "Second"\n  play -4 -4 -2:2\n'
    )
    [made] = make([played(text)], tmp_path, ("sheet",))
    page = pypdf.PdfReader(made.path).pages[0].extract_text()
    assert page.index("First") < page.index("Second")


def test_bars_asked_for_twice_are_the_same_and_may_be_changed_by_whoever_asked() -> None:
    score = score_from("-2 -3:1/2 -3':1/2 -2:2")
    first = bars(score)
    first[0].clear()
    assert bars(score) == bars(replace(score, title=printable("Another")))
    assert bars(score)[0]
