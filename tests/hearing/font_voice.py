"""The recorded harmonica of a free font, played by FluidSynth and bent by the pitch wheel.

FluidR3_GM by Frank Wen (MIT licence; Debian's package fluid-soundfont-gm), program 22.  How its
keys are tuned and how long their attacks take is measured first, with Praat and by their
loudness, and taken off, so that what is played is what the truth says.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import fluidsynth
import numpy as np
import parselmouth

from hearing.playing import Played
from hearing.sounding import RATE, Samples, breaths_of, curve_of

FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
_HARMONICA = 22  # of General MIDI, counted from 1: 23
_HIGHEST = 96  # key that the font has a sound for; above it the wheel bends this one up
_STEP = 64  # samples that FluidSynth makes at once; all counts are multiples of it
_WHEEL_SEMITONES = 12
_MIDDLE = 8192
_VELOCITY = 90
_LOUDER_DB = 18.0  # than FluidSynth plays a single voice: as loud as the additive one
_ATTACK_DB = 12.0  # under its later loudness a tone has begun
_RELEASE_S = 0.02  # a key is let go so long before its tone has ended


@dataclass(frozen=True)
class FontKey:
    """What one key of the font adds of its own."""

    cents: float  # over equal temperament
    attack_s: float


def recorded_sound(played: Sequence[Played], length_s: float, rng: np.random.Generator) -> Samples:
    """*played* as samples from -1 to 1, some 20 dB under full scale."""
    whole = np.zeros(int(length_s * RATE) + RATE)
    for breath in breaths_of(played):
        tones, early = _breath(breath, rng)
        first = max(0, round((breath[0].start_s - early) * RATE))
        tones = tones[: len(whole) - first]
        whole[first : first + len(tones)] += tones
    return whole[: int(length_s * RATE)] * 10 ** (_LOUDER_DB / 20)


def _breath(breath: Sequence[Played], rng: np.random.Generator) -> tuple[Samples, float]:
    """The tones of one breath, and the seconds its attack takes before the breath counts."""
    start = breath[0]
    key = min(_HIGHEST, round(69 + 12 * math.log2(start.from_hz / 440)))
    own = font_key(key)
    seconds = breath[-1].end_s - start.start_s + own.attack_s
    at = np.arange(max(1, int((seconds - _RELEASE_S) * RATE / _STEP))) * _STEP / RATE
    passed = np.clip(at - own.attack_s, 0, breath[-1].end_s - start.start_s)
    wheel = curve_of(breath, passed, rng) - 100 * (key - 69) - own.cents
    synth, channel = _synth(), 0
    _wheel_range(synth, channel)
    parts = []
    for step, cents in enumerate(wheel):
        bent = round(cents / 100 / _WHEEL_SEMITONES * _MIDDLE)
        synth.pitch_bend(channel, int(np.clip(bent, -_MIDDLE, _MIDDLE - 1)))
        if not step:
            synth.noteon(channel, key, _VELOCITY)
        parts.append(_samples(synth, _STEP))
    synth.noteoff(channel, key)
    parts.append(_samples(synth, 70 * _STEP))
    synth.all_sounds_off(channel)
    _samples(synth, 64 * _STEP)
    tones = np.concatenate(parts)
    return tones * _levels(breath, len(tones), own.attack_s), own.attack_s


def _levels(breath: Sequence[Played], count: int, attack_s: float) -> Samples:
    """How loud each sample is made, with the changes between notes smoothed."""
    passed = np.arange(count) / RATE - attack_s + breath[0].start_s
    starts = np.array([each.start_s for each in breath])
    number = np.clip(np.searchsorted(starts, passed, side="right") - 1, 0, len(breath) - 1)
    loud = np.array([each.level_db for each in breath])[number]
    smooth = np.convolve(np.pad(loud, 220, mode="edge"), np.ones(441) / 441, "valid")[:count]
    return np.asarray(10 ** (smooth / 20))


@cache
def font_key(key: int) -> FontKey:
    """The tuning of *key* by Praat, and how long its attack takes."""
    synth = _synth()
    _wheel_range(synth, 0)
    synth.pitch_bend(0, 0)
    synth.noteon(0, key, _VELOCITY)
    tone = _samples(synth, 1400 * _STEP)
    synth.noteoff(0, key)
    synth.all_sounds_off(0)
    _samples(synth, 64 * _STEP)
    due = 440 * 2 ** ((key - 69) / 12)
    pitch = parselmouth.Sound(tone, RATE).to_pitch_ac(
        0.01, pitch_floor=0.7 * due, pitch_ceiling=1.5 * due
    )
    hz = pitch.selected_array["frequency"]
    power = np.convolve(tone**2, np.ones(220) / 220, "same")
    least = float(np.median(power[RATE // 2 :])) * 10 ** (-_ATTACK_DB / 10)
    cents = 1200 * math.log2(float(np.median(hz[hz > 0])) / due)
    return FontKey(cents, float(np.argmax(power > least)) / RATE)


@cache
def _synth() -> fluidsynth.Synth:
    """One for each process: the font takes 150 MB."""
    assert FONT.is_file(), f"this plays {FONT}: apt-get install fluid-soundfont-gm"
    synth = fluidsynth.Synth(gain=0.6, samplerate=float(RATE))
    for effect in ("reverb", "chorus"):
        synth.setting(f"synth.{effect}.active", 0)
    synth.program_select(0, synth.sfload(str(FONT)), 0, _HARMONICA)
    return synth


def _wheel_range(synth: fluidsynth.Synth, channel: int) -> None:
    """Set how far the wheel bends (registered parameter 0 of the MIDI specification)."""
    for control, value in ((101, 0), (100, 0), (6, _WHEEL_SEMITONES), (38, 0)):
        synth.cc(channel, control, value)


def _samples(synth: fluidsynth.Synth, count: int) -> Samples:
    """The next *count* samples, unrounded: 16-bit ones are dithered, never twice alike."""
    both = (ctypes.c_float * (2 * count))()
    _writer()(synth.synth, count, both, 0, 2, both, 1, 2)
    sides = np.frombuffer(memoryview(both), np.float32).reshape(-1, 2)
    return np.asarray(sides.mean(axis=1), np.float64)


@cache
def _writer() -> Callable[..., int]:
    pointer, whole = ctypes.c_void_p, ctypes.c_int
    kinds = (pointer, whole, pointer, whole, whole, pointer, whole, whole)
    arguments = [(str(number), kind, 1) for number, kind in enumerate(kinds)]
    found: Callable[..., int] = fluidsynth.cfunc("fluid_synth_write_float", whole, *arguments)
    return found
