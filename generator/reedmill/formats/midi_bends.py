"""Pitch bends of a MIDI channel: its range, standing bends, slides, and the wave of a vibrato.

Bend range: RPN 00 00 as in General MIDI 2 (RP-024), 3.4.1 and 3.4.5.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from reedmill.formats.midi_clock import PassTicks
from reedmill.formats.midi_file import MidiVoice, TimedMessage, ticks
from reedmill.formats.quick_mido import Message
from reedmill.score.pitch_curve import Glide, Wave, pitch_curve
from reedmill.score.score import Note, glide_share
from reedmill.theory.pitch import equal_hz

_BEND_STEP_CENTS = 1.0  # a slide gets a point wherever it has moved this far
_LEAST_BEND_RANGE = 2  # semitones; the default of every General MIDI 2 device (3.4.1)
_MOST_POINTS_A_SECOND = 250  # fewer a wave where it is quicker: a cable takes a thousand events

FINEST_WAVE = 6
"""Points of each quarter of a wave of a vibrato; its highest and lowest are always among them."""

TimedBend = tuple[int, float]
"""A tick, and the semitones over the key that is held."""


def bend_messages(voice: MidiVoice, bends: Sequence[TimedBend]) -> Iterator[TimedMessage]:
    """Yield the bend range and then the *bends* in time order, without repeated values."""
    reach = _bend_range(semitones for _, semitones in bends)
    yield from ((0, message) for message in _range_messages(voice.channel, reach))
    last = None
    for tick, semitones in bends:
        value = min(8191, round(semitones * 8192 / reach))
        if value != last:
            yield tick, Message("pitchwheel", channel=voice.channel, pitch=value)
        last = value


def _bend_range(semitones: Iterable[float]) -> int:
    """Return the whole semitones that cover every offset: devices may ignore RPN 0's cents."""
    farthest = max((abs(each) for each in semitones), default=0.0)
    return max(_LEAST_BEND_RANGE, math.ceil(round(farthest, 6)))


def _range_messages(channel: int, semitones: int) -> list[Message]:
    """Set RPN 00 00 to *semitones* and close it with 7F 7F (General MIDI 2, 3.4.1, 3.4.5)."""
    steps = ((101, 0), (100, 0), (6, semitones), (38, 0), (101, 127), (100, 127))
    return [
        Message("control_change", channel=channel, control=control, value=value)
        for control, value in steps
    ]


def off_key_semitones(hz: float, key: int) -> float:
    """Return how far *hz* is above MIDI key *key*, tuned to A4 = 440 Hz."""
    return 12 * math.log2(hz / equal_hz(key))


def bends_of_attack(
    stretch: PassTicks, breath: Sequence[Note], wave_points: int = FINEST_WAVE
) -> Iterator[TimedBend]:
    """Yield the bends of one hole through an attack, as (tick, semitones over its first key).

    A vibrato has so many points at most in each quarter of a wave.
    """
    key, now = breath[0].pitch.midi, 0.0
    before: Note | None = None
    for note in breath:
        target = off_key_semitones(note.hz, key)
        moves = _moves(stretch, note, before)
        if before is None or before.end != note.start:  # a lift may bring it back on another bend
            now = target + _scooped_cents(moves) / 100
            yield stretch.notated_tick(note.start), now
        for move in moves:
            if isinstance(move, Wave):
                yield from _wave(stretch, note, move, target, wave_points)
            else:
                left, now = now, target + move.to_cents / 100
                yield from _slide(stretch, note, move, left, now)
        before = note


def _scooped_cents(moves: Sequence[Glide | Wave]) -> float:
    """Return the cents over its pitch at which a note of these *moves* sets in."""
    first = moves[0] if moves else None
    return first.from_cents if isinstance(first, Glide) and not first.start_s else 0.0


def _moves(stretch: PassTicks, note: Note, before: Note | None) -> list[Glide | Wave]:
    """Return what moves the pitch of *note*, in time order."""
    if not note.joined and not note.style.marks:
        return []
    curve = pitch_curve(stretch.heard.score, note, before)
    moves: list[Glide | Wave] = [*curve.glides, *([curve.wave] if curve.wave else [])]
    return sorted(moves, key=lambda move: move.start_s)


def _in_ticks(stretch: PassTicks, seconds: float) -> float:
    score = stretch.heard.score
    return seconds * float(ticks(1 / score.seconds(Fraction(1)), score.meter))


def _slide(
    stretch: PassTicks, note: Note, glide: Glide, left: float, target: float
) -> Iterator[TimedBend]:
    """Yield points of a *glide* of *note*, in semitones: from *left* to *target*.

    Each lies on the curve at its tick.  The next comes as soon as the curve has moved a
    cent, which is every tick where it moves faster than a cent a tick.
    """
    begin = stretch.notated(note.start)
    if glide.start_s:
        begin += Fraction(_in_ticks(stretch, glide.start_s))
    lasting = _in_ticks(stretch, glide.lasting_s)
    first, last = round(begin), round(float(begin) + lasting)
    shown = left
    for tick in range(first, last, _stride(lasting, target - left)):
        share = glide_share(max(0.0, (tick - float(begin)) / lasting))
        here = left + (target - left) * share
        if abs(here - shown) * 100 >= _BEND_STEP_CENTS:
            yield tick, here
            shown = here
    yield last, target


def _stride(lasting: float, semitones: float) -> int:
    """Return how many ticks a slide takes to move a quarter of a step, where it is steepest."""
    steepest = 1.5 * abs(semitones) * 100 / lasting  # cents a tick
    return max(1, int(_BEND_STEP_CENTS / 4 / steepest)) if steepest else max(1, int(lasting))


def _wave(
    stretch: PassTicks, note: Note, wave: Wave, target: float, wave_points: int
) -> Iterator[TimedBend]:
    """Yield points of a vibrato around *target*, its highest and lowest among them."""
    begin = float(stretch.notated(note.start)) + _in_ticks(stretch, wave.start_s)
    points = 4 * min(wave_points, max(1, int(_MOST_POINTS_A_SECOND / wave.hz / 4)))
    apart = _in_ticks(stretch, 1 / wave.hz / points)
    for number in range(round((wave.end_s - wave.start_s) * wave.hz * points) + 1):
        turned = math.sin(2 * math.pi * number / points)
        yield round(begin + number * apart), target + wave.cents / 100 * turned
