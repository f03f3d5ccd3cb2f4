"""The built-in band, which needs nothing installed: plucked bass, organ or piano, drums.

A struck or plucked string is a power series: with z = exp((i w - d) t), its harmonic n is the
real part of z to the n, which sounds n times as high and dies n times as fast.  So a tone is
a polynomial, exact in pitch, and no harmonic lies above what the sample rate carries.
The numbers are chosen by ear; no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reedmill.score.arrangement import Part
from reedmill.sound.band.drums import drum
from reedmill.sound.band.tones import Tone, ToneLengths, ToneSamples, on_time
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.rumble import tone_without_rumble
from reedmill.sound.signal.tone import Timbre, period
from reedmill.theory.pitch import equal_hz

_HIGHEST = 0.45  # of the sample rate: no harmonic above it
_HEARD_HZ = 16_000.0  # few adults hear above it, and each harmonic costs time
_ORGANS = range(16, 24)  # the General MIDI family whose tones are held, from 0
_ATTACK_S = 0.0015  # no click, and still a pluck
_PERIODS_BEFORE = 2  # of a string, in which its loudness has risen


@dataclass(frozen=True, slots=True)
class _String:
    """The excitation and decay of a string."""

    pluck: float  # where along the string, as a share of its length
    falls_hz: float  # of the fundamental: 1/e after 1 / falls_hz seconds
    dulls_hz: float  # what each harmonic more falls by
    harmonics: int


# A bass is plucked nearer the middle of its string than a piano hammer strikes, so it is rounder.
# Chosen by ear, see above.
_BASS = _String(pluck=0.18, falls_hz=0.9, dulls_hz=0.55, harmonics=16)
_PIANO = _String(pluck=0.13, falls_hz=1.1, dulls_hz=0.9, harmonics=14)

# Drawbars 8', 4', 2 2/3' and 2', each a sine, and a trace of what a loudspeaker adds.
_ORGAN = Timbre((1.0, 0.55, 0.32, 0.20, 0.03, 0.05, 0.0, 0.02), soft_above_hz=2500.0, lufs=-20.0)


def plain_tones(wanted: ToneLengths, reference_hz: float, rate: int) -> dict[Tone, ToneSamples]:
    """Return the *wanted* tones, tuned to A4 = *reference_hz*, at *rate*.

    A drum that dies away may be shorter than it was wanted.  ``InputError`` for a key that
    is not a drum.
    Each is mono, 32-bit, from its onset on.
    """
    return {
        tone: _tone(tone, wanted[tone], reference_hz, rate).astype(np.float32)
        for tone in sorted(wanted)
    }


def _tone(tone: Tone, count: int, reference_hz: float, rate: int) -> Samples:
    loud = tone.strength / 127
    if tone.part is Part.DRUMS:
        return tone_without_rumble(drum(tone.key, count, rate), rate) * loud**2
    hz = equal_hz(tone.key, reference_hz)
    if tone.part is Part.COMP and tone.program in _ORGANS:
        cycles = np.arange(count, dtype=np.float64) * (hz / rate)
        sound = period(_ORGAN, hz, rate).along(cycles)
    else:
        string = _BASS if tone.part is Part.BASS else _PIANO
        more = round(_PERIODS_BEFORE / hz * rate)
        sound = _plucked(string, hz, loud, count + more, rate)
    rise = min(round(_ATTACK_S * rate), len(sound))
    sound[:rise] *= np.sin(np.pi / 2 * np.arange(rise) / max(rise, 1))
    return on_time(sound, hz, rate)[:count] * loud**2


def _plucked(string: _String, hz: float, loud: float, count: int, rate: int) -> Samples:
    """Return the tone of a plucked string; the harder, the brighter."""
    most = min(string.harmonics, int(min(_HIGHEST * rate, _HEARD_HZ) / hz))
    numbers = np.arange(1, max(most, 1) + 1)
    levels = np.abs(np.sin(np.pi * numbers * string.pluck)) / numbers
    # the softer the stroke, the faster its harmonics weaken; chosen by ear
    levels *= (0.35 + 0.5 * loud) ** (0.35 * (numbers - 1))
    seconds = np.arange(count) / rate
    around = np.exp(seconds * complex(-string.dulls_hz, 2 * np.pi * hz))
    whole = np.zeros(count, dtype=np.complex128)
    for level in levels[::-1]:
        whole += level
        whole *= around
    falls = max(string.falls_hz - string.dulls_hz, 0.0)
    return np.asarray(whole.imag * np.exp(-falls * seconds) / levels.sum(), dtype=np.float64)
