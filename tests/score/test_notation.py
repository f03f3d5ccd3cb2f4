"""How a score is cut into written values, so that a reader sees where the beats are.

Which places of a bar are strong, and whether one sign can show a length, is read from music21.
The rhythms of the table are written as handbooks of notation teach it (from memory): the middle
of 4/4 stays visible, every beat of 3/4 does, a long note in a compound meter is made of dotted
values; a dotted beat with its half after it, a half between two beats and a beat between two
halves of one half bar are read at once and stay whole.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import music21
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from reedmill.base.errors import PatternError
from reedmill.score.notation import NotatedValue, bars, check_drawn, staff_octave, staff_step
from reedmill.score.score import Meter, Score
from tunes import score_from

METERS = [(2, 4), (3, 4), (4, 4), (5, 4), (6, 4), (2, 2), (3, 8), (6, 8), (9, 8), (12, 8)]

# The meter, the lengths of the notes in beats, and the lengths they are written with: tied
# values are joined by +.
HANDBOOK = [
    ((4, 4), "3/2 1/2 2", "3/2 1/2 2"),
    ((4, 4), "1/2 1 1/2 2", "1/2 1 1/2 2"),
    ((4, 4), "2 1/2 1 1/2", "2 1/2 1 1/2"),
    ((4, 4), "1 2 1", "1 2 1"),
    ((4, 4), "1 1/2 1 3/2", "1 1/2 1/2+1/2 1/2+1"),
    ((4, 4), "3/2 1 3/2", "3/2 1/2+1/2 1/2+1"),
    ((4, 4), "1 3/2 3/2", "1 1+1/2 1/2+1"),
    ((4, 4), "7/2 1/2", "2+3/2 1/2"),
    ((4, 4), "1/2 3/2 2", "1/2 1/2+1 2"),
    ((4, 4), "3/4 1/4 3", "3/4 1/4 3"),
    ((4, 4), "3 4 1", "3 1+3 1"),
    ((3, 4), "3", "3"),
    ((3, 4), "1 2", "1 2"),
    ((3, 4), "3/2 1/2 1", "3/2 1/2 1"),
    ((3, 4), "1 3/2 1/2", "1 3/2 1/2"),
    ((3, 4), "5/2 1/2", "2+1/2 1/2"),
    ((3, 4), "1/2 1 1 1/2", "1/2 1/2+1/2 1/2+1/2 1/2"),
    ((3, 4), "1/2 2 1/2", "1/2 1/2+3/2 1/2"),
    ((2, 4), "3/2 1/2", "3/2 1/2"),
    ((2, 4), "1/2 3/2", "1/2 1/2+1"),
    ((2, 2), "3/2 1/2", "3/2 1/2"),
    ((5, 4), "3 2", "3 2"),
    ((6, 4), "3/2 1/2 4", "3/2 1/2 4"),
    ((3, 8), "3/2 3/2", "3/2 1/2+1"),
    ((6, 8), "6", "6"),
    ((6, 8), "2 1 1 2", "2 1 1 2"),
    ((6, 8), "3 3", "3 3"),
    ((6, 8), "2 2 2", "2 1+1 2"),
    ((6, 8), "1 4 1", "1 2+2 1"),
    ((6, 8), "4 2", "3+1 2"),
    ((6, 8), "3/2 1/2 1 3", "3/2 1/2 1 3"),
    ((9, 8), "9", "6+3"),
    ((9, 8), "3 6", "3 6"),
    ((9, 8), "6 3", "6 3"),
    ((12, 8), "12", "12"),
    ((12, 8), "3 6 3", "3 6 3"),
    ((12, 8), "9 3", "6+3 3"),
    ((12, 8), "3 9", "3 6+3"),
    ((12, 8), "2 10", "2 1+6+3"),
]  # fmt: skip


def played(lengths: str | list[Fraction], meter: tuple[int, int]) -> Score:
    """A score of these lengths, of two reeds in turn."""
    words = lengths.split() if isinstance(lengths, str) else lengths
    reeds = ["-2", "-3"]
    music = " ".join(f"{reeds[at % 2]}:{length}" for at, length in enumerate(words))
    return score_from(music, meter=meter)


def values(score: Score) -> str:
    text = ""
    for bar in bars(score):
        for each in bar:
            if each.note is not None:
                text += f"{'+' if each.tied_on else ' '}{each.length}"
    return text.strip()


@pytest.mark.parametrize(("meter", "lengths", "written"), HANDBOOK, ids=str)
def test_a_rhythm_is_written_as_handbooks_teach_it(
    meter: tuple[int, int], lengths: str, written: str
) -> None:
    assert values(played(lengths, meter)) == written


# --- laws ------------------------------------------------------------------------------------

halves = st.integers(1, 9).map(lambda n: Fraction(n, 2))
rhythms = st.lists(halves, min_size=1, max_size=12)
meters = st.sampled_from(METERS)


def weight(place: Fraction, meter: tuple[int, int]) -> float:
    """How strong music21 finds a place of the bar: 1 for its first beat."""
    signature = music21.meter.TimeSignature("/".join(map(str, meter)))
    return float(signature.getAccentWeight(place * Fraction(4, meter[1]), forcePositionMatch=True))


def passed_over(written: NotatedValue, meter: tuple[int, int]) -> list[Fraction]:
    """The beats strictly inside a written value, from the start of its bar."""
    begin = written.start % meter[0]
    inside = range(int(begin) + 1, int(begin + written.length) + 1)
    return [Fraction(beat) for beat in inside if begin < beat < begin + written.length]


@given(rhythms, st.sampled_from([(2, 4), (3, 4), (4, 4), (6, 8), (9, 8)]))
def test_a_note_that_begins_off_the_beat_hides_no_strong_place(
    lengths: list[Fraction], meter: tuple[int, int]
) -> None:
    """Half the weight of a bar's first beat: the middle of 4/4 and 6/8, each beat of 3/4."""
    for bar in bars(played(lengths, meter)):
        for each in bar:
            if each.start.denominator > 1:
                assert [p for p in passed_over(each, meter) if weight(p, meter) >= 0.5] == []


