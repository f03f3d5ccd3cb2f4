"""What a heard take leaves on a sheet is where each note truly was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hearing.conditions import in_condition
from hearing.evaluation import score_of, taken
from hearing.playing import Played, cents
from hearing.sounding import sound
from hearing.takes import TONE, played
from reedmill.ear import HeardTake, hear
from reedmill.ear.leaving_footprints import footprints_of
from reedmill.harp import Reed
from reedmill.score.footprints import Footprints
from reedmill.score.score import Score
from reedmill.score.verdicts import Verdict

SCORE = score_of("Home from every rung", "C")


def heard(notes: list[Played], score: Score = SCORE) -> HeardTake:
    rng = np.random.default_rng(5)
    tones = sound(notes, TONE, notes[-1].end_s + 0.8, rng)
    return hear(taken(*in_condition("clean", tones, score, notes, rng)), score)


def left_by(notes: list[Played]) -> Footprints:
    return footprints_of(heard(notes))


def sharp(index: int) -> float:
    return 36.0 if index in (3, 9) else 0.0


def test_each_try_is_as_far_out_as_it_was_played_and_where_it_was_played() -> None:
    notes = played(SCORE, sharp)
    found = left_by(notes)
    assert [each.index for each in found.tries] == list(range(13))
    for note, each in zip(notes, found.tries, strict=True):
        assert each.cents == pytest.approx(sharp(each.index), abs=2)
        assert each.start_s == pytest.approx(note.start_s, abs=0.03)
        assert each.end_s == pytest.approx(note.end_s, abs=0.08)


def test_a_note_left_out_is_shown_where_it_was_due() -> None:
    notes = played(SCORE)
    [third] = [each for each in left_by([*notes[:3], *notes[4:]]).tries if each.index == 3]
    assert third.verdict is Verdict.MISSED
    assert third.cents is None
    assert third.start_s == pytest.approx(notes[3].start_s, abs=0.08)
    assert third.end_s == pytest.approx(notes[4].start_s, abs=0.15)


def test_another_note_is_shown_at_its_own_pitch() -> None:
    notes = played(SCORE)
    notes[3] = replace(notes[3], hz=440.0, from_hz=440.0)
    third = left_by(notes).tries[3]
    assert third.verdict is Verdict.ANOTHER_NOTE
    assert third.heard_as == Reed.parse("-3''")
    assert third.cents == pytest.approx(cents(440.0, SCORE.notes[3].hz), abs=2)


def test_the_trace_lies_on_the_pitch_that_was_played_less_what_the_harp_is_sharp() -> None:
    notes = played(SCORE, lambda _: 12.0)
    found = left_by(notes)
    assert found.harp_cents == pytest.approx(12, abs=1.5)
    assert len(found.traces) == 13
    for note, trace in zip(notes, found.traces, strict=True):
        due = 1200 * np.log2(SCORE.notes[note.index or 0].hz / 440)
        assert np.median(trace.cents) == pytest.approx(due, abs=3)
        assert trace.start_s == pytest.approx(note.start_s, abs=0.05)
        lasts = trace.step_s * len(trace.cents)
        assert lasts == pytest.approx(note.end_s - note.start_s, abs=0.1)


def test_a_tone_put_in_is_an_aside_with_its_reed() -> None:
    notes = played(SCORE)
    put_in = replace(notes[6], index=None, hz=587.33, from_hz=587.33,
                     end_s=notes[6].start_s + 0.4)  # fmt: skip
    later = [replace(each, start_s=each.start_s + 0.6, end_s=each.end_s + 0.6)
             for each in notes[6:]]  # fmt: skip
    [aside] = left_by([*notes[:6], put_in, *later]).asides
    assert aside.nearest == Reed.parse("-4")  # D5, 587.33 Hz
    assert aside.start_s == pytest.approx(put_in.start_s, abs=0.03)


def test_the_name_of_a_take_is_its_files_alone_and_fit_to_print() -> None:
    found = footprints_of(replace(heard(played(SCORE)), name="/home/ada/takes/mon\x1b[31mday.m4a"))
    assert "/home" not in found.take
    assert "\x1b" not in found.take
