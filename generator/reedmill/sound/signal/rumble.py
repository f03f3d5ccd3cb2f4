"""High-passes for sound that may hold what no loudspeaker should move for.

Below the lowest string of a bass there is no music, only what a stroke and its end leave there.
A single tone loses most of it to a filter that answers after the stroke alone.  What is left,
and what the ends of tones add, goes in one that has no phase, so that it moves no attack; it
works in blocks counted from the start of the recording, so any stretch comes out as it does in
the whole.  By itself it would be heard 20 ms before the stroke of a low string.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.sound.signal.limiter import Stem
from reedmill.sound.signal.loudness import Samples

# The open E of a bass is 41.2 Hz, and 40.3 where A4 is 430 Hz.
_STOP_HZ, _PASS_HZ = 22.0, 40.0
_DOWN_DB = 60.0
_BLOCK_S = 4
_KEPT = 2  # blocks: a second is asked for at a time

_TONE_HZ, _TONE_ORDER = 29.0, 6  # of a Butterworth filter: -0.1 dB at 41.2 Hz, -20 dB at 20 Hz
_ANSWERS_S = 1.0  # it has fallen by more than 100 dB then


def tone_without_rumble(sound: Samples, rate: int) -> Samples:
    """Return the samples of a tone without what lies far below its bass; nothing comes earlier."""
    count = _quick(len(sound) + round(_ANSWERS_S * rate))
    spectrum = np.fft.rfft(sound, count)
    spectrum *= _tone_gains(count, rate)
    return np.asarray(np.fft.irfft(spectrum, count)[: len(sound)])


@lru_cache(maxsize=8)
def _tone_gains(count: int, rate: int) -> NDArray[np.complex128]:
    """Return the gain of each line of a transform of *count* samples, poles by Butterworth."""
    turned = 1j * np.fft.rfftfreq(count, 1 / rate) / _TONE_HZ
    gains = np.ones(len(turned), dtype=np.complex128)
    for number in range(_TONE_ORDER):
        pole = np.exp(1j * np.pi * (2 * number + _TONE_ORDER + 1) / (2 * _TONE_ORDER))
        gains *= turned / (turned - pole)
    return gains


def without_rumble(raw: Stem, rate: int) -> Stem:
    """Return *raw* without what lies below 25 Hz; from 40 Hz up it is as it was."""
    size, reach = _BLOCK_S * rate, (_taps(rate) - 1) // 2

    @lru_cache(maxsize=_KEPT)
    def block(number: int) -> Samples:
        first, last = number * size - reach, (number + 1) * size + reach
        sound = raw(max(first, 0), last)
        count, gains = _gains(size + 2 * reach, rate)
        spectrum = np.fft.rfft(np.concatenate([np.zeros(max(-first, 0)), sound]), count)
        spectrum *= gains
        clean = np.fft.irfft(spectrum, count)[reach : reach + size]
        clean.flags.writeable = False  # it is kept
        return clean

    def between(first: int, last: int) -> Samples:
        whole = [block(number) for number in range(first // size, -(-last // size))]
        start = first // size * size
        joined = np.concatenate(whole) if whole else np.zeros(0)
        return joined[first - start : last - start].copy()

    return between


def _taps(rate: int) -> int:
    """Return how long the filter is, an odd number of samples (J. F. Kaiser 1974, from memory)."""
    width = 2 * np.pi * (_PASS_HZ - _STOP_HZ) / rate
    return 2 * int((_DOWN_DB - 8) / (2.285 * width) / 2) + 1


@lru_cache(maxsize=2)
def _gains(least: int, rate: int) -> tuple[int, Samples]:
    """Return how many samples to transform, at least *least*, and the gain of each line."""
    taps = _taps(rate)
    steps = np.arange(taps) - (taps - 1) / 2
    edge = (_STOP_HZ + _PASS_HZ) / rate  # twice the middle, in cycles a sample
    low = edge * np.sinc(edge * steps) * np.kaiser(taps, 0.1102 * (_DOWN_DB - 8.7))
    low /= low.sum()  # nothing at all is left of a steady offset
    count = _quick(least)
    around = np.roll(np.concatenate([low, np.zeros(count - taps)]), -(taps // 2))
    return count, 1.0 - np.fft.rfft(around).real


def _quick(least: int) -> int:
    """Return a size of at least *least* that is fast to transform: 2, 3 and 5 its only factors."""
    sizes = (
        (1 << max(0, (-(-least // odd) - 1).bit_length())) * odd
        for odd in (1, 3, 5, 9, 15, 25, 27, 45)
    )
    return min(sizes)