@given(rhythms, meters)
@example([Fraction(9)], (9, 8))
@example([Fraction(5)], (5, 4))
def test_written_values_fill_every_bar_and_each_is_one_sign(
    lengths: list[Fraction], meter: tuple[int, int]
) -> None:
    """One sign: music21 shows the length with one type and at most one dot."""
    score = played(lengths, meter)
    assert len(bars(score)) * meter[0] == score.length
    for number, bar in enumerate(bars(score)):
        assert bar[0].start == number * meter[0]
        assert bar[-1].start + bar[-1].length == (number + 1) * meter[0]
        assert all(one.start + one.length == two.start for one, two in pairwise(bar))
        for each in bar:
            shown = music21.duration.Duration(each.value * Fraction(4, meter[1]))
            assert (shown.type != "complex", shown.dots <= 1) == (True, True), each


@given(rhythms, meters)
def test_ties_join_the_parts_of_a_note_and_nothing_else(
    lengths: list[Fraction], meter: tuple[int, int]
) -> None:
    flat = [each for bar in bars(played(lengths, meter)) for each in bar if each.note]
    notes: list[Fraction] = []
    for each in flat:
        notes = [*notes[:-1], notes[-1] + each.length] if each.tied_on else [*notes, each.length]
    assert notes == lengths
    assert all(one.tied_over == two.tied_on for one, two in pairwise(flat))
    assert not flat[0].tied_on
    assert not flat[-1].tied_over


@given(rhythms, meters)
def test_no_two_signs_stand_where_one_that_hides_nothing_would_do(
    lengths: list[Fraction], meter: tuple[int, int]
) -> None:
    """Two tied values inside one beat, or inside one group of three from its start, are one."""
    group = Meter(*meter).pulse
    for bar in bars(played(lengths, meter)):
        for one, two in pairwise(bar):
            whole = one.length + two.length
            plain = whole.numerator in (1, 2, 3, 4)
            same = one.start // group == (two.start + two.length - Fraction(1, 8)) // group
            if one.tied_over and plain and same:
                assert one.start % group != 0, (one, two)


# --- triplets --------------------------------------------------------------------------------


def triplets(music: str, meter: tuple[int, int] = (4, 4)) -> list[tuple[float, float]]:
    """The beat on which its triplet starts and the value of each note in one."""
    found = [each for bar in bars(score_from(music, meter=meter)) for each in bar]
    return [(float(each.tuplet), float(each.value)) for each in found if each.tuplet is not None]


def test_thirds_of_a_beat_are_halves_of_it_in_a_triplet() -> None:
    assert triplets("-2 -2:1/3 -3:1/3 -4:1/3 4:2") == [(1, 0.5), (1, 0.5), (1, 0.5)]


def test_thirds_of_two_beats_are_one_triplet_where_two_beats_belong_together() -> None:
    assert triplets("-2:2/3 -3:2/3 -4:2/3 4:2") == [(0, 1), (0, 1), (0, 1)]
    assert triplets("4:2 -2:2/3 -3:2/3 -4:2/3") == [(2, 1), (2, 1), (2, 1)]


