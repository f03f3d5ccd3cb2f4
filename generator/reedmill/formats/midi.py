"""A Score as a Standard MIDI File: conductor, guide, drone and click.

Written to the Standard MIDI File specification (RP-001, format 1), with instruments of
General MIDI.  What MIDI has no event for is left to the sheet and the tab: degrees,
embouchure and where in the pattern a note comes from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from fractions import Fraction

from mido import Message, MetaMessage

from reedmill.formats.band_midi import band_tracks
from reedmill.formats.midi_file import (
    PERCUSSION,
    TICKS_PER_QUARTER,
    Event,
    Voice,
    conductor,
    file_bytes,
    held,
    opening,
    ticks,
)
from reedmill.score import Note, Score, glide_share
from reedmill.theory.pitch import equal_hz

_BEND_STEP_CENTS = 1.0  # a slide gets a point wherever it has moved this far
_LEAST_BEND_RANGE = 2  # semitones; the default of every General MIDI 2 device (3.4.1)
_CLICK_TICKS = TICKS_PER_QUARTER // 4

GUIDE = Voice("Guide", channel=0, program=22, velocity=100)  # Harmonica, 23 from one
# Reed Organ, 21 from one: free reeds like the harp's own, and a tone that holds without
# decay.  Accordion (22) does too, but many of its sounds are two reeds that beat, and a
# drone is there to be tuned against.
DRONE = Voice("Drone", channel=1, program=20, velocity=64)
CLICK = Voice("Click", channel=PERCUSSION, program=None, velocity=80)
_ACCENT_VELOCITY = 112
_BASS_CHANNEL, _COMP_CHANNEL = 2, 3
_HI_WOOD_BLOCK, _LOW_WOOD_BLOCK = 76, 77


def midi_bytes(score: Score) -> bytes:
    """*score* as a Standard MIDI File, format 1: equal scores give equal bytes.

    Track 0 holds title, tempo and signatures, then come the guide, the drone and the
    click, or in their place the chords and players of a band where one plays.  Ticks are
    rounded once, from absolute time.  Text is UTF-8.

    A slide is a curve of pitch bends over one held note, on the curve of
    ``Score.glide_s`` at each point, and tuning away from equal temperament at 440 Hz is
    a standing bend.  The bend range is set with RPN 00 00 in whole semitones.
    """
    tracks = [_conductor(score), _guide(score)]
    if score.band:
        tracks += band_tracks(score.band, bass=_BASS_CHANNEL, comp=_COMP_CHANNEL)
    else:
        tracks += [_drone(score), _click(score)]
    return file_bytes(tracks, _tick(score, score.length))


def _tick(score: Score, beats: Fraction) -> int:
    return round(_exact_ticks(score, beats))


def _exact_ticks(score: Score, beats: Fraction) -> Fraction:
    """The tick at which the notated place *beats* is played."""
    return _lasting(score, score.performed(beats))


def _lasting(score: Score, beats: Fraction) -> Fraction:
    """Ticks that *beats* last."""
    return ticks(beats, score.meter)


def _conductor(score: Score) -> Iterator[Event]:
    quarter_s = score.seconds(Fraction(score.meter.unit, 4))
    return conductor(score.title, quarter_s, score.meter, score.key)


def _guide(score: Score) -> Iterator[Event]:
    """Each attack as one note, the tab of every note as a lyric, slides as bends."""
    breaths = score.attacks()
    yield from opening(GUIDE)
    yield from _tuning(GUIDE, [bend for breath in breaths for bend in _bends(score, breath)])
    for breath in breaths:
        yield from held(
            GUIDE,
            breath[0].pitch.midi,
            _tick(score, breath[0].start),
            _tick(score, breath[-1].end),
            velocity=_ACCENT_VELOCITY if breath[0].accent else None,
        )
    for note in score.notes:
        yield _tick(score, note.start), MetaMessage("lyrics", text=note.reed.tab)


def _drone(score: Score) -> Iterator[Event]:
    """The root of the key, held from the first beat to the end."""
    yield from opening(DRONE)
    yield from _tuning(DRONE, [(0, _off_key_semitones(score.root_hz, score.root_midi))])
    yield from held(DRONE, score.root_midi, 0, _tick(score, score.length))


def _click(score: Score) -> Iterator[Event]:
    """A stroke on every pulse, the first of each bar high and loud."""
    yield from opening(CLICK)
    for stroke in range(math.ceil(score.length / score.meter.pulse)):
        beats = stroke * score.meter.pulse
        start = _tick(score, beats)
        if beats % score.meter.beats == 0:
            yield from held(
                CLICK, _HI_WOOD_BLOCK, start, start + _CLICK_TICKS, velocity=_ACCENT_VELOCITY
            )
        else:
            yield from held(CLICK, _LOW_WOOD_BLOCK, start, start + _CLICK_TICKS)


def _tuning(voice: Voice, bends: list[tuple[int, float]]) -> Iterator[Event]:
    """The bend range and then the (tick, semitones) *bends*, without those that repeat."""
    reach = _bend_range(semitones for _, semitones in bends)
    yield from ((0, message) for message in _range_messages(voice.channel, reach))
    last = None
    for tick, semitones in bends:
        value = min(8191, round(semitones * 8192 / reach))
        if value != last:
            yield tick, Message("pitchwheel", channel=voice.channel, pitch=value)
        last = value


def _bend_range(semitones: Iterable[float]) -> int:
    """The whole semitones that reach every offset: devices may ignore the cents of RPN 0."""
    farthest = max((abs(each) for each in semitones), default=0.0)
    return max(_LEAST_BEND_RANGE, math.ceil(round(farthest, 6)))


def _range_messages(channel: int, semitones: int) -> list[Message]:
    """RPN 00 00 set to *semitones*, then closed with 7F 7F (General MIDI 2, 3.4.1, 3.4.5)."""
    steps = ((101, 0), (100, 0), (6, semitones), (38, 0), (101, 127), (100, 127))
    return [
        Message("control_change", channel=channel, control=control, value=value)
        for control, value in steps
    ]


def _off_key_semitones(hz: float, key: int) -> float:
    """How far *hz* lies above MIDI key *key*, which a synthesizer tunes to A4 = 440 Hz."""
    return 12 * math.log2(hz / equal_hz(key))


def _bends(score: Score, breath: tuple[Note, ...]) -> Iterator[tuple[int, float]]:
    """The bend of one attack as (tick, semitones over its key): its tuning, then its slides."""
    key = breath[0].pitch.midi
    now = _off_key_semitones(breath[0].hz, key)
    yield _tick(score, breath[0].start), now
    for note in breath[1:]:
        target = _off_key_semitones(note.hz, key)
        yield from _slide(score, note, now, target)
        now = target


def _slide(score: Score, note: Note, left: float, target: float) -> Iterator[tuple[int, float]]:
    """Points of the slide into *note*, in semitones: from *left*, arriving at *target*.

    Each lies on the curve at its tick.  The next comes as soon as the curve has moved a
    cent, which is every tick where it moves faster than a cent a tick.
    """
    begin = _exact_ticks(score, note.start)
    beats_per_s = 1 / score.seconds(Fraction(1))
    ticks = score.glide_s(note) * float(_lasting(score, beats_per_s))
    first, last = round(begin), round(float(begin) + ticks)
    shown = left
    for tick in range(first, last):
        share = glide_share(max(0.0, (tick - float(begin)) / ticks))
        here = left + (target - left) * share
        if abs(here - shown) * 100 >= _BEND_STEP_CENTS:
            yield tick, here
            shown = here
    yield last, target
