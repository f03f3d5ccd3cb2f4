"""The notes of a score as MIDI tracks: one for each hole that sounds at once, and the tab.

Holes that sound together are tuned and bent each by itself, and a bend is for a whole channel;
so each has a channel of its own, on which it never sounds with another, and a track, as some
readers keep one channel a track.  The highest hole, heard as the melody, is in the first.

A shake is notes in turn on the first channel, the chord of a slap or a pull short notes beside
the written one.  What sounds on through a lift is one key that is held; as its velocity stays, it
is that of the most holes it sounds with.  Closed hands are expression (controller 11) and
brightness (controller 74), as General MIDI 2 (RP-024) defines them.  A vibrato, a scoop and a
fall are bends.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.base.errors import InputError
from reedmill.formats.midi_bends import (
    FINEST_WAVE,
    TimedBend,
    bend_messages,
    bends_of_attack,
    off_key_semitones,
)
from reedmill.formats.midi_clock import Clock, PassTicks
from reedmill.formats.midi_file import MidiVoice, TimedMessage, held, opening, ticks
from reedmill.formats.quick_mido import Message, MetaMessage
from reedmill.score.bursts import holes_change, holes_in_time, of_one_hole
from reedmill.score.score import Note, SoundingReed
from reedmill.score.style import Mark

GUIDE = MidiVoice("Guide", channel=0, program=22, velocity=100)  # Harmonica, 23 from one
ACCENT_VELOCITY = 112

# The holes under the highest: channels that neither drone, band nor drums use.
_BESIDE = tuple(
    replace(GUIDE, name=f"{GUIDE.name}, {which} hole", channel=channel)
    for which, channel in zip(
        ("second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"),
        (6, 7, 8, 10, 11, 12, 13, 14, 15), strict=True,
    )
)  # fmt: skip

# What goes to and fro: under the first a vibrato is as fine as it can be, over the second no
# program would open the file soon.  An hour and more of one hole's vibrato has fewer.
_USUAL_EVENTS, _MOST_EVENTS = 200_000, 300_000

_EXPRESSION, _BRIGHTNESS = 11, 74
# Expression is 40 log10 of the value's share (General MIDI 2, 3.3.4): 101 of 127 is 4 dB less.
# Brightness is relative, 64 the voice's own (3.3.9); how far it falls is chosen by ear.
_OPEN, _CLOSED = ((_EXPRESSION, 127), (_BRIGHTNESS, 64)), ((_EXPRESSION, 101), (_BRIGHTNESS, 32))


@dataclass(frozen=True, slots=True)
class _HeldNote:
    """A key that is held, with the bends meanwhile."""

    lane: int  # 0 is the guide's own channel
    key: int
    start: int  # ticks
    end: int
    velocity: int
    bends: tuple[TimedBend, ...]  # the first at its start


def guide_tracks(clock: Clock, *, guided: bool) -> list[list[TimedMessage]]:
    """Return the track of the guide, and one more for each hole that sounds beside it.

    The first has each attack as one note, each note's tab with its marks of style as a lyric,
    slides as pitch bends.  A breath is a text at the tick where its silence begins.  Where the
    player is alone, only lyrics and breaths are there.
    ``InputError`` when vibratos and shakes are too many for a file.
    """
    wave_points = _wave_points(clock) if guided else FINEST_WAVE
    played = [
        note
        for stretch in clock.stretches
        if guided and stretch.heard.guide > 0
        for breath in stretch.heard.attacks()
        for note in _attack(stretch, breath, wave_points)
    ]
    lanes = 1 + max((note.lane for note in played), default=0)
    hands = list(_hands(clock)) if guided else []
    tracks = []
    for lane, voice in enumerate((GUIDE, *_BESIDE)[:lanes]):
        own = sorted((note for note in played if note.lane == lane), key=lambda note: note.start)
        tracks.append([
            *opening(voice),
            *bend_messages(voice, [bend for note in own for bend in note.bends]),
            *((tick, Message("control_change", channel=voice.channel, control=number, value=value))
              for tick, number, value in hands),
            *(message for note in own for message in
              held(voice, note.key, note.start, note.end, velocity=note.velocity)),
        ])  # fmt: skip
    tracks[0] += _lyrics(clock)
    return tracks


def _wave_points(clock: Clock) -> int:
    """Return the points for each quarter of a wave of a vibrato: fewer where there are many."""
    to_and_fro = Fraction(0)
    for stretch in clock.stretches:
        for note in stretch.heard.notes if stretch.heard.guide > 0 else ():
            if note.style.a_beat is not None:
                to_and_fro += note.style.a_beat * note.length * len(note.sounded)
    least = 4 * to_and_fro
    if least > _MOST_EVENTS:
        raise InputError(
            f"the vibratos and shakes of this music would need {int(least):,} events in a MIDI "
            f"file, and {_MOST_EVENTS:,} is the most. Write fewer of them, or fewer repeats."
        )
    return max(1, min(FINEST_WAVE, int(_USUAL_EVENTS / least))) if least else FINEST_WAVE


def _lyrics(clock: Clock) -> Iterator[TimedMessage]:
    for stretch in clock.stretches:
        for note in stretch.heard.notes:
            words = " ".join((*note.style.words, note.tab))
            yield stretch.notated_tick(note.start), MetaMessage("lyrics", text=words)
            taken = stretch.heard.score.breath_after(note)
            if taken is not None:
                said = MetaMessage("text", text=f"breathe {taken.way.value}")
                yield stretch.silent_tick(note), said


def _hands(clock: Clock) -> Iterator[tuple[int, int, int]]:
    """Yield (tick, controller, value) wherever the hands close or open again."""
    closed = False
    for stretch in clock.stretches:
        for note in stretch.heard.notes if stretch.heard.guide > 0 else ():
            if (Mark.MUTE in note.style) is not closed:
                closed = not closed
                at = stretch.notated_tick(note.start)
                yield from ((at, *each) for each in (_CLOSED if closed else _OPEN))


# --- one attack ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stretch:
    """The holes that sound in a stretch of an attack, in ticks."""

    start: int
    end: int
    note: Note
    sounded: tuple[SoundingReed, ...]

    @property
    def written(self) -> tuple[SoundingReed, ...]:
        return tuple(each for each in self.sounded if each in self.note.sounded)

    @property
    def burst(self) -> tuple[SoundingReed, ...]:
        """The holes that sound for an instant beside the written ones, the highest first."""
        return tuple(each for each in reversed(self.sounded) if each not in self.note.sounded)


def _attack(played: PassTicks, breath: tuple[Note, ...], wave_points: int) -> Iterator[_HeldNote]:
    """Yield every key that is held in an attack and what is joined to it."""
    loud = (ACCENT_VELOCITY if breath[0].accent else GUIDE.velocity) * played.heard.guide
    stretches = [stretch for note in breath for stretch in _stretches(played, note)]
    holes = dict.fromkeys(each.reed.hole for note in breath for each in note.sounded)
    lanes = {hole: lane for lane, hole in enumerate(sorted(holes, reverse=True))}
    for hole in lanes:
        notes = _of_hole(breath, hole)
        bends = list(bends_of_attack(played, notes, wave_points))
        for lane, start, end in _in_lanes(stretches, hole, lanes):
            there = _meanwhile(bends, start, end)
            velocity = _velocity(loud, _most_at_once(stretches, start, end))
            yield _HeldNote(lane, notes[0].pitch.midi, start, end, velocity, there)
    for stretch in stretches:
        taken = {lanes[each.reed.hole] for each in stretch.written}
        free = (lane for lane in range(len(lanes) + len(stretch.burst)) if lane not in taken)
        for lane, each in zip(free, stretch.burst, strict=False):  # there are enough of them
            key = each.pitch.midi
            standing = ((stretch.start, off_key_semitones(each.hz, key)),)
            softer = _velocity(loud, len(stretch.sounded))
            yield _HeldNote(lane, key, stretch.start, stretch.end, softer, standing)


def _stretches(played: PassTicks, note: Note) -> Iterator[_Stretch]:
    """Yield what sounds in *note* in ticks: from where it is written to where it falls silent."""
    first, last = played.notated_tick(note.start), played.silent_tick(note)
    if not holes_change(note):
        yield _Stretch(first, last, note, note.sounded)
        return
    found = holes_in_time(played.heard.score, note)
    edges = [first, *(_tick_after(played, note, each.start_s) for each in found[1:]), last]
    for each, (start, end) in zip(found, pairwise(edges), strict=True):
        yield _Stretch(start, end, note, each.sounded)


def _tick_after(played: PassTicks, note: Note, seconds: Fraction) -> int:
    score = played.heard.score
    a_second = ticks(1 / score.seconds(Fraction(1)), score.meter)
    return round(played.notated(note.start) + seconds * a_second)


def _in_lanes(
    stretches: Sequence[_Stretch], hole: int, lanes: dict[int, int]
) -> Iterator[tuple[int, int, int]]:
    """Yield (lane, start, end) wherever *hole* goes on without a break; shakes are in lane 0."""
    now: tuple[int, int, int] | None = None
    for each in stretches:
        if all(sounding.reed.hole != hole for sounding in each.written):
            continue
        lane = 0 if Mark.SHAKE in each.note.style else lanes[hole]
        if now is not None and now[0] == lane and now[2] == each.start:
            now = (lane, now[1], each.end)
            continue
        if now is not None:
            yield now
        now = (lane, each.start, each.end)
    if now is not None:
        yield now


def _most_at_once(stretches: Sequence[_Stretch], start: int, end: int) -> int:
    """Return how many written holes sound together at the most while a key is held."""
    first = bisect_left(stretches, start, key=lambda each: each.start)
    until = bisect_left(stretches, end, lo=first, key=lambda each: each.start)
    return max((len(each.written) for each in stretches[first:until]), default=1)


def _of_hole(breath: Sequence[Note], hole: int) -> list[Note]:
    """Return the notes of *breath* that are played in *hole*, as if in it alone."""
    return [
        of_one_hole(note, each) if note.beside else note
        for note in breath
        for each in note.sounded
        if each.reed.hole == hole
    ]


def _meanwhile(bends: Sequence[TimedBend], start: int, end: int) -> tuple[TimedBend, ...]:
    """Return those *bends* that come while a key is held, and first the one that stands then."""
    if bends[0][0] == start and bends[-1][0] <= end:
        return tuple(bends)
    standing = [semitones for tick, semitones in bends if tick <= start]
    return (
        *((start, each) for each in standing[-1:]),
        *((tick, each) for tick, each in bends if start < tick <= end),
    )


def _velocity(loud: float, together: int) -> int:
    """Return the velocity of each of some holes that are *together* as loud as one.

    Their powers add, and a device is as loud as the square of the velocity (General MIDI 2,
    3.3.4, has it so for volume; for velocity it is common practice).
    """
    return max(round(loud / math.sqrt(math.sqrt(together))), 1)
