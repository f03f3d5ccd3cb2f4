"""What is printed once and played several times is played as it was written.

music21 (from the registries) carries out the signs: its expander knows repeat bar lines and
endings, and what it plays must be what the score has.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import bar as m21_bar
from music21 import note as m21_note
from music21 import repeat as m21_repeat
from music21 import spanner, stream

import bands
from reedmill.base.text import printable
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.library import shipped
from reedmill.score.repeats import PrintedBar, printed
from reedmill.score.score import AirWay, Breathing, Repeat, Score
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Position
from tunes import score_from

Sounded = list[tuple[Fraction, Fraction, int]]
"""Start and length in beats, and the key number, of each note."""


def score_of(music: str, *lines: str) -> Score:
    text = "\n  ".join(['drill "One"', *lines, music])
    return expand(parse(text)[0], Harp("C"), Position(2))


def carried_out(score: Score) -> Sounded:
    """What music21 plays when it reads the bars and signs that are printed."""
    part = stream.Part()
    ending: list[stream.Measure] = []
    for number, bar in enumerate(printed(score), start=1):
        part.append(measure := measured(bar, number))
        if bar.ending:
            ending = []
            part.insert(0, spanner.RepeatBracket(ending, number=list(bar.ending)))
        ending.append(measure)
        if bar.ending_ends:
            part.getElementsByClass(spanner.RepeatBracket).last().addSpannedElements(ending)
    played = m21_repeat.Expander(part).process() if any_sign(score) else part
    start = score.first_beat
    return [
        (start + beats(each.offset), beats(each.quarterLength), each.pitch.midi)
        for each in played.flatten().notes
    ]


def measured(bar: PrintedBar, number: int) -> stream.Measure:
    measure = stream.Measure(number=number)
    for written in bar.written:
        length = float(written.length)
        sign = m21_note.Rest() if written.note is None else m21_note.Note(written.note.pitch.midi)
        sign.quarterLength = length
        measure.append(sign)
    if bar.opens:
        measure.leftBarline = m21_bar.Repeat(direction="start")
    if bar.closes:
        times = {} if bar.ending_ends else {"times": bar.closes}
        measure.rightBarline = m21_bar.Repeat(direction="end", **times)
    return measure


def beats(number: float) -> Fraction:
    """A beat of music21's as the fraction it stands for: halves and thirds."""
    return Fraction(number).limit_denominator(96)


def any_sign(score: Score) -> bool:
    return any(bar.opens or bar.closes for bar in printed(score))


def meant(score: Score) -> Sounded:
    return [(note.start, note.length, note.pitch.midi) for note in score.notes]


@pytest.mark.parametrize(
    ("music", "bars_printed"),
    [
        ("play (-2 -3' 4 -4 |)x2", 1),
        ("play (-2 -3' 4 -4 |)x5 -2:4", 2),
        ("play -1:4 (-2 -3' 4 -4 | 4 -4 -2:2 |)x3 -2:4", 4),
        ("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-2:4 |)", 3),
        ("play (-2 -3' 4:2 |) 1st (-4:4 | -5:4 |) 2nd (-2:4 |) 3rd (-1:4 |) -3:4", 6),
        ("play (-2 -3' 4 -4 |)x2 (-1 -2 -3 4 | 4:4 |)x2", 3),
        ("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-4:4 |) 3rd (-1:4 |)", 3),
        ("play (-2:4 |) 1st (-4:4 |) 2nd (-2:4 |) (-1:4 | 4:4)x2", 5),
    ],
)
def test_music21_plays_the_signs_as_the_drill_is_written(music: str, bars_printed: int) -> None:
    score = score_of(music)
    assert len(printed(score)) == bars_printed < score.bars
    assert carried_out(score) == meant(score)


