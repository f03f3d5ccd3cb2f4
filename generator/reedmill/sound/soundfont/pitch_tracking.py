"""The pitch of a held tone, or that it has none, from the spectra of short frames.

Each frame goes through a Gaussian window, under which a line of the spectrum is a parabola
in decibels, so that quadratic interpolation finds its top exactly.  The pitch is the mean
of the harmonics' frequencies, each divided by its number and weighted by its power.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reedmill.sound.signal.loudness import Samples

FRAME_S = 0.093
"""Seconds of sound behind each reading: short enough to see a vibrato of 6 Hz."""

_HOP_S = 0.02  # eight readings in a period of a 6 Hz vibrato
_LINES = 16_384  # points of the transform: four a line, so that the parabola is read near its top
_HARMONICS = 8  # weighted by power, higher ones would say little
_AUDIBLE = 1e-5  # root mean square under which a frame is silent, with full scale 1
_SOUNDING = 0.01  # of the loudest frame: what is softer has died away
_PERIODIC = 0.6  # the least correlation with itself one period later
_LOWEST_HZ, _HIGHEST_HZ = 30.0, 6000.0  # of a bass string, and of a high harp's overbends


@dataclass(frozen=True, slots=True)
class TonePitches:
    """The pitch of a tone over time; empty when it is silent or has no pitch."""

    starts_s: Samples  # where each frame begins
    hz: Samples


NO_TRACK = TonePitches(np.zeros(0), np.zeros(0))


def silent(sound: Samples) -> bool:
    """Tell whether *sound* is too soft to be heard."""
    return not len(sound) or float(np.sqrt(np.mean(sound**2))) < _AUDIBLE


def track(sound: Samples, rate: int, frame_s: float = FRAME_S) -> TonePitches:
    """Return the pitch of *sound* (mono, one tone) in every frame in which it sounds.

    A frame needs four periods of the tone.

    >>> seconds = np.arange(44_100) / 44_100
    >>> heard = track(np.sin(2 * np.pi * 440.3 * seconds), 44_100)
    >>> bool(np.all(np.abs(heard.hz - 440.3) < 0.001))
    True
    """
    frames, starts = _frames(sound, rate, frame_s)
    levels = np.sqrt(np.mean(frames**2, axis=1)) if len(frames) else np.zeros(0)
    loud = levels > max(_AUDIBLE, _SOUNDING * float(levels.max(initial=0.0)))
    if not np.any(loud):
        return NO_TRACK
    frames, starts = frames[loud], starts[loud]
    near_hz = _coarse_hz(frames[len(frames) // 2], rate)
    if near_hz is None:
        return NO_TRACK
    return TonePitches(starts / rate, _refined_hz(frames, near_hz, rate))


def _frames(sound: Samples, rate: int, frame_s: float) -> tuple[Samples, NDArray[np.int64]]:
    size, hop = round(frame_s * rate), round(_HOP_S * rate)
    if len(sound) < size:
        return np.zeros((0, size)), np.zeros(0, dtype=np.int64)
    starts = np.arange(0, len(sound) - size + 1, hop)
    return np.lib.stride_tricks.sliding_window_view(sound, size)[starts], starts


def _coarse_hz(frame: Samples, rate: int) -> float | None:
    """Return the pitch to a few cents: the first strong peak of the autocorrelation, if any."""
    spectrum = np.fft.rfft(frame - frame.mean(), 2 * len(frame))
    correlation = np.fft.irfft(np.abs(spectrum) ** 2)[: len(frame) // 2]
    if correlation[0] <= _AUDIBLE**2 * len(frame):  # nothing but a constant, which is not a tone
        return None
    correlation *= len(frame) / np.arange(len(frame), len(frame) - len(correlation), -1)
    correlation /= correlation[0]
    longest = min(len(correlation) - 1, int(rate / _LOWEST_HZ))
    lags = np.arange(max(2, int(rate / _HIGHEST_HZ)), longest)
    here = correlation[lags]
    peak = (here >= correlation[lags - 1]) & (here >= correlation[lags + 1])
    # the first peak nearly as high as the highest: later ones are its multiples
    strong = lags[peak & (here > max(_PERIODIC, 0.93 * float(here[peak].max(initial=0.0))))]
    if not len(strong):
        return None
    lag = int(strong[0])
    return float(rate / (lag + _top(correlation[lag - 1 : lag + 2])))


def _refined_hz(frames: Samples, near_hz: float, rate: int) -> Samples:
    """Return each frame's pitch from its harmonics, about *near_hz* apart."""
    levels_db = _levels_db(frames)
    bin_hz = rate / (2 * (levels_db.shape[1] - 1))
    # below half the rate, with room for the skirt of the highest line
    count = max(1, min(_HARMONICS, int(0.45 * rate / near_hz)))
    found, powers = [], []
    for number in range(1, count + 1):
        # a third of the way to the next harmonic, so that none is taken for its neighbour
        middle, reach = number * near_hz / bin_hz, 0.3 * near_hz / bin_hz
        low = int(middle - reach)
        part = levels_db[:, low : int(middle + reach) + 2]
        at = np.clip(np.argmax(part, axis=1), 1, part.shape[1] - 2)
        rows = np.arange(len(part))
        three = np.stack([part[rows, at - 1], part[rows, at], part[rows, at + 1]])
        found.append((low + at + _top(three)) * bin_hz / number)
        powers.append(10 ** (three[1] / 10))
    weights = np.array(powers)
    return np.asarray(np.sum(weights * np.array(found), axis=0) / weights.sum(axis=0))


def _levels_db(frames: Samples) -> Samples:
    size = frames.shape[1]
    # a Gaussian that ends at four times its deviation: what is cut off is 70 dB down
    places = (np.arange(size) - (size - 1) / 2) / (size / 8)
    points = max(_LINES, 2 << (size - 1).bit_length())
    lines = np.abs(np.fft.rfft(frames * np.exp(-(places**2) / 2), points, axis=1))
    return np.asarray(20 * np.log10(lines + 1e-12))


def _top(three: Samples) -> Samples:
    """Return how far the parabola through three values peaks from its middle, -1/2 to 1/2."""
    left, middle, right = three
    bend = left - 2 * middle + right
    # flat where there is no line at all
    return np.asarray(np.clip(0.5 * (left - right) / np.where(bend < 0, bend, -1.0), -0.5, 0.5))
