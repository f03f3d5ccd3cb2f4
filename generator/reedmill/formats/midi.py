"""A Score as a Standard MIDI File: conductor, guide, drone and click.

Written to the Standard MIDI File specification (RP-001, format 1), with instruments of
General MIDI.  What MIDI has no event for is left to the sheet and the tab: degrees,
embouchure and where in the pattern a note comes from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

from reedmill.base.text import printable
from reedmill.formats.band_midi import band_tracks
from reedmill.formats.midi_bends import off_key_semitones, tuning
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
)
from reedmill.formats.midi_guide import ACCENT_VELOCITY, guide_tracks
from reedmill.practice.practice import Click, Recording, off_beats
from reedmill.score.score import Score

_CLICK_TICKS = TICKS_PER_QUARTER // 4

# Reed Organ, 21 from one: free reeds like the harp's own, and a tone that holds without
# decay.  Accordion (22) does too, but many of its sounds are two reeds that beat, and a
# drone is there to be tuned against.
DRONE = MidiVoice("Drone", channel=1, program=20, velocity=64)
CLICK = MidiVoice("Click", channel=PERCUSSION, program=None, velocity=80)
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
    a standing bend.  The bend range is set with RPN 00 00 in whole semitones.  Of holes that
    sound together each has a track and a channel of its own (see ``midi_guide``).
    """
    asked = recording or Recording()
    clock = Clock.of(asked.plan(score))
    tracks = [
        conductor(score.title, clock.tempi, score.meter, score.key),
        *guide_tracks(clock, guided=asked.guided),
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
    yield from tuning(voice, [(0, off_key_semitones(score.root_hz * times, key))])
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
            yield tick, _HI_WOOD_BLOCK, ACCENT_VELOCITY
        else:
            yield tick, _LOW_WOOD_BLOCK, None
        if where is Click.OFFBEATS and beats >= heard.first:
            for between in off_beats(meter):
                yield stretch.notated_tick(beats + between), _LOW_WOOD_BLOCK, _SOFT_VELOCITY
