"""Hearing from end to end: a take and a score in, every note with its verdict out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from reedmill.base.errors import InputError
from reedmill.base.remedies import Remedy
from reedmill.base.text import printable
from reedmill.ear.advice import advise, by_rung
from reedmill.ear.align import (
    SAME_NOTE_CENTS,
    Aligned,
    ExpectedNotes,
    align,
    harp_offset,
    is_judged,
    open_spans,
    paces_of,
    stepped_over,
    with_substitutes,
)
from reedmill.ear.events import DetectedNote, Gate, find_events, gate_of, level_at_rest
from reedmill.ear.harp_tuning import harp_cents
from reedmill.ear.heard_take import HeardTake, SoundFacts
from reedmill.ear.judge import Judge
from reedmill.ear.other_harps import ANY_HARP_HZ, cents_above, harps_like
from reedmill.ear.take import RATE, Take, check_audible
from reedmill.ear.track import Expected, PitchTrack, track_pitch
from reedmill.harp import Harp
from reedmill.score.score import Score
from reedmill.score.style import Mark
from reedmill.score.verdicts import Tolerance
from reedmill.theory.pitch import equal_hz

_LEAST_GOOD = 0.45  # share of a take's notes that must be the drill's for it to be that drill
_ENOUGH_NOTES = 5  # in place, or it could be any drill
_ENOUGH_PACES = 4  # from note to note, of which the middle is a tempo
_SOFTER_DB, _SOFTER_BESIDE_DB = 12.0, 6.5  # than the median of what is wanted: alone, else
_MOST_COMPARED = 8_000_000  # events times notes: 160 MB
_MOST_LOOKED_AT, _MOST_S = 400, 180  # events and seconds of a take, enough to know a harp by
_FAR_CENTS = 30.0  # a harp further out than this may be the one a semitone away
_TRIES = 2  # harp and pace are measured, then all is aligned again with what was found

STRICT = Tolerance()

HARP_TEST = printable("Harp test")
"""The title of the score of a harp test, which is a score like any other."""

_HarpFit = tuple[float, float, Harp]  # share of notes right, cents out (negative), the harp


class AnotherDrillError(InputError):
    """A take that is harmonica music but not the score."""


def hear(take: Take, score: Score, tolerance: Tolerance = STRICT) -> HeardTake:
    """Compare *take* with *score*, and return every note with its verdict.

    ``InputError`` when it is silent or overdriven, when nothing in it is a harp, or when what is
    in it is another drill or another harp.
    """
    check_judgeable(score)
    check_audible(take)
    return heard_in(take, track_pitch(take, expected_of(score)), score, tolerance)


def check_judgeable(score: Score) -> None:
    """Raise ``InputError`` unless *score* has notes that can be judged."""
    if not score.notes:
        raise InputError(f'there is no note in "{score.title}", and so nothing to hear.')
    if not any(map(is_judged, score.notes)):
        raise InputError(
            f'every note of "{score.title}" is of several holes at once, and these are not judged. '
            "Record a drill that has single notes too."
        )


def heard_in(
    take: Take, track: PitchTrack, score: Score, tolerance: Tolerance = STRICT
) -> HeardTake:
    """Compare as ``hear`` does, for a *take* whose *track* is known and whose sound was checked.

    ``InputError`` where nothing in it is a harp, or it is another drill or harp.
    """
    gate = gate_of(track)
    falls = any(Mark.FALL in note.style for note in score.notes)
    events = find_events(track, gate, slow_slides(score), falls=falls)
    wanted = ExpectedNotes.of(score)
    if len(events) * len(wanted.cents) > _MOST_COMPARED:
        raise InputError(
            f"{take.name}: {len(events)} notes are in this recording and {len(wanted.cents)} in "
            f'"{score.title}", too many to compare each with each. Cut the recording into takes.'
        )
    offset = harp_offset(events, wanted)
    events = without_background(events, wanted, offset, gate)
    aligned, measured = _aligned(events, wanted, score, offset)
    if not is_this_drill(events, wanted, aligned, measured or 0.0):
        raise _another(take, score, events, wanted)
    if abs(measured or 0.0) > _FAR_CENTS:
        nearer = likeliest_harp(take, score)
        if nearer is not None and nearer != score.harp:
            raise on_another_harp(take, score, nearer)
    judge = Judge(score, events, measured or 0.0, tolerance)
    return _heard(take, score, track, gate, judge, aligned, measured)


def without_background(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, offset: float, gate: Gate
) -> list[DetectedNote]:
    """Return *events* without soft tones that are not wanted notes, as of a band or speaker.

    A note that is wanted may be soft; one that is not is believed only at the player's level.
    """
    near = [_is_wanted(each, wanted, offset) for each in events]
    levels = [each.level_db for each, good in zip(events, near, strict=True) if good]
    if not levels:
        return list(events)
    least = float(np.median(levels)) - (_SOFTER_DB if gate.quiet else _SOFTER_BESIDE_DB)
    return [each for each, good in zip(events, near, strict=True) if good or each.level_db >= least]


def _is_wanted(event: DetectedNote, wanted: ExpectedNotes, offset: float) -> bool:
    return bool(np.min(np.abs(event.cents - offset - wanted.cents)) <= SAME_NOTE_CENTS)


def expected_of(score: Score) -> Expected:
    """Return the pitches that a take of *score* may hold."""
    harp = score.harp
    hz = {reed: harp.tuned(reed, equal_hz(harp.midi(reed), score.reference_hz))
          for reed in harp.reeds()}  # fmt: skip
    return Expected(
        wanted_hz=tuple(note.hz for note in score.notes if is_judged(note)),
        possible_hz=tuple(hz[reed] for reed in hz if reed == reed.natural),
        # more than a semitone of room either way: a harp and its player may be that far out
        lowest_hz=0.93 * min(hz.values()),
        highest_hz=1.08 * max(hz.values()),
    )


def slow_slides(score: Score) -> list[tuple[float, ...]]:
    """Return the slow slides of *score*: the cents above 440 Hz they go from and to, each once.

    Where one goes on into the next they are together.
    """
    found: list[list[float]] = []
    for before, note in pairwise(score.notes):
        if note.slide_beats is None or not is_judged(note):
            continue
        here, there = (1200 * math.log2(each.hz / 440) for each in (before, note))
        if before.slide_beats is not None and found:
            found[-1].append(there)
        else:
            found.append([here, there])
    return list(dict.fromkeys(tuple(round(cents, 3) for cents in each) for each in found))


def _aligned(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, score: Score, offset: float
) -> tuple[list[Aligned], float | None]:
    """Return the passes and the harp's tuning, each found with the help of the other."""
    measured: float | None = None
    reeds = [score.notes[number].reed for number in wanted.numbers]
    aligned = align(events, wanted, offset)
    for _ in range(_TRIES):
        paces = paces_of(events, wanted, [pair for each in aligned for pair in each.pairs])
        if len(paces) >= _ENOUGH_PACES:
            aligned = align(events, wanted, offset, float(np.median(paces)), known_pace=True)
        naturals = [
            (reeds[index], float(events[number].cents - wanted.cents[index]))
            for each in aligned for index, number in each.pairs
            if number is not None and events[number].steady
        ]  # fmt: skip
        measured = harp_cents(score.harp, naturals)
        if measured is None or abs(measured - offset) < 4:
            break
        offset = measured
    return with_substitutes(aligned, events, wanted), measured