@pytest.mark.parametrize(
    "music",
    [
        "play (-2 -3')x2",  # no bar line between its times
        "play -2 (-2 -3' 4 -4)x2 r:3",
        "play -2~-2':4 (-2 -3' -2 | -3)x2 r:3",
        "play (-2 -3' 4 -4:3)x2 r:4",  # held over the bar line
        "play (-2 -3' 4 |) 1st (-4:4) 2nd (-2:4) r:2".replace(" |", ""),
    ],
)
def test_what_signs_cannot_say_is_written_out(music: str) -> None:
    score = score_of(music)
    assert len(printed(score)) == score.bars
    assert not any_sign(score)


def test_a_repeat_with_a_section_or_an_echo_in_it_is_written_out() -> None:
    score = score_of("play (-2 -3' 4 -4 |)x2", "echo")
    assert carried_out(score) == meant(score)
    assert score.echoes


@pytest.mark.parametrize(
    ("music", "closing"),
    [
        ("play (-2 -3' 4 -4 |)x2", [2]),
        ("play (-2 -3' 4 -4 |)x5 -2:4", [5, 0]),
        ("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-2:4 |)", [0, 2, 0]),
        ("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-4:4 |) 3rd (-1:4 |)", [0, 2, 0]),
    ],
)
def test_a_closing_sign_says_how_often_and_the_last_ending_has_none(
    music: str, closing: list[int]
) -> None:
    """Where endings count the times, a closing sign means once more (MusicXML 4.0, repeat)."""
    assert [bar.closes for bar in printed(score_of(music))] == closing


@pytest.mark.parametrize(
    ("starts", "chords", "bars_printed"),
    [
        ([0], ["I"], 1),
        ([0, 4], ["I", "IV"], 2),
        ([0, 2, 4, 6], ["I", "IV", "I", "IV"], 1),
        ([0, 2, 4, 7], ["I", "IV", "I", "IV"], 2),
        ([0, 2, 4], ["I", "IV", "I"], 2),
    ],
)
def test_the_same_notes_over_other_chords_are_written_out(
    starts: list[int], chords: list[str], bars_printed: int
) -> None:
    changes = tuple(
        (Fraction(at), Chord.parse(name)) for at, name in zip(starts, chords, strict=True)
    )
    band = replace(bands.arrangement(beats=8), chords=changes)
    score = replace(score_of("play (-2 -3' 4 -4 |)x2"), band=band)
    assert len(printed(score)) == bars_printed


def test_endings_over_other_chords_are_two() -> None:
    score = score_of("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-4:4 |)")
    alike = tuple((Fraction(at), Chord.parse("I")) for at in (0, 4, 8, 12))
    other = (*alike[:3], (Fraction(12), Chord.parse("IV")))
    under = [replace(bands.arrangement(beats=16), chords=chords) for chords in (alike, other)]
    endings = [[bar.ending for bar in printed(replace(score, band=each))] for each in under]
    assert endings == [[(), (1, 2)], [(), (1,), (2,)]]


def test_a_repeat_that_begins_under_a_held_note_is_written_out() -> None:
    """The first time the note before is still heard, the second time it is silent."""
    score = score_from("4:5 -2:3 r:1 -2:3")
    passes = ((Fraction(8), Fraction(8)), (Fraction(12), Fraction(12)))
    held = replace(score, repeats=(Repeat(Fraction(4), passes),))
    assert not any_sign(held)
    let_go = replace(held, notes=(replace(held.notes[0], length=Fraction(4)), *held.notes[1:]))
    assert len(printed(let_go)) == 2


def test_a_repeat_that_a_slide_leads_into_is_written_out() -> None:
    """The slide into its first note would leave another note the second time."""
    passes = ((Fraction(8), Fraction(8)), (Fraction(12), Fraction(12)))
    repeats = (Repeat(Fraction(4), passes),)
    slid, struck = (
        replace(score_from(f"-3:4 {first}:2 -3:2 {first}:2 -3:2"), repeats=repeats)
        for first in ("~-3'", "-3'")
    )
    assert not any_sign(slid)
    assert len(printed(slid)) == slid.bars == 3
    assert len(printed(struck)) == 2


def breathed(score: Score, *places: int, way: AirWay = AirWay.OUT) -> Score:
    """The score with a breath after the notes that end at *places*."""
    marks = (Breathing(Fraction(at), way, Fraction(1, 2)) for at in places)
    return replace(score, breaths=tuple(marks))


