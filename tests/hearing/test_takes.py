"""A take of known truth is heard as what it was: in noise, in a room, beside a drone, by phone."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import jsonschema
import numpy as np
import pytest

from hearing.conditions import (
    CONDITIONS,
    band,
    click,
    coughs,
    drone,
    encoded,
    in_condition,
    speech_like,
)
from hearing.evaluation import Outcome, evaluate, score_of, taken
from hearing.playing import FAULTLESS, Habits, Played, Shape, lifted, play
from hearing.sounding import RATE, Samples, Tone, drawn_tone, sound
from reedmill.base.errors import InputError
from reedmill.ear import TAKE_SCHEMA, HeardTake, Take, Verdict, hear, take_data
from reedmill.score.score import AirWay, Breathing, Role, Score

# One drill and harp for each condition, half of them with a recorded harmonica; the whole
# evaluation is in tests/benchmarks/takes.py.
SAMPLED: list[tuple[str, str, str, int] | tuple[str, str, str, int, str]] = [
    ("Home from every rung", "low F", "clean", 11),
    ("Straight onto each rung", "G", "pink-20", 12, "font"),
    ("Skip a rung, four rungs", "C", "pink-10", 13),
    ("Home from every rung, hole 2", "F", "room", 14, "font"),
    ("Home from every rung, hole 10 blow", "low F", "drone", 15),
    ("Octave steps", "G", "band", 16, "font"),
    ("In and out on each hole", "C", "click", 17),
    ("Lean on the rung before", "F", "aac", 18, "font"),
    ("Stairs in one breath", "low F", "opus", 19),
    ("Home from every rung", "C", "8kHz", 20, "font"),
]


@pytest.fixture(scope="module")
def sampled() -> Outcome:
    whole = Outcome()
    for case in SAMPLED:
        whole.add(evaluate(*case))
    return whole


def test_the_sample_has_every_condition() -> None:
    assert [case[2] for case in SAMPLED] == list(CONDITIONS)


def test_steady_notes_are_measured_within_a_cent_or_two(sampled: Outcome) -> None:
    off = np.abs(sampled.cents_off)
    assert len(off) > 100
    assert np.median(off) <= 1.5
    assert np.percentile(off, 95) <= 6


def test_a_student_is_told_the_truth_about_his_notes(sampled: Outcome) -> None:
    assert sampled.refused == []
    assert sampled.right_share >= 0.98, sampled.wrong


def test_no_note_is_heard_an_octave_off(sampled: Outcome) -> None:
    assert sampled.octaves == 0


def test_notes_begin_when_they_begin(sampled: Outcome) -> None:
    assert np.percentile(np.abs(sampled.onsets_ms), 95) <= 25
    assert np.mean(sampled.f1) >= 0.98


# --- verdicts -----------------------------------------------------------------------------

SCORE = score_of("Home from every rung", "C")
TONE = Tone((1.0, 0.6, 0.5, 0.3, 0.2, 0.1))


def heard_of(played: list[Played], score: Score = SCORE) -> HeardTake:
    rng = np.random.default_rng(5)
    tones = sound(played, TONE, played[-1].end_s + 0.8, rng)
    return hear(taken(*in_condition("clean", tones, score, played, rng)), score)


def faultless(score: Score = SCORE, **habits: float) -> list[Played]:
    return play(score, replace(FAULTLESS, **habits), np.random.default_rng(3))


def off_by(played: list[Played], how_many: Callable[[int], float]) -> list[Played]:
    """Every note moved from its true place by so many cents."""
    return [
        replace(each, hz=lifted(SCORE.notes[each.index or 0].hz, how_many(each.index or 0)),
                from_hz=lifted(SCORE.notes[each.index or 0].hz, how_many(each.index or 0)),
                shape=Shape.PLAIN, moving_s=0.0)
        for each in played
    ]  # fmt: skip


def is_bent(index: int) -> bool:
    return SCORE.notes[index].reed.bend > 0


@pytest.mark.parametrize(
    ("cents", "verdict"),
    [(4.0, Verdict.ON), (-17.0, Verdict.NEAR), (32.0, Verdict.SHARP), (-32.0, Verdict.FLAT)],
)
def test_bends_are_judged_by_how_far_they_are_from_their_place(
    cents: float, verdict: Verdict
) -> None:
    heard = heard_of(off_by(faultless(), lambda index: cents if is_bent(index) else 0.0))
    bent = [note for note in heard.notes if is_bent(note.index)]
    assert {note.verdict for note in bent} == {verdict}
    assert [note.cents for note in bent] == pytest.approx([cents] * len(bent), abs=2.5)
    assert {note.verdict for note in heard.notes if not is_bent(note.index)} == {Verdict.ON}


def test_a_warm_harp_is_not_thirteen_faults() -> None:
    heard = heard_of(off_by(faultless(), lambda _: 14.0))
    assert heard.harp_cents == pytest.approx(14, abs=1.5)
    assert {note.verdict for note in heard.notes} == {Verdict.ON}


def test_a_bend_is_also_measured_from_the_anchor_just_played() -> None:
    heard = heard_of(off_by(faultless(), lambda index: 20.0 if is_bent(index) else 0.0))
    rungs = [note for note in heard.notes if note.role is Role.RUNG and is_bent(note.index)]
    assert [note.cents_from_anchor for note in rungs] == pytest.approx([20] * len(rungs), abs=3)


def test_a_note_left_out_is_missed_and_one_put_in_is_extra() -> None:
    played = faultless()
    put_in = replace(played[6], index=None, start_s=played[6].start_s, hz=587.33, from_hz=587.33,
                     end_s=played[6].start_s + 0.4)  # fmt: skip
    later = [replace(each, start_s=each.start_s + 0.5, end_s=each.end_s + 0.5)
             for each in played[6:]]  # fmt: skip
    heard = heard_of([*played[:3], *played[4:6], put_in, *later])
    assert [note.index for note in heard.notes if note.verdict is Verdict.MISSED] == [3]
    assert [round(each.hz) for each in heard.extra] == [587]


def test_another_reed_is_named() -> None:
    played = faultless()
    played[3] = replace(played[3], hz=440.0, from_hz=440.0, shape=Shape.PLAIN, moving_s=0)
    [wrong] = [note for note in heard_of(played).notes if note.verdict is Verdict.ANOTHER_NOTE]
    assert wrong.index == 3
    assert wrong.heard_as is not None
    assert wrong.heard_as.tab == "-3''"


def test_several_passes_are_told_apart_and_one_may_break_off() -> None:
    first = faultless()
    later_s = first[-1].end_s + 1.0
    again = [replace(each, start_s=each.start_s + later_s, end_s=each.end_s + later_s)
             for each in first[:8]]  # fmt: skip
    heard = heard_of([*first, *again])
    assert [len(each.notes) for each in heard.passes] == [13, 8]
    assert {note.verdict for note in heard.notes} == {Verdict.ON}


def test_the_students_own_pace_is_no_fault() -> None:
    heard = heard_of(faultless(pace=1.4, wander=0.15))
    assert heard.tempo_heard == pytest.approx(SCORE.tempo_bpm / 1.4, rel=0.1)
    assert {note.verdict for note in heard.notes} == {Verdict.ON}


def test_a_breath_may_be_taken_or_played_through() -> None:
    """The marked note held to its end, left for half a second or for one: all of it is on."""
    score = replace(SCORE, breaths=(Breathing(SCORE.notes[2].end, AirWay.OUT, Fraction(1, 2)),))
    whole = faultless(replace(SCORE, breaths=()))
    for less_s in (0.0, 0.45, 0.6):
        held = whole[2]
        assert held.end_s - held.start_s > less_s + 0.2
        played = [*whole[:2], replace(held, end_s=held.end_s - less_s), *whole[3:]]
        heard = heard_of(played, score)
        assert [note.verdict for note in heard.passes[0].notes] == [Verdict.ON] * len(whole)
        assert heard.extra == ()
        assert max(abs(note.early_ms or 0) for note in heard.passes[0].notes) < 30


def test_advice_names_the_rung_that_is_out_and_which_way() -> None:
    """By 34 cents, of which the ear hears each note to a cent."""
    heard = heard_of(off_by(faultless(), lambda index: 34.0 if is_bent(index) else 0.0))
    assert 1 <= len(heard.advice) <= 3
    assert "Draw 3 bent" in heard.advice[0]
    said = re.search(
        r"(\d+) cents sharp in 2 of 2 tries: you stop too early; go on down", heard.advice[0]
    )
    assert said
    assert int(said[1]) == pytest.approx(34, abs=1)
    flat = heard_of(off_by(faultless(), lambda index: -34.0 if is_bent(index) else 0.0))
    said = re.search(r"(\d+) cents flat in 2 of 2 tries: you go too far down", flat.advice[0])
    assert said
    assert int(said[1]) == pytest.approx(34, abs=1)


def test_a_record_of_a_take_holds_to_its_schema() -> None:
    record = take_data(heard_of(faultless()), recorded="2027-01-31T18:05:00Z")
    jsonschema.validate(record, TAKE_SCHEMA)
    assert len(record["passes"][0]["notes"]) == 13
    assert record["drill"]["title"] == "Home from every rung"


# --- what is not the player ---------------------------------------------------------------

BESIDE: dict[str, Callable[[np.random.Generator], Samples]] = {
    "drone": lambda rng: 0.4 * drone(20, SCORE, rng),
    "band": lambda rng: 0.5 * band(20, SCORE, rng),
    "click": lambda rng: 0.1 * click(20, SCORE, rng),
    "cough": lambda rng: coughs(20, rng),
    "speech": lambda rng: speech_like(20, rng),
}


@pytest.mark.parametrize("what", BESIDE)
@pytest.mark.parametrize("harp", ["C", "low F"])
def test_what_is_not_a_harp_gets_no_verdict(what: str, harp: str) -> None:
    alone = BESIDE[what](np.random.default_rng(8))
    take = taken(encoded(np.clip(alone, -1, 1), "wav", "pcm_s16le", None, RATE), ".wav")
    with pytest.raises(InputError, match=r"clear note|what is played here"):
        hear(take, score_of("Home from every rung", harp))


def test_silence_is_said_to_be_silence() -> None:
    with pytest.raises(InputError, match="only silence"):
        hear(Take.of(np.zeros(160_000), "take.wav"), SCORE)


def test_another_harp_is_named() -> None:
    other = score_of("Home from every rung", "Bb")
    rng = np.random.default_rng(5)
    played = play(other, FAULTLESS, rng)
    tones = sound(played, drawn_tone(rng), played[-1].end_s + 0.5, rng)
    take = taken(*in_condition("clean", tones, other, played, rng))
    with pytest.raises(InputError, match="sounds like a B flat harp"):
        hear(take, SCORE)


def of_harp(harp: str, how: list[Played]) -> Take:
    """A take of *how*, on *harp*."""
    rng = np.random.default_rng(5)
    tones = sound(how, TONE, how[-1].end_s + 0.8, rng)
    score = score_of("Home from every rung", harp)
    return taken(*in_condition("clean", tones, score, how, rng))


@pytest.mark.parametrize(
    ("played_on", "asked_for"),
    [("high G", "C"), ("low D", "C"), ("low F", "F#"), ("C", "high G"), ("F#", "high G")],
)
def test_a_harp_out_of_the_reach_of_the_one_that_was_named_is_named(
    played_on: str, asked_for: str
) -> None:
    how = faultless(score_of("Home from every rung", played_on))
    with pytest.raises(InputError, match=f"it sounds like an? {played_on} harp"):
        hear(of_harp(played_on, how), score_of("Home from every rung", asked_for))


@pytest.mark.parametrize(("played_on", "asked_for"), [("Db", "C"), ("Eb", "D")])
def test_a_student_on_the_harp_a_semitone_up_is_not_taken_for_one_on_a_sharp_harp(
    played_on: str, asked_for: str
) -> None:
    """With bends 50 cents flat, half of what is heard lies nearer to the wrong harp."""
    score = score_of("Home from every rung", played_on)
    how = play(score, Habits(), np.random.default_rng(3))
    with pytest.raises(InputError, match=f"it sounds like an? {played_on[0]} flat harp"):
        hear(of_harp(played_on, how), score_of("Home from every rung", asked_for))


@pytest.mark.parametrize("out", [-44.0, 41.0])
def test_a_harp_far_out_of_tune_is_still_that_harp(out: float) -> None:
    heard = heard_of(off_by(faultless(), lambda _: out))
    assert heard.harp_cents == pytest.approx(out, abs=1.5)
    assert {note.verdict for note in heard.notes} == {Verdict.ON}


def test_another_drill_is_refused() -> None:
    other = score_of("In and out on each hole", "C")
    rng = np.random.default_rng(6)
    played = play(other, Habits(), rng)
    tones = sound(played, drawn_tone(rng), played[-1].end_s + 0.5, rng)
    take = taken(*in_condition("clean", tones, other, played, rng))
    with pytest.raises(InputError, match='not "Home from every rung"'):
        hear(take, SCORE)


def test_a_drone_at_the_anchors_own_pitch_is_not_taken_for_a_missing_anchor() -> None:
    score = replace(SCORE, reference_hz=2 * SCORE.reference_hz)  # its drone is the anchor's G4
    assert score.root_hz == pytest.approx(SCORE.notes[0].hz, rel=1e-3)
    rng = np.random.default_rng(7)
    played = [each for each in faultless() if each.index not in (4, 8)]
    tones = sound(played, TONE, played[-1].end_s + 0.8, rng)
    loud = np.sqrt(np.mean(tones[tones != 0] ** 2))
    tones = tones + loud * drone(len(tones) / RATE + 1, score, rng)[: len(tones)]
    heard = hear(taken(*in_condition("clean", tones, score, played, rng)), SCORE)
    assert [note.index for note in heard.notes if note.verdict is Verdict.MISSED] == [4, 8]
    assert {note.verdict for note in heard.notes} == {Verdict.ON, Verdict.MISSED}
    assert heard.extra == ()
