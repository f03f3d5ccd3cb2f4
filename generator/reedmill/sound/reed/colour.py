"""The colour of a reed: its harmonics by breath, pitch, bend, hands and strength.

A free reed chops the air into pulses, so that even and odd harmonics are there in balance.
Comb, hands and mouth bring out what lies around 1 kHz, and the edge of the reed something
between 3 and 5 kHz.  The figures are chosen by ear, with the centroid where that of recorded
harmonicas is (``tests/benchmarks/reed_voice.py`` measures both); no published source.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from reedmill.harp import Breath, Reed
from reedmill.sound.reed.breath_noise import Waves, scattered
from reedmill.sound.reed.hole_lines import MUTED_ABOVE_HZ
from reedmill.sound.reed.still_tone import CLOSED_REED, REED
from reedmill.sound.signal.loudness import Samples, scale_to_lufs
from reedmill.sound.signal.tone import carried


@dataclass(frozen=True, slots=True)
class _Resonance:
    """A band around a frequency that is brought out: how much power, and how narrow."""

    hz: float
    gain: float
    sharp: float

    def power(self, hz: Samples) -> Samples:
        """Return the power at *hz*, over 1 for what is not brought out."""
        off = self.sharp * (hz / self.hz - self.hz / hz)
        return np.asarray(self.gain / (1 + off**2), dtype=np.float64)


_FALLS = {Breath.BLOW: 1.20, Breath.DRAW: 1.12}  # 7 dB an octave; drawn reeds have more edge
_HIGH_FALLS, _HIGH_HZ = 0.12, 262.0  # so much less an octave above middle C: small reeds are keen
_EVEN = {Breath.BLOW: 0.85, Breath.DRAW: 1.0}  # even harmonics beside the odd ones
_BODY = {Breath.BLOW: _Resonance(1050, 3.0, 1.5), Breath.DRAW: _Resonance(1250, 3.0, 1.5)}
_EDGE = _Resonance(3800, 22.0, 1.0)
_SMOOTH_HZ = 6500.0  # above it 12 dB an octave less
# Of a semitone of bend: rounder, the mouth tuned lower, and less edge.
_BEND_FALLS, _BEND_LOWERS, _BEND_DULLS = 0.06, 0.06, 0.2
_OVER_FALLS = 0.10  # an overbend is thin
_STEP_DB, _MOST_STEPS = 3.0, 4  # as finely is strength told apart
_SOFT_FALLS = 0.05  # of each step

DARK_ABOVE = 2.3
"""The number of the harmonic where a tone that only begins to speak falls 6 dB an octave more."""

# One set of phases for the harmonics of every reed.  From a search at random for the lowest peaks
# of the reeds from G2 to G5 (half of those with M. R. Schroeder's rule of 1970), begun where the
# dark tone of any reed, up to C8, is loud within a millisecond.
_RADIANS = np.array((
    2.21, 1.90, -1.37, 2.54, 1.27, -1.99, 1.62, -2.69, 0.33, -2.75, 1.20, -2.03, 1.76, -2.25, 0.09,
    -2.66, -0.81, 1.30, -0.98, 1.03, 2.25, -0.54, 2.37, -1.11, 0.44, 3.11, -0.13, 2.93, -1.13,
    0.86, -2.96, 1.09,
))  # fmt: skip
MOST_HARMONICS, _MOST_NOISE = 32, 64  # and how many have noise around them
_MURMUR_HZ, _HISS_HZ, _HIGHEST_HZ = 500.0, 5000.0, 12_000.0  # the band of a breath
# The noise against the tone, as amplitudes: 16 to 19 dB under it by Praat, as in a clear voice and
# a played harmonica.  In a high tone there are fewer harmonics for it to lie around, and it is
# stronger.
_DEPTH = {Breath.BLOW: 0.13, Breath.DRAW: 0.135}
_DEEPER, _DEEPER_HZ = 0.12, 900.0  # the power by which it grows with a pitch above

PAGE_AIR = {"hz": 1250.0, "sharp": 0.35, "depth": 0.125}
"""The noise of a page, which lies beside its tones: the middle of its band, how narrow it is, and
its amplitude against theirs."""


@dataclass(frozen=True, slots=True)
class ReedColour:
    """All that gives a reed its harmonics, beside its pitch."""

    breath: Breath
    bend: float = 0.0  # semitones
    over: bool = False
    closed: bool = False  # the hands round the harp
    softer: int = 0  # steps of 3 dB under the strongest


def colour_of(reed: Reed, *, closed: bool = False, amplitude: float = 1.0) -> ReedColour:
    """Return the colour of *reed* at the *amplitude* of its attack, 1 where it is strongest.

    >>> colour_of(Reed.parse("-3''"), amplitude=0.71)
    ReedColour(breath=<Breath.DRAW: 'draw'>, bend=2.0, over=False, closed=False, softer=1)
    """
    softer = round(-20 * float(np.log10(max(amplitude, 0.01))) / _STEP_DB)
    bend = reed.bend + 0.5 * reed.quarter
    return ReedColour(reed.breath, bend, reed.over, closed, min(max(softer, 0), _MOST_STEPS))


def colour_waves(colour: ReedColour, hz: float, highest_hz: float, rate: int) -> Waves:
    """Return the harmonics of a tone of *hz*, as loud as every steady tone is.

    As many as *rate* carries of *highest_hz*, to which it may slide.  Those of every colour have
    the same phases, so that one goes over into another without a harmonic that fades and comes
    again.
    ``InputError`` when the rate cannot carry the fundamental.
    """
    found, partials_hz = _harmonics(colour, hz, carried(MOST_HARMONICS, highest_hz, rate))
    lufs = CLOSED_REED.lufs if colour.closed else REED.lufs
    found *= scale_to_lufs(found, partials_hz, lufs) / np.hypot(1, _depth(colour, hz))
    return np.asarray(found * reed_phases(len(found)), dtype=np.complex128)


def told_amplitudes(colour: ReedColour, hz: float, rate: int) -> list[float]:
    """Return the amplitudes of ``colour_waves`` as plain numbers, for a synthesiser elsewhere."""
    return [float(each) for each in np.abs(colour_waves(colour, hz, hz, rate))]


def told_radians() -> list[float]:
    """Return the phase of every harmonic, of cosines, as plain numbers."""
    return [float(each) for each in _RADIANS]


def noise_waves(colour: ReedColour, hz: float, highest_hz: float, rate: int) -> Waves:
    """Return the noise of the breath around each harmonic of ``colour_waves``, in its phases.

    As far as a breath is heard, below or above the last of them.
    """
    most = max(min(_MOST_NOISE, int(_HIGHEST_HZ / hz)), 1)
    count = carried(most, highest_hz, rate)
    tone = np.abs(colour_waves(colour, hz, highest_hz, rate))
    noise_hz = hz * np.arange(1, count + 1, dtype=np.float64)
    band = np.sqrt(1 + _BODY[colour.breath].power(noise_hz))
    band /= np.hypot(1, (_MURMUR_HZ / noise_hz) ** 2) * np.hypot(1, (noise_hz / _HISS_HZ) ** 2)
    if colour.closed:
        band /= np.hypot(1.0, noise_hz / MUTED_ABOVE_HZ)
    band *= _depth(colour, hz) * np.sqrt(np.sum(tone**2) / np.sum(band**2))
    return np.asarray(band * reed_phases(count), dtype=np.complex128)


def _depth(colour: ReedColour, hz: float) -> float:
    """Return the noise of a tone of *hz* as an amplitude against it."""
    return float(_DEPTH[colour.breath] * max(hz / _DEEPER_HZ, 1.0) ** _DEEPER)


def _harmonics(colour: ReedColour, fundamental_hz: float, count: int) -> tuple[Samples, Samples]:
    """Return *count* amplitudes, not yet levelled, and their frequencies."""
    numbers = np.arange(1, count + 1, dtype=np.float64)
    hz = fundamental_hz * numbers
    bent = colour.bend
    falls = _FALLS[colour.breath] + bent * _BEND_FALLS + colour.softer * _SOFT_FALLS
    falls += colour.over * _OVER_FALLS
    falls -= _HIGH_FALLS * max(float(np.log2(fundamental_hz / _HIGH_HZ)), 0.0)
    found = numbers**-falls
    found[1::2] *= _EVEN[colour.breath]
    body = _BODY[colour.breath].power(hz / (1 - _BEND_LOWERS * bent))
    edge = _EDGE.power(hz) * max(1 - _BEND_DULLS * bent, 0.0)
    found *= np.sqrt(1 + body + edge) / (1 + (hz / _SMOOTH_HZ) ** 2)
    if colour.closed:
        found /= np.hypot(1.0, hz / MUTED_ABOVE_HZ)
    return np.asarray(found, dtype=np.float64), hz


def darkened(waves: Waves) -> Waves:
    """Return the *waves* of a tone that only begins to speak, or dies away."""
    numbers = np.arange(1, len(waves) + 1, dtype=np.float64)
    return np.asarray(waves / np.hypot(1.0, numbers / DARK_ABOVE), dtype=np.complex128)


@lru_cache(maxsize=64)
def reed_phases(count: int) -> Waves:
    """Return the phase of each of *count* harmonics as a complex number of length 1."""
    beyond = 2 * np.pi * scattered(max(count - len(_RADIANS), 0))
    radians = np.concatenate([_RADIANS[:count], beyond])
    return np.asarray(np.exp(1j * radians), dtype=np.complex128)
