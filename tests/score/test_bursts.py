"""The holes that sound from moment to moment: chords of slaps and pulls, and shakes.

How long a burst lasts and which holes are in it is common practice, no published source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

import oracles
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.score.bursts import HolesSpan, burst_chord, holes_in_time
from reedmill.score.score import Score
from reedmill.theory.positions import Position


def score_of(music: str, tempo: int = 60, feel: str = "straight") -> Score:
    text = f'drill "Bursts"\n  tempo {tempo}\n  feel {feel}\n  play {music}'
    return expand(parse(text)[0], Harp("C"), Position(2))


def spans(score: Score) -> tuple[HolesSpan, ...]:
    return holes_in_time(score, score.notes[0])


def tabs(span: HolesSpan) -> list[str]:
    return [each.reed.tab for each in span.sounded]


@pytest.mark.parametrize(
    ("tab", "chord"),
    [
        ("-1", "-1 -2 -3"), ("2", "1 2"), ("-3", "-1 -2 -3"), ("4", "2 3 4"), ("9", "7 8 9"),
        ("-3''", "-1 -2 -3"), ("6^", "4 5 6"), ("-1&4", "-1 -2 -3 -4"), ("-2&5", "-2 -3 -4 -5"),
    ],
)  # fmt: skip
def test_a_burst_has_three_neighbours_or_what_the_mouth_covers(tab: str, chord: str) -> None:
    score = score_of(f"slap {tab}")
    found = burst_chord(score, score.notes[0])
    assert [each.reed.tab for each in found] == chord.split()
    due = [oracles.tempered_hz(oracles.sounding("C", each.reed.tab)) for each in found]
    assert [each.hz for each in found] == pytest.approx(due)


@pytest.mark.parametrize(
    ("plan", "tab", "chord"),
    [
        ("tongue left", "-4", "-2 -3 -4"), ("tongue right", "-4", "-4 -5 -6"),
        ("tongue right", "9", "9 10"), ("tongue right", "10", "8 9 10"),
        ("tongue right", "-1", "-1 -2 -3"), ("tongue left", "2", "1 2"),
    ],
)  # fmt: skip
def test_the_chord_of_a_slap_is_where_the_tongue_is(plan: str, tab: str, chord: str) -> None:
    text = f'drill "Bursts"\n  embouchure {plan}\n  play slap {tab}:2'
    score = expand(parse(text)[0], Harp("C"), Position(2))
    assert [each.reed.tab for each in burst_chord(score, score.notes[0])] == chord.split()


def test_a_slap_and_a_pull_last_sixty_milliseconds() -> None:
    score = score_of("slap pull -4:2")
    first, middle, last = spans(score)
    burst = Fraction(6, 100)
    assert [first.start_s, first.end_s] == [Fraction(0), burst]
    assert [last.start_s, last.end_s] == [2 - burst, Fraction(2)]
    assert [tabs(each) for each in (first, middle, last)] == [
        ["-2", "-3", "-4"], ["-4"], ["-2", "-3", "-4"],
    ]  # fmt: skip


def test_a_short_note_keeps_half_of_itself() -> None:
    first, middle, last = spans(score_of("slap pull -4:1/8"))
    assert (first.end_s, last.start_s) == (Fraction(1, 32), Fraction(3, 32))
    assert middle.end_s - middle.start_s == Fraction(1, 16)


@pytest.mark.parametrize(("a_beat", "tempo", "length"), [(5, 72, 2), (3, 90, 4), (12, 300, 1)])
def test_a_shake_has_so_many_turns_a_beat_the_lower_hole_first(
    a_beat: int, tempo: int, length: int
) -> None:
    turns = spans(score_of(f"shake{a_beat} -4&5:{length}", tempo))
    assert len(turns) == 2 * a_beat * length
    assert [tabs(each) for each in turns[:3]] == [["-4"], ["-5"], ["-4"]]
    assert {each.end_s - each.start_s for each in turns} == {Fraction(60, tempo * 2 * a_beat)}


@pytest.mark.parametrize("music", ["shake5 -4&5:2/3", "shake4 -4&5:5/6", "shake3 -4&5:1/8"])
def test_what_is_left_of_a_shake_is_never_a_click(music: str) -> None:
    """A last turn is at least half as long as the others, and the note is filled."""
    turns = spans(score_of(music))
    lengths = [each.end_s - each.start_s for each in turns]
    assert all(lasting >= lengths[0] / 2 for lasting in lengths)
    assert all(before.end_s == after.start_s for before, after in pairwise(turns))
    assert turns[-1].end_s == Fraction(music.rpartition(":")[2])


def test_a_shuffle_moves_the_end_of_a_note_and_its_burst() -> None:
    """The first half of a beat lasts two thirds of it."""
    *_, last = spans(score_of("pull -4:1/2 -3:1/2", feel="shuffle"))
    assert last.end_s == Fraction(2, 3)
    assert last.start_s == Fraction(2, 3) - Fraction(6, 100)


def test_any_other_note_sounds_all_its_holes_from_start_to_end() -> None:
    [span] = spans(score_of("mute vibrato3 -2&3:2"))
    assert [span.start_s, span.end_s] == [Fraction(0), Fraction(2)]
    assert tabs(span) == ["-2", "-3"]