def test_a_breath_of_a_later_time_is_marked_every_time() -> None:
    score = score_of("play (-2 -3' -2 -3 | -4:4 |)x4", "tempo 60")
    ends = {each.at + each.rest for each in score.breaths}
    assert ends == {end + 8 * time for end in {end % 8 or 8 for end in ends} for time in range(4)}
    assert len(printed(score)) == 2


@pytest.mark.parametrize(
    ("places", "bars_printed"),
    [((2, 8, 12), 3), ((4,), 2), ((4, 8), 1), ((3, 7), 1), ((3, 8), 2), ((3,), 2), ((12,), 1)],
)
def test_times_that_are_breathed_otherwise_are_written_out(
    places: tuple[int, ...], bars_printed: int
) -> None:
    """A bar played twice; where the second bar is another one, a breath in that is its own."""
    score = score_of("play (-2 -3' 4 -4 |)x2" + " -2:4" * (12 in places))
    plain = replace(score, breaths=())
    assert len(printed(breathed(plain, *places))) == bars_printed + (places == (12,))


def test_a_breath_out_and_one_in_are_not_alike() -> None:
    score = replace(score_of("play (-2 -3' 4 -4 |)x2"), breaths=())
    both = breathed(score, 3).breaths + breathed(score, 7, way=AirWay.IN).breaths
    assert len(printed(replace(score, breaths=both))) == 2
    assert len(printed(breathed(score, 3, 7, way=AirWay.IN))) == 1


@pytest.mark.parametrize(
    ("places", "endings"),
    [((), [(), (1, 2), (3,)]), ((10, 22), [(), (1, 2), (3,)]), ((6, 14), [(), (1, 2), (3,)]),
     ((6,), [(), (1,), (2,), (3,)])],
)  # fmt: skip
def test_endings_that_are_breathed_otherwise_are_two(
    places: tuple[int, ...], endings: list[tuple[int, ...]]
) -> None:
    """Bars of the first time, then an ending for the first two times, then one for the third."""
    score = score_of("play (-2 -3' 4:2 |) 1st (-4:4 |) 2nd (-4:4 |) 3rd (-1:4 |)")
    marked = breathed(replace(score, breaths=()), *places)
    written_out = places == (10, 22)
    assert [bar.ending for bar in printed(marked)] == ([()] * 6 if written_out else endings)


@pytest.mark.parametrize(("place", "bars_printed"), [(0, 2), (4, 4), (8, 4), (12, 4), (16, 2)])
def test_a_repeat_holds_no_name_of_a_section(place: int, bars_printed: int) -> None:
    """A name over a bar that stands for two would be heard once."""
    score = score_of("play (-2:4 | -3:4 |)x2")
    named = replace(score, sections=((Fraction(place), printable("Bridge")),))
    assert len(printed(named)) == bars_printed


notes = st.sampled_from(["-2", "-3'", "4", "-4:2", "-2:1/2", "r", "-3:3"])
group = st.tuples(st.lists(notes, min_size=1, max_size=6), st.integers(2, 4)).map(
    lambda made: f"({' '.join(made[0])})x{made[1]}"
)


@given(st.lists(notes | group, min_size=1, max_size=6))
def test_whatever_is_repeated_plays_as_it_is_written(items: list[str]) -> None:
    if set(items) == {"r"}:
        items = [*items, "-2"]
    score = score_of(f"play {' '.join(items)}")
    tied = [each for bar in printed(score) for each in bar.written if each.tied_on]
    if not tied:  # music21 would play the parts of a held note one by one
        assert carried_out(score) == meant(score)


def test_every_shipped_drill_prints_what_it_plays() -> None:
    folded = 0
    for shelved in shipped():
        score = shelved.score
        folded += any_sign(score)
        if not any(each.tied_on for bar in printed(score) for each in bar.written):
            assert carried_out(score) == meant(score), score.title
    assert folded > 1
