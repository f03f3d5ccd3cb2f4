"""The check of finished tones: every note of a sound file, heard by the ear that hears takes.

The ear is told nothing of the target.  It hears best at the pitch of a voice, and a note has to
last for some of its readings; so a high note or a short one is played to it slowly, as one slows a
recording to hear what went by too fast.  Its wrong notes are no more hidden by that than by hearing
them at their own speed.  On tones of known pitch from 65 to 5600 Hz it is then within 0.02 cent,
or within half a cent where a note has less than twelve periods.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from reedmill.ear.events import find_attacks, find_events, gate_of
from reedmill.ear.take import RATE, Take
from reedmill.ear.track import Expected, track_pitch
from reedmill.make.tone_check import MeasuredNote
from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.score.score import Note
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
_NOTHING_WANTED = Expected((), (), 40.0, 2000.0)


def verified(path: Path, plan: RecordingPlan, *, attacks: bool = True) -> list[MeasuredNote]:
    """Return every note that *plan* lets sound, as it is in the file *path*, which holds its guide.

    With *attacks* also when each begins.  ``OSError`` when the file cannot be read.
    """
    with opened_sound(path) as (read, rate):
        found: list[MeasuredNote] = []
        for heard in plan.passes:
            if heard.guide > 0:
                late = _late_ms(heard, read, rate) if attacks else {}
                found += (replace(each, late_ms=late.get(each.note.start)) for each in
                          _pitches(heard, read, rate))  # fmt: skip
        return found


def _pitches(heard: Pass, read: PartReader, rate: int) -> Iterator[MeasuredNote]:
    for breath in heard.attacks():
        for note in breath:
            yield _measured(heard, note, read, rate, last=note is breath[-1])


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
    begin = sample_at(heard, note.start, rate)
    end = sample_of(heard.silent_s(note), rate)
    # Measured where it is steady: after attack or slide, before the release.
    first = begin + round((heard.score.glide_s(note) if note.joined else 0.01) * rate)
    until = end - round((0.025 if last else 0.0) * rate)
    at_s = begin / rate
    if (until - first) / rate * note.hz < _LEAST_PERIODS:
        return MeasuredNote(note, at_s, None, too_short=True)
    times = slowing((until - first) / rate, note.hz)
    spare = max(0, until - first - round(_LONGEST_S / times * rate)) // 2
    return MeasuredNote(note, at_s, tone_hz(read(first + spare, until - spare), rate, times))


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
