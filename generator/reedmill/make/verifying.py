"""The check of finished tones: every note of a sound file, heard by the ear that hears takes.

The ear is told nothing of the target.  It hears best at the pitch of a voice, and a note has to
last for some of its readings; so a high note or a short one is played to it slowly, as one slows a
recording to hear what went by too fast.  Its wrong notes are no more hidden by that than by hearing
them at their own speed.  On tones of known pitch from 65 to 5600 Hz it is then within 0.02 cent,
or within half a cent where a note has less than twelve periods.

Holes that sound together are told apart by their partials, each looked for where no other hole has
one, up to 45 cents from its place.  A hole without such a partial, a shake and a vibrato are not
measured, and said not to be.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np

from reedmill.ear.events import find_attacks, find_events, gate_of
from reedmill.ear.take import RATE, Take
from reedmill.ear.track import Expected, track_pitch
from reedmill.make.tone_check import MeasuredNote
from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.score.bursts import holes_in_time, of_one_hole
from reedmill.score.pitch_curve import pitch_curve
from reedmill.score.score import Note
from reedmill.score.style import COUNTED, Mark
from reedmill.sound.recording.read_back import PartReader, opened_sound
from reedmill.sound.signal.clock import sample_at, sample_of
from reedmill.sound.signal.loudness import Samples

_LEAST_PERIODS = 6  # fewer, and there is no telling the pitch
_VOICE_HZ, _SLOWEST_HZ = 200.0, 50.0  # where a note is brought to, and a short one at the most
_BRIEF_S, _LONGEST_S = 0.16, 0.3  # of a note as it is played to the ear; more gives nothing more
_BEFORE_S, _AFTER_S = 0.16, 0.2  # of an attack, which the ear hears it in
_NEAR_S = 0.1  # of a moment, for an attack to be the one that should be there
_SILENT = 1e-4
_LOUD = 0.5  # of full scale: a guide that fades is heard as well as one that does not
_LEAST_CHORD_S = 0.1  # of several holes at once; less, and their partials run together
_PARTIALS = 6  # that are looked at to tell the holes of a chord apart
_WINDOW = 3.5  # standard deviations of the Gaussian window at its ends
_LOBE = 4.5  # bins of the sound's length from a line to where next to nothing of it is left
_FARTHEST_CENTS, _LEAST_ROOM_CENTS = 45.0, 10.0  # of a hole from where it should be
_FAINT = 0.02  # of the strongest line, under which no hole sounds
_NOTHING_WANTED = Expected((), (), 40.0, 2000.0)


class PartialRoom(NamedTuple):
    """A partial of one of several tones, and the room around it that is free of the others."""

    number: int  # 1 is the fundamental
    cents: float  # to either side


def verified(path: Path, plan: RecordingPlan, *, attacks: bool = True) -> list[MeasuredNote]:
    """Return every note that *plan* lets sound, as it is in the file *path*, which holds its guide.

    With *attacks* also when each begins.  ``OSError`` when the file cannot be read.
    """
    with opened_sound(path) as (read_file, rate):
        read = _after(read_file, sample_of(plan.lead_in_s, rate))
        found: list[MeasuredNote] = []
        for heard in plan.passes:
            if heard.guide > 0:
                late = _late_ms(heard, read, rate) if attacks else {}
                # the first hole of a chord has the moment of all
                found += (replace(each, late_ms=late.pop(each.note.start, None)) for each in
                          _pitches(heard, read, rate))  # fmt: skip
        return found


def _after(read: PartReader, lead_in: int) -> PartReader:
    """Return *read* counted from where the plan begins, after the silence of the file."""
    return lambda first, last: read(lead_in + first, lead_in + last)


def _pitches(heard: Pass, read: PartReader, rate: int) -> Iterator[MeasuredNote]:
    for breath in heard.attacks():
        for note in breath:
            last = note is breath[-1]
            if note.beside:
                yield from _holes(heard, note, read, rate, last=last)
            else:
                yield _measured(heard, note, read, rate, last=last)


def _late_ms(heard: Pass, read: PartReader, rate: int) -> dict[Fraction, float]:
    """Return how late each attack heard in a pass is, in milliseconds, by its place in beats."""
    found: dict[Fraction, float] = {}
    before_s = -1.0
    for breath in heard.attacks():
        begin = sample_at(heard, breath[0].start, rate)
        until = min(begin + round(_AFTER_S * rate), sample_of(heard.silent_s(breath[-1]), rate))
        away_s = _attacks_s(read(max(0, begin - round(_BEFORE_S * rate)), until), rate)
        away_s = away_s + (until - begin) / rate
        # An attack half way to the one before may be that one's own.
        near_s = away_s[np.abs(away_s) < min(_NEAR_S, (begin / rate - before_s) / 2)]
        if len(near_s):
            found[breath[0].start] = 1000 * float(near_s[np.argmin(np.abs(near_s))])
        before_s = begin / rate
    return found


def _attacks_s(part: Samples, rate: int) -> Samples:
    """Return the times of attacks in *part*, in seconds against its end: below 0."""
    silence = np.zeros(round((_BEFORE_S + _AFTER_S) * rate) - len(part))
    part = np.concatenate([silence, part])
    track = track_pitch(_played(part, round(len(part) * RATE / rate)), _NOTHING_WANTED)
    return np.asarray(find_attacks(track.loudness_db) - len(part) / rate)


def _measured(heard: Pass, note: Note, read: PartReader, rate: int, *, last: bool) -> MeasuredNote:
    at_s = sample_at(heard, note.start, rate) / rate
    if Mark.VIBRATO in note.style:
        return MeasuredNote(note, at_s, None, not_measured="a vibrato")
    first, until = _steady(heard, note, rate, last=last)
    if (until - first) / rate * note.hz < _LEAST_PERIODS:
        return MeasuredNote(note, at_s, None, too_short=True)
    times = slowing((until - first) / rate, note.hz)
    spare = max(0, until - first - round(_LONGEST_S / times * rate)) // 2
    return MeasuredNote(note, at_s, tone_hz(read(first + spare, until - spare), rate, times))


def _steady(heard: Pass, note: Note, rate: int, *, last: bool) -> tuple[int, int]:
    """Return the samples between which the pitch of *note* stays: after attack or slide, for one.

    Neither the chord of a slap or a pull is in it, nor a scoop or a fall, nor the release.
    """
    begin, end = sample_at(heard, note.start, rate), sample_of(heard.silent_s(note), rate)
    first_s = heard.score.glide_s(note) if note.joined else 0.01
    end_s = 0.025 if last else 0.0
    if note.style.marks:
        played = holes_in_time(heard.score, note)
        lasting_s = float(played[-1].end_s)
        if Mark.SLAP in note.style:
            first_s = max(first_s, float(played[0].end_s) + 0.01)
        if Mark.PULL in note.style:
            end_s = max(end_s, lasting_s - float(played[-1].start_s) + 0.01)
        for glide in pitch_curve(heard.score, note).glides:
            if glide.start_s:
                end_s = max(end_s, lasting_s - glide.start_s)
            else:
                first_s = max(first_s, glide.lasting_s)
    return begin + round(first_s * rate), end - round(end_s * rate)


def _holes(
    heard: Pass, note: Note, read: PartReader, rate: int, *, last: bool
) -> Iterator[MeasuredNote]:
    """Yield each hole of *note*, played with others: what it sounds, or why it is not measured."""
    at_s = sample_at(heard, note.start, rate) / rate
    first, until = _steady(heard, note, rate, last=last)
    moving = [mark for mark in COUNTED if mark in note.style]
    played = () if moving or until <= first else read(first, until)
    for each in note.sounded:
        others_hz = [other.hz for other in note.sounded if other != each]
        alone = of_one_hole(note, each)
        if moving:
            why = f"a {moving[0].value}"
            yield MeasuredNote(alone, at_s, None, not_measured=why)
        elif len(played) < _LEAST_CHORD_S * rate:
            yield MeasuredNote(alone, at_s, None, too_short=True)
        else:
            number = own_partial(each.hz, others_hz, len(played) / rate)
            why = "" if number else "a hole whose partials are all those of another"
            hz = partial_hz(np.asarray(played), rate, each.hz, number) if number else None
            yield MeasuredNote(alone, at_s, hz, not_measured=why)


def own_partial(hz: float, others_hz: Sequence[float], lasting_s: float) -> PartialRoom | None:
    """Return the partial of a tone of *hz* that lies furthest from those of all others.

    ``None`` where none can be told apart in *lasting_s*, as in the upper hole of an octave.
    """
    rooms = [
        PartialRoom(number, _room_cents(number * hz, others_hz, lasting_s))
        for number in range(1, _PARTIALS + 1)
    ]
    best = max(rooms, key=lambda room: (room.cents, -room.number))
    return best if best.cents >= _LEAST_ROOM_CENTS else None


def _room_cents(hz: float, others_hz: Sequence[float], lasting_s: float) -> float:
    """Return how far from *hz* a line can be looked for without meeting one of another tone."""
    nearest = min(abs(hz - max(1, round(hz / other)) * other) for other in others_hz)
    away = nearest - _LOBE / lasting_s
    return min(_FARTHEST_CENTS, 1200 * float(np.log2(1 + away / hz))) if away > 0 else 0.0


def partial_hz(sound: Samples, rate: int, hz: float, room: PartialRoom) -> float | None:
    """Return the pitch of a tone near *hz* among others by its own partial; ``None`` for none.

    By the top of a parabola through the logarithm of the spectrum, which a Gaussian window
    makes exact.
    """
    count = len(sound)
    places = (np.arange(count) - (count - 1) / 2) / (count / 2)
    size = 1 << (4 * count - 1).bit_length()
    lines = np.abs(np.fft.rfft(sound * np.exp(-0.5 * (_WINDOW * places) ** 2), size))
    wide = 2 ** (room.cents / 1200)
    low, high = (round(room.number * hz * side * size / rate) for side in (1 / wide, wide))
    top = low + int(np.argmax(lines[low : high + 1]))
    if lines[top] < _FAINT * float(np.max(lines)) or not lines[top]:
        return None
    before, at, after = np.log(np.maximum(lines[top - 1 : top + 2], 1e-300))
    if at <= max(before, after) - 1e-12:
        return None  # the flank of a line further off
    found = top + 0.5 * (before - after) / (before - 2 * at + after)
    return float(found * rate / size / room.number)


def slowing(lasts_s: float, hz: float) -> float:
    """Return how many times slower the ear gets a note of this length and height."""
    voice = max(1.0, hz / _VOICE_HZ)
    return voice if lasts_s * voice >= _BRIEF_S else min(_BRIEF_S / lasts_s, hz / _SLOWEST_HZ)


def tone_hz(tone: Samples, rate: int, times: float = 1.0) -> float | None:
    """Return the pitch of a steady *tone*, heard so many *times* slower; ``None`` for none."""
    loudest = float(np.max(np.abs(tone), initial=0.0))
    if loudest < _SILENT:
        return None
    count = round(len(tone) * RATE / rate * times)
    track = track_pitch(_played(tone, count), _NOTHING_WANTED)
    stays = find_events(track, gate_of(track))
    if not stays:
        return None
    longest = max(stays, key=lambda stay: stay.end_s - stay.steady_s)
    return longest.hz * count / RATE * rate / len(tone)


def _played(tone: Samples, count: int) -> Take:
    """Resample *tone* to so many samples: at another speed, or without its highest partials."""
    sound = np.fft.irfft(np.fft.rfft(tone), count)
    return Take.of(sound * (_LOUD / np.max(np.abs(sound), initial=_SILENT)))
