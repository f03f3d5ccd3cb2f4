"""The pitch of a note while it sounds: slides, scoops and falls, and the wave of a vibrato.

A hole that sounds on while others join it or leave it stays where it is.
Everything that plays a score follows it: tones, MIDI and the practice page.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from reedmill.harp.reeds import room_below
from reedmill.score.score import Note, Score
from reedmill.score.style import FALL_S, SCOOP_S, VIBRATO_CENTS, Mark


@dataclass(frozen=True, slots=True)
class Glide:
    """A way from one pitch to another, along ``glide_share``."""

    start_s: float  # from the start of the note
    lasting_s: float  # more than 0
    from_cents: float  # above the note's own pitch
    to_cents: float


@dataclass(frozen=True, slots=True)
class Wave:
    """A sine around the pitch that begins on it, from the end of a way in to that of the note."""

    start_s: float  # from the start of the note
    end_s: float
    hz: float
    cents: float  # to either side


@dataclass(frozen=True, slots=True)
class PitchCurve:
    """Cents above a note's own pitch, from its start on."""

    glides: tuple[Glide, ...] = ()  # in time order, none over another
    wave: Wave | None = None


def pitch_curve(score: Score, note: Note, before: Note | None = None) -> PitchCurve:
    """Return how the pitch of *note* moves; *before* is the note that it slides from, if any.

    A slide that is written over some beats takes these, any other ``GLIDE_S`` or half the
    note, whichever is shorter.
    """
    if not note.style.marks:  # most notes: how long they last does not matter
        return PitchCurve(tuple(_glides(score, note, before, 0.0)))
    _, lasting = score.sounding(note)
    lasting_s = float(score.seconds(lasting))
    glides = tuple(_glides(score, note, before, lasting_s))
    if Mark.VIBRATO not in note.style or note.style.a_beat is None:
        return PitchCurve(glides)
    begin = next((each.lasting_s for each in glides if each.start_s == 0), 0.0)
    end = next((each.start_s for each in glides if each.start_s > 0), lasting_s)
    hz = note.style.a_beat / float(score.seconds(Fraction(1)))
    # whole waves: it comes back to its pitch before the note falls off, slides on or ends
    waves = math.floor((end - begin) * hz + 1e-9)
    wave = Wave(begin, begin + waves / hz, hz, VIBRATO_CENTS) if waves else None
    return PitchCurve(glides, wave)


def _glides(score: Score, note: Note, before: Note | None, lasting_s: float) -> Iterator[Glide]:
    below = float(room_below(score.harp.layout, note.reed))
    if note.joined and before is not None and not score.held_over(note):
        away = 1200 * math.log2(before.hz / note.hz)
        yield Glide(0.0, score.glide_s(note), away, 0.0)
    elif Mark.SCOOP in note.style:
        yield Glide(0.0, min(SCOOP_S, lasting_s / 3), -below, 0.0)
    if Mark.FALL in note.style:
        falling = min(FALL_S, lasting_s / 2)
        yield Glide(lasting_s - falling, falling, 0.0, -below)
