"""A Score as a Standard MIDI File: conductor, guide, drone and click.

Written to the Standard MIDI File specification (RP-001, format 1), with instruments of
General MIDI.  What MIDI has no event for is left to the sheet and the tab: degrees,
embouchure and where in the pattern a note comes from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

from reedmill.base.text import printable
from reedmill.formats.band_midi import band_tracks
from reedmill.formats.midi_clock import Clock, PassTicks
from reedmill.formats.midi_file import (
    PERCUSSION,
    TICKS_PER_QUARTER,
    MidiVoice,
    TimedMessage,
    conductor,
    file_bytes,
    held,
    opening,
    ticks,
)
from reedmill.formats.quick_mido import Message, MetaMessage
from reedmill.practice.practice import Click, Recording, off_beats
from reedmill.score.score import Note, Score, glide_share
from reedmill.theory.pitch import equal_hz

_BEND_STEP_CENTS = 1.0  # a slide gets a point wherever it has moved this far
_LEAST_BEND_RANGE = 2  # semitones; the default of every General MIDI 2 device (3.4.1)
_CLICK_TICKS = TICKS_PER_QUARTER // 4

GUIDE = MidiVoice("Guide", channel=0, program=22, velocity=100)  # Harmonica, 23 from one
# Reed Organ, 21 from one: free reeds like the harp's own, and a tone that holds without
# decay.  Accordion (22) does too, but many of its sounds are two reeds that beat, and a
# drone is there to be tuned against.
DRONE = MidiVoice("Drone", channel=1, program=20, velocity=64)
CLICK = MidiVoice("Click", channel=PERCUSSION, program=None, velocity=80)
_ACCENT_VELOCITY = 112
_SOFT_VELOCITY = 48
_BASS_CHANNEL, _COMP_CHANNEL, _FIFTH_CHANNEL, _OCTAVE_CHANNEL = 2, 3, 4, 5
# Semitones over the root's key and times its frequency: pure, as in the sound.
_DRONE_TONES = {"root": (0, 1.0), "fifth": (7, 1.5), "octave": (12, 2.0)}
_HI_WOOD_BLOCK, _LOW_WOOD_BLOCK = 76, 77


def midi_bytes(score: Score, recording: Recording | None = None) -> bytes:
    """Return *score* as a Standard MIDI File, format 1: equal scores give equal bytes.

    Track 0 holds title, tempi and signatures, then come the guide, the drone and the
    click, or in their place the chords and players of a band where one plays.  Ticks are
    rounded once, from absolute time.  Text is UTF-8.

    What *recording* asks of the sound is here at the same second: count-in, echo, repeats,
    tempo ladder, fading tones, tones of the drone, places of the click.  Voice, stereo and
    loudness are the sound file's alone.

    A slide is a curve of pitch bends over one held note, on the curve of
    ``Score.glide_s`` at each point, and tuning away from equal temperament at 440 Hz is
    a standing bend.  The bend range is set with RPN 00 00 in whole semitones.
    """
    asked = recording or Recording()
    clock = Clock.of(asked.plan(score))
    tracks = [
        conductor(score.title, clock.tempi, score.meter, score.key),
        _guide(clock, guided=asked.guided),
    ]
    if score.band:
        channels = {"bass": _BASS_CHANNEL, "comp": _COMP_CHANNEL}
        tracks += band_tracks(score.band, clock.stretches, **channels)
        tracks += _drones(score, clock, asked.drone)
        tracks += [_click(clock, asked.clicking)] if asked.clicking else []
    else:  # both are always there, to be silenced by whoever plays the file
        tracks += _drones(score, clock, asked.drone or ("root",))
        tracks += [_click(clock, asked.clicking or Click.BEATS)]
    return file_bytes(tracks, clock.end)


def backing_midi_bytes(score: Score, recording: Recording | None = None) -> bytes:
    """Return the band of *score* alone as a MIDI file: equal scores give equal bytes.

    Track 0 holds title, tempi, signatures and no notes, track 1 the chord symbols of the
    key as markers; then come bass, comp and drums, these on channel 10 alone, and what
    *recording* asks for, at the same second as in the sound.  ``ValueError`` without a band.
    """
    band = score.band
    if band is None:
        raise ValueError("no band plays under this score")
    asked = recording or Recording(guided=False, backing=True)
    clock = Clock.of(asked.plan(score))
    title = printable(f"{band.form}, {band.feel}, in {band.key.name}")
    tracks = [
        conductor(title, clock.tempi, band.meter, band.key),
        *band_tracks(band, clock.stretches, bass=0, comp=1),
        *_drones(score, clock, asked.drone, root_channel=_COMP_CHANNEL),
        *([_click(clock, asked.clicking)] if asked.clicking else []),
    ]
    return file_bytes(tracks, clock.end)


def _guide(clock: Clock, *, guided: bool) -> Iterator[TimedMessage]:
    """Yield each attack as one note, each note's tab as a lyric, slides as pitch bends.

    A breath is a text at the tick where its silence begins.  Where the player is alone, only tab
    and breaths are there.
    """
    played = [
        (stretch, breath)
        for stretch in clock.stretches
        if guided and stretch.heard.guide > 0
        for breath in stretch.heard.attacks()
    ]
    yield from opening(GUIDE)
    yield from _tuning(GUIDE, [bend for each in played for bend in _bends(*each)])
    for stretch, breath in played:
        loud = _ACCENT_VELOCITY if breath[0].accent else GUIDE.velocity
        yield from held(
            GUIDE,
            breath[0].pitch.midi,
            stretch.notated_tick(breath[0].start),
            stretch.silent_tick(breath[-1]),
            velocity=max(round(loud * stretch.heard.guide), 1),
        )
    for stretch in clock.stretches:
        for note in stretch.heard.notes:
            yield stretch.notated_tick(note.start), MetaMessage("lyrics", text=note.reed.tab)
            taken = stretch.heard.score.breath_after(note)
            if taken is not None:
                said = MetaMessage("text", text=f"breathe {taken.way.value}")
                yield stretch.silent_tick(note), said


def _drones(
    score: Score, clock: Clock, tones: Iterable[str], *, root_channel: int = DRONE.channel
) -> list[Iterator[TimedMessage]]:
    """Return a track for each of *tones*: the root of the key, its pure fifth, its octave."""
    channels = {"root": root_channel, "fifth": _FIFTH_CHANNEL, "octave": _OCTAVE_CHANNEL}
    return [_drone(score, clock, tone, channels[tone]) for tone in tones]


def _drone(score: Score, clock: Clock, tone: str, channel: int) -> Iterator[TimedMessage]:
    """Yield one tone held from the first tick to the end."""
    over, times = _DRONE_TONES[tone]
    name = DRONE.name if tone == "root" else f"{DRONE.name}, {tone}"
    voice = replace(DRONE, name=name, channel=channel)
    key = score.root_midi + over
    yield from opening(voice)
    yield from _tuning(voice, [(0, _off_key_semitones(score.root_hz * times, key))])
    yield from held(voice, key, 0, clock.end)


def _click(clock: Clock, where: Click) -> Iterator[TimedMessage]:
    """Yield a stroke on every pulse of the count-in and, if wanted, of the music.

    The first of each bar is high and loud; those between the pulses are soft.
    """
    yield from opening(CLICK)
    for stretch in clock.stretches:
        for at, key, velocity in _strokes(stretch, where):
            yield from held(CLICK, key, at, at + _CLICK_TICKS, velocity=velocity)


def _strokes(stretch: PassTicks, where: Click) -> Iterator[tuple[int, int, int | None]]:
    """Yield tick, key and velocity of each stroke of *stretch* and of the count-in before it."""
    heard = stretch.heard
    meter = heard.score.meter
    first = heard.first - heard.count_in_bars * meter.beats
    last = heard.first if where is Click.COUNT_IN else heard.last
    for number in range(math.ceil((last - first) / meter.pulse)):
        beats = first + number * meter.pulse
        tick = stretch.notated_tick(beats)
        if beats % meter.beats == 0:
            yield tick, _HI_WOOD_BLOCK, _ACCENT_VELOCITY
        else:
            yield tick, _LOW_WOOD_BLOCK, None
        if where is Click.OFFBEATS and beats >= heard.first:
            for between in off_beats(meter):
                yield stretch.notated_tick(beats + between), _LOW_WOOD_BLOCK, _SOFT_VELOCITY


def _tuning(voice: MidiVoice, bends: list[tuple[int, float]]) -> Iterator[TimedMessage]:
    """Yield the bend range and then the (tick, semitones) *bends*, without repeated values."""
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


def _off_key_semitones(hz: float, key: int) -> float:
    """Return how far *hz* is above MIDI key *key*, tuned to A4 = 440 Hz."""
    return 12 * math.log2(hz / equal_hz(key))


def _bends(stretch: PassTicks, breath: tuple[Note, ...]) -> Iterator[tuple[int, float]]:
    """Yield the bends of one attack as (tick, semitones over its key): tuning, then slides."""
    key = breath[0].pitch.midi
    now = _off_key_semitones(breath[0].hz, key)
    yield stretch.notated_tick(breath[0].start), now
    for note in breath[1:]:
        target = _off_key_semitones(note.hz, key)
        yield from _slide(stretch, note, now, target)
        now = target


def _slide(
    stretch: PassTicks, note: Note, left: float, target: float
) -> Iterator[tuple[int, float]]:
    """Yield points of the slide into *note*, in semitones: from *left* to *target*.

    Each lies on the curve at its tick.  The next comes as soon as the curve has moved a
    cent, which is every tick where it moves faster than a cent a tick.
    """
    score = stretch.heard.score
    begin = stretch.notated(note.start)
    beats_per_s = 1 / score.seconds(Fraction(1))
    lasting = score.glide_s(note) * float(ticks(beats_per_s, score.meter))
    first, last = round(begin), round(float(begin) + lasting)
    shown = left
    for tick in range(first, last):
        share = glide_share(max(0.0, (tick - float(begin)) / lasting))
        here = left + (target - left) * share
        if abs(here - shown) * 100 >= _BEND_STEP_CENTS:
            yield tick, here
            shown = here
    yield last, target