def is_this_drill(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, aligned: Sequence[Aligned], offset: float
) -> bool:
    """Return True when enough of what is heard matches the wanted notes in order."""
    good, rows = count_good(events, wanted, aligned, offset)
    used = sum(number is not None for each in aligned for _, number in each.pairs)
    passed_over = stepped_over(events, wanted, aligned)
    other = sum(
        each.steady and each.end_s - each.start_s > 0.15
        for number, each in enumerate(events) if number not in passed_over
    ) - used  # fmt: skip
    least = min(_ENOUGH_NOTES, math.ceil(0.6 * len(wanted.cents)))
    return good >= least and good >= _LEAST_GOOD * (rows + max(0, other))


def count_good(
    events: Sequence[DetectedNote], wanted: ExpectedNotes, aligned: Sequence[Aligned], offset: float
) -> tuple[int, int]:
    """Return how many notes of the passes are as wanted, and how many notes there are."""
    pairs = [pair for each in aligned for pair in each.pairs]
    good = sum(
        number is not None
        and abs(events[number].cents - offset - wanted.cents[index]) <= SAME_NOTE_CENTS
        for index, number in pairs
    )
    return good, len(pairs)


def _another(
    take: Take, score: Score, events: Sequence[DetectedNote], wanted: ExpectedNotes
) -> InputError:
    """Explain why *take* does not match *score*: no harp, another harp, or another drill."""
    fits = _harps_like(take, score.harp, wanted)
    harp = _likeliest([fit for fit in fits if fit[2] != score.harp])
    if harp is not None:
        return on_another_harp(take, score, harp)
    steady = [each for each in events if each.steady]
    if len(steady) < min(_ENOUGH_NOTES, len(wanted.cents)):
        return InputError(
            f"{take.name}: {_clear_notes(len(steady))} to compare with "
            f'"{score.title}". Record the whole drill with the harp near the microphone.'
        )
    return AnotherDrillError(
        f'{take.name}: what is played here is not "{score.title}" on {score.harp.spoken}.',
        way_out=Remedy.NAME_DRILL,
    )


