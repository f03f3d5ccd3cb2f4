"""A tone with the noise of the breath in it: a table of hundreds of its periods.

Around every harmonic lies noise that makes it louder and softer and never quicker or slower:
what lies above is the mirror of what lies below, in the phase of the harmonic itself.  So there
is noise at every frequency, independent from harmonic to harmonic, and the pitch stays where it
is.  Measured and rejected: noise beside the tone, or one factor for all of the tone, either of
which takes a high note up to ten cents away for an instant.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.sound.signal.loudness import Samples

Waves = NDArray[np.complex128]
"""Complex amplitudes of harmonics, the fundamental first: peak and phase, a cosine where real."""

_POINTS = 1 << 18  # of the table: a second of a high note, four of the lowest
_FINE = 20  # points for each period of the highest harmonic: linear between, 45 dB under it
_BLOCK = 16_384  # samples at a time: what stays in a processor's cache


@dataclass(frozen=True, slots=True, eq=False)
class BreathingPeriods:
    """The periods of a tone, one after the other, after which they come again."""

    values: NDArray[np.float32]  # and once more the first
    points: int  # in one period

    @property
    def count(self) -> int:
        """The number of its periods."""
        return (len(self.values) - 1) // self.points

    def along(self, cycles: Samples, shift: int = 0) -> Samples:
        """Return the tone at every phase of *cycles*, in periods, *shift* of them further on."""
        sound = np.empty_like(cycles)
        for start in range(0, len(cycles), _BLOCK):
            block = slice(start, start + _BLOCK)
            sound[block] = self._look_up(cycles[block], shift)
        return sound

    def _look_up(self, cycles: Samples, shift: int) -> NDArray[np.float32]:
        point = cycles * self.points
        before: NDArray[np.int64] = point.astype(np.int64)
        point -= before
        before += shift * self.points
        before &= len(self.values) - 2
        low = np.take(self.values, before)
        before += 1
        found = np.take(self.values, before)
        found -= low
        found *= point.astype(np.float32)
        found += low
        return found


def breathing_periods(waves: Waves, noise: Waves) -> BreathingPeriods:
    """Return the tone of the harmonics *waves*, with noise as strong as *noise* around each.

    *noise* has the phases of *waves*, and may go on above them.
    """
    points = 1 << (_FINE * len(noise) - 1).bit_length()
    count = _POINTS // points
    spectrum = np.zeros(_POINTS // 2 + 1, dtype=np.complex128)
    spectrum[count : (len(waves) + 1) * count : count] = waves
    shares = _shares(count)
    for number, (wave, turns) in enumerate(zip(noise, _turns(len(noise), count), strict=True)):
        middle = count * (number + 1)
        spectrum[middle + 1 : middle + count] += wave * shares * turns
        spectrum[middle - count + 1 : middle][::-1] += wave * shares * turns.conj()
    spectrum *= 0.5 * _POINTS
    values = np.fft.irfft(spectrum, _POINTS).astype(np.float32)
    values = np.append(values, values[0])
    values.flags.writeable = False  # it is shared
    return BreathingPeriods(values, points)


def _shares(count: int) -> Samples:
    """Return how strong the noise is on either side of a harmonic, up to the next.

    A harmonic has the third beside it for itself.  Of the third in the middle it has the half
    that is further away, not the nearer one: so the noise is as strong everywhere, and is in its
    sum neither like the tone a period later nor unlike it, nor the liker the earlier one looks.
    With the nearer half Praat hears a high note 0.3 cents sharp.
    """
    away = np.arange(1, count) / count
    there = (away <= 1 / 3) | ((away > 1 / 2) & (away <= 2 / 3))
    # all lines together, on both sides, are as strong as what they lie around
    return np.asarray(there / np.sqrt(2 * np.count_nonzero(there)), dtype=np.float64)


@lru_cache(maxsize=8)
def _turns(rows: int, count: int) -> Waves:
    """Return the phases of the lines above each harmonic."""
    turns = np.exp(2j * np.pi * scattered(rows * (count - 1)))
    return np.asarray(turns.reshape(rows, count - 1), dtype=np.complex128)


def scattered(count: int) -> Samples:
    """Return *count* numbers from 0 to 1 that follow no order, always the same.

    A mixing of the bits of each place: the finaliser of MurmurHash3 (public domain), from memory.
    """
    bits: NDArray[np.uint32] = np.arange(1, count + 1, dtype=np.uint32) * np.uint32(0x9E3779B1)
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35)):
        bits = (bits ^ (bits >> np.uint32(shift))) * np.uint32(factor)
    bits ^= bits >> np.uint32(16)
    return np.asarray(bits / np.float64(2**32), dtype=np.float64)