def test_over_the_middle_of_the_bar_there_are_two_triplets() -> None:
    """Three notes in the second and third beats of 4/4: the middle stays visible, by a tie."""
    found = triplets("4 -2:2/3 -3:2/3 -4:2/3 4")
    assert found == [(1, 1), (1, 0.5), (2, 0.5), (2, 1)]


def test_a_triplet_does_not_reach_over_the_bar_line() -> None:
    found = triplets("4:2 -2:2/3 -3:2/3 -4:2/3 4:2", (3, 4))
    assert found == [(2, 1), (2, 0.5), (3, 0.5), (3, 1)]


def test_a_note_into_a_triplet_is_tied_at_its_beginning() -> None:
    score = score_from("-2:7/3 -3:1/3 -4:1/3 4")
    assert values(score) == "2+1/3 1/3 1/3 1"
    assert values(score_from("4:2 -2:5/3 -3:1/3")) == "2 1+2/3 1/3"


def test_a_note_out_of_a_triplet_is_tied_at_its_end() -> None:
    assert values(score_from("-2:2/3 -3:2/3 -4:5/3 4")) == "2/3 2/3 2/3+1 1"


# --- the staff, and what cannot be written ---------------------------------------------------


@pytest.mark.parametrize("harp", ["C", "F#", "Ab"])
@pytest.mark.parametrize("octave", [-1, 0, 1])
def test_a_step_of_the_staff_is_a_letter(harp: str, octave: int) -> None:
    """music21 counts letters from C0, which is 1."""
    for note in score_from("1 -1 -2 -3' 6 -6 10", harp=harp).notes:
        name = note.pitch.name.replace("b", "-")
        step = music21.pitch.Pitch(name).diatonicNoteNum - 1
        assert staff_step(note, octave) == step - 7 * octave


@pytest.mark.parametrize(
    ("harp", "music", "octave"),
    [
        ("C", "4 5 6", 0),
        ("G", "1", -1),  # G3 is key 55
        ("A", "1", 0),  # A3 is key 57, the lowest mean of a staff that is not moved
        ("Ab", "1 1 1 -1", -1),
        ("C", "9 10", 1),  # G6 and C7
        ("G", "8", 0),  # B5 is key 83, the highest mean
        ("C", "8 -9", 1),
        ("C", "r", 0),
    ],
)
def test_a_staff_moves_an_octave_for_music_far_above_or_below_it(
    harp: str, music: str, octave: int
) -> None:
    """The mean of the key numbers decides: under A3 and over B5 lie four ledger lines and more."""
    score = score_from(music, harp=harp)
    keys = [music21.pitch.Pitch(n.pitch.name.replace("b", "-")).midi for n in score.notes] or [60]
    mean = sum(keys) / len(keys)
    assert (mean > 83) - (mean < 57) == octave
    assert staff_octave(score) == octave


def test_a_128th_can_be_drawn_and_a_256th_cannot() -> None:
    check_drawn(score_from("-2:1/32 -3:31/32"))
    with pytest.raises(PatternError, match=r"1/64 beats is too short.*256th.*128ths"):
        check_drawn(score_from("-2:1/64 -3:63/64"))


def test_a_dot_makes_no_value_shorter() -> None:
    """A dotted 128th has the flags of a 128th, a dotted 256th one more."""
    check_drawn(score_from("-2:3/64 -3:3/64 -4:1/32 4:7/8"))
    with pytest.raises(PatternError, match=r"3/128 beats is too short.*256th"):
        check_drawn(score_from("-2:3/128 -3:1/128 -4:31/32"))


def test_the_rest_that_is_too_short_is_told_at_the_note_before_it() -> None:
    with pytest.raises(PatternError, match="too short to be drawn") as refused:
        check_drawn(score_from("-2:63/64 r:1/64 -3"))
    assert refused.value.span is not None
    assert refused.value.span.column == 1


@pytest.mark.parametrize("length", ["1/5", "1/7", "1/9", "3/5"])
def test_fifths_and_ninths_of_a_beat_are_refused_at_their_note(length: str) -> None:
    with pytest.raises(PatternError, match=f"-3 at beat 1 lasts {length}") as refused:
        bars(score_from(f"-2 -3:{length}"))
    assert refused.value.span is not None
    assert refused.value.span.column == 2


@pytest.mark.parametrize("length", ["1/3", "1/6", "1/12", "1/2", "5/8", "2/3"])
def test_halves_of_halves_and_their_thirds_are_written(length: str) -> None:
    [bar] = bars(score_from(f"-2:{length} -3"))
    assert sum(each.length for each in bar) == 4