def on_another_harp(take: Take, score: Score, harp: Harp) -> InputError:
    """Return the error that *take* is of *score*, or a harp test, but played on *harp*."""
    this = "a harp test, but not of" if score.title == HARP_TEST else f'"{score.title}" but not on'
    return InputError(
        f"{take.name}: this is {this} {score.harp.spoken}: it sounds like {harp.spoken}.",
        way_out=Remedy.HARP_HEARD, harp=harp.name, typed=_option(harp),
    )  # fmt: skip


def _clear_notes(count: int) -> str:
    if not count:
        return "there is no clear note in this recording"
    notes = "note is" if count == 1 else "notes are"
    return f"only {count} clear {notes} in this recording, too few"


def _option(harp: Harp) -> str:
    return f'"{harp.name}"' if " " in harp.name else harp.name


def _harps_like(take: Take, harp: Harp, wanted: ExpectedNotes) -> list[_HarpFit]:
    """Return the harps, *harp* among them, on which the same drill would sound as it does here.

    The take is heard again for it, because what was heard for *harp* ends where that harp does.
    """
    part = replace(take, steps=take.steps[: _MOST_S * RATE])
    track = track_pitch(part, Expected((), (), *ANY_HARP_HZ))
    events = find_events(track, gate_of(track))[:_MOST_LOOKED_AT]
    fits: list[_HarpFit] = []
    for other in harps_like(harp):
        there = wanted.moved(cents_above(other, harp))
        offset = harp_offset(events, there)
        aligned = align(events, there, offset)
        if is_this_drill(events, there, aligned, offset):
            good, rows = count_good(events, there, aligned, offset)
            fits.append((good / rows, -abs(offset), other))
    return fits


def likeliest_harp(take: Take, *orders: Score) -> Harp | None:
    """Return the harp on which *take* sounds most like the same notes in one of these *orders*.

    It is that of the first of them where no other fits better; ``None`` where no harp fits.
    """
    return _likeliest([
        fit for score in orders for fit in _harps_like(take, score.harp, ExpectedNotes.of(score))
    ])  # fmt: skip


def _likeliest(fits: Sequence[_HarpFit]) -> Harp | None:
    """Return the best fit; of two harps a semitone apart, the one nearer to its pitch."""
    return max(fits, key=lambda fit: fit[:2])[2] if fits else None


def _heard(
    take: Take, score: Score, track: PitchTrack, gate: Gate, judge: Judge,
    aligned: Sequence[Aligned], measured: float | None,
) -> HeardTake:  # fmt: skip
    passes = judge.passes(aligned, take.seconds)
    notes = [note for each in passes for note in each.notes]
    rungs = by_rung(notes)
    paces = [pace for each in aligned for pace in judge.paces(each.pairs)]
    return HeardTake(
        score=score,
        name=take.name,
        harp_cents=measured or 0.0,
        harp_measured=measured is not None,
        tempo_heard=score.tempo_bpm / float(np.median(paces)) if paces else None,
        tolerance=judge.tolerance,
        sound=_sound_facts(take, track, gate, judge.wanted, judge.events, aligned),
        passes=passes,
        extra=judge.extras(aligned),
        by_rung=rungs,
        advice=advise(notes, rungs, judge.tolerance),
        track=track,
    )


def _sound_facts(
    take: Take, track: PitchTrack, gate: Gate, wanted: ExpectedNotes,
    events: Sequence[DetectedNote],
    aligned: Sequence[Aligned],
) -> SoundFacts:  # fmt: skip
    used = {number for each in aligned for _, number in each.pairs if number is not None}
    notes = [events[number] for number in sorted(used)]
    others = [each for number, each in enumerate(events) if number not in used]
    several = open_spans(events, wanted, aligned)
    rest_db = level_at_rest(track, notes, others, several)
    return SoundFacts(take.seconds, gate.player_db, gate.background_db, rest_db, take.clipped_share)
