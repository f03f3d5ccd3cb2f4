"""The strokes of a band in samples of a recording.

Every place is rounded once, from its exact distance to the start of the recording, so that
the band stays with the guide, the drone and the click however long it plays.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.score.arrangement import Arrangement, Part, Struck
from reedmill.sound.band.tones import Tone, tone_for

_LONGEST_S = 30  # of one stroke
_FALLS_S = {Part.BASS: 0.05, Part.COMP: 0.09, Part.DRUMS: 0.02}  # once a tone is let go
_LAST_FALLS_S = 2.0  # at the end of all, where the last chord rings out
_NEARLY_S = Fraction(1, 10)  # before it; a chord played short of its bar rings out too

# Keys of the General MIDI percussion map (RP-003, from memory).
_OPEN_HAT, _HATS = 46, (42, 44, 46)  # any hat ends an open one
_LEFT_OPEN = Fraction(1000)  # beats
_RINGING = (46, 49, 51, 52, 53, 55, 57, 58, 59, 72, 74, 81)  # cymbals, bells, a triangle
_DRUM_RINGS_S = {False: 1.2, True: 4.0}  # at the most


@dataclass(frozen=True, slots=True)
class ToneStroke:
    """One stroke: its tone, and from where to where it is heard."""

    start: int  # samples from the start of the recording
    tone: Tone
    let_go: int  # sample from which it falls
    end: int
    level: float  # amplitude


def strokes(plan: RecordingPlan, arrangement: Arrangement, rate: int) -> list[ToneStroke]:
    """Return every stroke of *arrangement* in *plan*, in time order."""
    found = [
        _stroke(heard, arrangement, at, note, rate)
        for heard in plan.passes
        for at, note in _closing_hats(list(_in_pass(arrangement, heard)))
    ]
    last = round((plan.length_s - _NEARLY_S) * rate)
    rung = [_rung_out(each, rate) if each.let_go >= last else each for each in found]
    return sorted(rung, key=lambda each: (each.start, each.tone))


def _rung_out(stroke: ToneStroke, rate: int) -> ToneStroke:
    """Return the last sound of all, left to ring."""
    longer = stroke.let_go + round(_LAST_FALLS_S * rate)
    return replace(stroke, end=max(stroke.end, longer))


def _in_pass(arrangement: Arrangement, heard: Pass) -> Iterator[tuple[Fraction, Struck]]:
    """Yield the strokes of the bars of a pass, with their places in the score, in time order."""
    early = arrangement.early
    whole, notes = arrangement.length, arrangement.notes
    for time in range(heard.first // whole, -(-heard.last // whole)):
        shift = time * whole
        low, high = 0, len(notes)
        if heard.first > shift:
            low = _place(notes, heard.first - early - shift)
        if heard.last < shift + whole:
            high = _place(notes, heard.last - early - shift)
        for note in notes[low:high]:
            yield shift + note.start, note


def _place(notes: Sequence[Struck], beats: Fraction) -> int:
    return bisect_left(notes, beats, key=lambda note: note.start)


def _closing_hats(played: list[tuple[Fraction, Struck]]) -> list[tuple[Fraction, Struck]]:
    """Return *played* with each open hat held until the next stroke on the hats.

    The length of any other stroke on a drum means nothing: it is left to ring.
    """
    hats = [at for at, note in played if note.part is Part.DRUMS and note.key in _HATS]
    closing = dict(pairwise(sorted(set(hats))))
    return [
        (at, replace(note, length=closing.get(at, _LEFT_OPEN)) if _open_hat(note) else note)
        for at, note in played
    ]


def _open_hat(note: Struck) -> bool:
    return note.part is Part.DRUMS and note.key == _OPEN_HAT


def _stroke(
    heard: Pass, arrangement: Arrangement, at: Fraction, note: Struck, rate: int
) -> ToneStroke:
    start = max(round((heard.start_s + heard.score.seconds(at - heard.first)) * rate), 0)
    tone, level = tone_for(note.part, arrangement.program(note.part), note.key, note.velocity)
    held = round(heard.score.seconds(note.length) * rate)
    decay_s = _FALLS_S[note.part]
    if note.part is Part.DRUMS:
        rings = round(_DRUM_RINGS_S[note.key in _RINGING] * rate)
        held = min(held, rings) if _open_hat(note) else rings
    let_go = start + min(held, _LONGEST_S * rate)
    return ToneStroke(start, tone, let_go, let_go + round(decay_s * rate), level)
