"""What one ear can judge in music of several holes is judged; what it cannot is said to be so."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

import jsonschema
import numpy as np
import pytest

from hearing.conditions import in_condition
from hearing.evaluation import taken
from hearing.held_together import TONGUE_BLOCKS, TONGUE_LIFTS, in_time, score_of_text
from hearing.playing import Played
from hearing.sounding import Tone, sound
from reedmill.base.errors import InputError
from reedmill.cli.heard import cautions, others
from reedmill.ear import TAKE_SCHEMA, HeardNote, HeardTake, Take, Verdict, hear, take_data
from reedmill.ear.leaving_footprints import footprints_of
from reedmill.ear.take import RATE
from reedmill.expand.breath import without_breaths
from reedmill.practice.practice import Recording
from reedmill.record.kept_take import KeptTake
from reedmill.score.score import Score
from reedmill.sound.reed.voice import guide
from reedmill.sound.signal.clock import sample_count

SCORE = score_of_text(TONGUE_BLOCKS)
SINGLE = [number for number, note in enumerate(SCORE.notes) if not note.beside]
SEVERAL = [number for number, note in enumerate(SCORE.notes) if note.beside]
TONE = Tone((1.0, 0.6, 0.5, 0.3, 0.2, 0.1))


def take_of(played: Sequence[Played], score: Score = SCORE) -> Take:
    rng = np.random.default_rng(5)
    tones = sound(played, TONE, max(each.end_s for each in played) + 0.8, rng)
    return taken(*in_condition("clean", tones, score, list(played), rng))


def heard_of(played: Sequence[Played], score: Score = SCORE) -> HeardTake:
    return hear(take_of(played, score), score)


def verdicts(heard: HeardTake, numbers: Sequence[int]) -> list[Verdict]:
    return [note.verdict for note in heard.notes if note.index in numbers]


@pytest.fixture(scope="module")
def faultless() -> HeardTake:
    return heard_of(in_time(SCORE))


def by_number(heard: HeardTake) -> dict[int, HeardNote]:
    return {note.index: note for note in heard.notes}


def test_the_drill_has_all_that_is_asked_of_it() -> None:
    words = {word.rstrip("0123456789") for note in SCORE.notes for word in note.style.words}
    assert words == {"slap", "shake", "scoop", "fall", "pull", "vibrato"}
    assert any(note.slide_beats for note in SCORE.notes)
    assert any(note.reed.quarter for note in SCORE.notes)
    assert [SCORE.notes[number].tab for number in SEVERAL] == [
        "-1&4", "-2&3", "-4&5", "-1&2&3", "2&3&4",
    ]  # fmt: skip


def test_single_notes_among_chords_are_in_their_place(faultless: HeardTake) -> None:
    assert [note.index for note in faultless.notes] == list(range(len(SCORE.notes)))
    assert verdicts(faultless, SINGLE) == [Verdict.ON] * len(SINGLE)
    assert faultless.extra == ()


def test_several_holes_are_not_judged_and_nothing_of_them_is_guessed(faultless: HeardTake) -> None:
    for number in SEVERAL:
        note = by_number(faultless)[number]
        assert note.verdict is Verdict.NOT_JUDGED
        assert (note.hz, note.cents, note.start_s, note.heard_as) == (None, None, None, None)
        assert note.tab == SCORE.notes[number].tab


@pytest.mark.parametrize("out", [-32.0, 18.0])
def test_a_bend_beside_chords_is_told_how_far_out_it_is(out: float) -> None:
    bent = [number for number in SINGLE if SCORE.notes[number].reed.kind.value == "bend"]
    heard = heard_of(in_time(SCORE, lambda number: out if number in bent else 0.0))
    for number, note in by_number(heard).items():
        if number in bent:
            assert note.cents == pytest.approx(out, abs=6), note
        elif number in SINGLE:
            assert note.verdict is Verdict.ON, note
        else:
            assert note.verdict is Verdict.NOT_JUDGED


def test_a_scoop_a_fall_and_a_vibrato_are_judged_by_the_middle_of_their_note() -> None:
    take = heard_of(in_time(SCORE, lambda number: 15.0 * (number % 2)))
    heard = by_number(take)
    shaped = [number for number in SINGLE if SCORE.notes[number].style.marks]
    assert len(shaped) == 5
    for number in shaped:
        # a vibrato of the tests comes in slowly, so that its middle may be a cent or two off
        cents = (heard[number].cents or 0.0) + take.harp_cents
        assert cents == pytest.approx(15.0 * (number % 2), abs=4)


@pytest.mark.parametrize("pace", [0.85, 1.3])
def test_a_slow_slide_is_heard_with_its_length_at_any_pace(pace: float) -> None:
    [number] = [n for n, note in enumerate(SCORE.notes) if note.slide_beats is not None]
    note = by_number(heard_of(in_time(SCORE, pace=pace)))[number]
    assert note.verdict is Verdict.ON
    written_s = pace * 2 * 60 / 84  # two beats
    assert note.slide_s == pytest.approx(written_s, rel=0.03)
    assert note.found_after_s == pytest.approx(written_s, rel=0.06)


def test_a_quick_slide_where_a_slow_one_is_written_is_told_by_its_length() -> None:
    played = [
        replace(each, moving_s=0.1) if SCORE.notes[each.index or 0].slide_beats else each
        for each in in_time(SCORE)
    ]
    [number] = [n for n, note in enumerate(SCORE.notes) if note.slide_beats is not None]
    note = by_number(heard_of(played))[number]
    assert note.verdict is Verdict.ON
    assert note.found_after_s is not None
    assert note.found_after_s < 0.3


def test_a_single_note_left_out_beside_a_chord_is_missed_and_the_chords_are_not() -> None:
    without = SINGLE[1]
    heard = heard_of([each for each in in_time(SCORE) if each.index != without])
    assert by_number(heard)[without].verdict is Verdict.MISSED
    assert verdicts(heard, SEVERAL) == [Verdict.NOT_JUDGED] * len(SEVERAL)
    others_of = [number for number in SINGLE if number != without]
    assert verdicts(heard, others_of) == [Verdict.ON] * len(others_of)


def test_chords_left_out_change_no_verdict() -> None:
    heard = heard_of([each for each in in_time(SCORE) if each.index not in SEVERAL])
    assert verdicts(heard, SINGLE) == [Verdict.ON] * len(SINGLE)
    assert verdicts(heard, SEVERAL) == [Verdict.NOT_JUDGED] * len(SEVERAL)


def test_a_drill_with_chords_played_twice_is_two_passes() -> None:
    once = in_time(SCORE)
    again = in_time(SCORE, begin_s=max(each.end_s for each in once) + 1.2)
    heard = heard_of([*once, *again])
    assert [len(each.notes) for each in heard.passes] == [len(SCORE.notes)] * 2
    assert verdicts(heard, SINGLE) == [Verdict.ON] * 2 * len(SINGLE)
    assert heard.extra == ()


def test_a_note_after_chords_is_come_to_as_from_a_start(faultless: HeardTake) -> None:
    for number, note in by_number(faultless).items():
        before = SCORE.notes[number - 1] if number else None
        alone = before is not None and not before.beside and number in SINGLE
        assert (note.before is not None) == alone


def test_chords_are_no_noise_and_no_fault_in_what_is_said(faultless: HeardTake) -> None:
    assert cautions(faultless) == []
    said = others(faultless)
    assert said[0].startswith("Several holes at once, which are not judged: -1&4 1 time")
    # two beats at 84
    assert re.fullmatch(r"Slow slides: -3~-3'' 1\.[345] s for 1\.4 s\.", said[1])
    assert len(said) == 2
    assert faultless.advice == (
        f"{len(SINGLE)} of {len(SINGLE)} notes were in their place: try it a little faster.",
    )


def test_the_sheet_says_which_notes_are_not_judged_and_marks_none_of_them(
    faultless: HeardTake,
) -> None:
    prints = footprints_of(faultless)
    assert {each.index for each in prints.tries} == set(SINGLE)
    assert prints.advice[-1] == (
        "Several holes at once are not judged: -1&4, -2&3, -4&5, -1&2&3, 2&3&4."
    )


def test_a_record_of_such_a_take_holds_to_its_schema_and_counts_single_notes_alone(
    faultless: HeardTake,
) -> None:
    data = take_data(faultless)
    jsonschema.validate(data, TAKE_SCHEMA)
    rows = data["passes"][0]["notes"]
    assert [row["tab"] for row in rows if row["verdict"] == "not-judged"] == [
        SCORE.notes[number].tab for number in SEVERAL
    ]
    assert [row["tab"] for row in rows if "slide_s" in row] == ["-3''"]
    kept = KeptTake(data)
    assert [each.tab for each in kept.tries] == [SCORE.notes[number].tab for number in SINGLE]


def test_a_book_refuses_several_holes_with_a_verdict(faultless: HeardTake) -> None:
    data = take_data(faultless)
    data["passes"][0]["notes"][0]["verdict"] = "on"
    with pytest.raises(InputError, match='a note of it is "-1&4", which is not tab'):
        KeptTake(data)


def test_a_drill_of_chords_alone_is_refused_before_it_is_heard() -> None:
    chords = score_of_text('drill "Chords"\n  play -1&4 -2&3 3&4\n')
    with pytest.raises(InputError, match='every note of "Chords" is of several holes at once'):
        hear(take_of(in_time(chords), chords), chords)


@pytest.mark.parametrize("tempo", [50, 66, 100])
def test_a_slow_slide_is_heard_however_much_of_its_breath_it_takes(tempo: int) -> None:
    """In the reed voice: there may be no place on the way where the pitch keeps still."""
    for ends in ("-3 -3''", "-2 -2''", "-3 -3'''", "-3'' -3", "10 10''"):
        here, there = ends.split()
        for beats in ("1/2~:1/2", "2~:1", "2~:3"):
            before, slide = beats.split("~:")
            music = f"{here}:{before}~:{slide} {there}:{Fraction(slide) + 1} r:2 -1:2 r:2 -1:2"
            score = without_breaths(
                score_of_text(f'drill "Slow"\n  tempo {tempo}\n  play {music}\n')
            )
            heard = hear(voiced(score), score)
            assert [note.verdict for note in heard.notes] == [Verdict.ON] * 4, music


def voiced(score: Score) -> Take:
    """A take of *score* in the reed voice."""
    plan = Recording().plan(score)
    sound = guide(plan, RATE)(0, sample_count(plan, RATE))
    return Take((sound * 16_000).astype(np.int16))


LIFTED = score_of_text(TONGUE_LIFTS)


@pytest.mark.parametrize("out", [0.0, 18.0, -32.0])
def test_what_a_chord_leaves_alone_is_judged_by_its_pitch_and_not_by_its_moment(out: float) -> None:
    """It has no attack of its own, so neither when it came nor how soon it stood is known."""
    left = [number for number, note in enumerate(LIFTED.notes) if LIFTED.held_over(note)]
    alone = [number for number in left if not LIFTED.notes[number].beside]
    assert [LIFTED.notes[number].tab for number in alone] == ["-4", "-4"]
    heard = by_number(heard_of(in_time(LIFTED, lambda n: out if n in alone else 0.0), LIFTED))
    for number, note in heard.items():
        if LIFTED.notes[number].beside:
            assert note.verdict is Verdict.NOT_JUDGED
        elif number in alone:
            assert note.cents == pytest.approx(out, abs=6), note
            assert (note.found_after_s, note.early_ms) == (None, None)
        else:
            assert note.verdict is Verdict.ON, note
            assert note.found_after_s is not None
