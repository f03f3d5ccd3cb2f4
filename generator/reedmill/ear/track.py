"""The pitch track of a take: frequency, clarity and level a hundred times a second.

The autocorrelation of a windowed stretch, divided by the window's own, is 1 at every period of a
periodic sound (Boersma, "Accurate short-term analysis of the fundamental frequency", 1993); one
minus it is the difference function of YIN (de Cheveigne and Kawahara, 2002).  The period is
found at its first peak and then measured over as many periods as the window holds, which
divides the error by their number.

A drone an octave below makes the whole sound periodic at *its* period, a weak first partial
makes a tone look like its octave: neither can be told from the sound alone when the peaks are
nearly alike.  Then, and only then, the notes that are wanted decide; a wrong octave that is
plainly there is always reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reedmill.base import stopping
from reedmill.ear.take import RATE, Floats, Take

HOP = RATE // 100
"""Samples from one reading to the next; each is stamped at the middle of its window."""

HOP_S = HOP / RATE

Doubles = NDArray[np.float64]

_WINDOW = 1024  # samples: 64 ms, six periods of the lowest reed of a low harp
_SIZE = 2048  # points of the transform: twice the window, so that lags do not wrap round
_FINER = 2  # lags a sample
_LONGEST_LAG = round(0.028 * RATE) * _FINER
_CHUNK = 256  # readings worked on at once
_FADE_HZ = (5500.0, 7500.0)  # above it nothing of use, and noise: faded out between the two
_SLIPPED = 0.04  # a period that many of them contradict by this share is none
_ENOUGH = 0.5  # autocorrelation under which there is no period at all
_PLAIN = 0.96  # a shorter period this near the best is the period, whatever is wanted
_LIKELY = 0.80  # ... and this near it, where it is wanted and the longer one is not
_EVEN = 0.87  # ... and this near it, where both are: a drone explains the longer one
_MOST_SHARES = 6  # of the longest period: a drone lies up to two octaves and a fifth below
_NEAR = 0.7  # semitones from a known note: out of tune a note is still that note
_ON_THE_HARP = 1  # of ``_strangeness``: wanted, or a natural note


@dataclass(frozen=True, slots=True)
class PitchTrack:
    """Readings every ``HOP_S`` seconds from 0 on, in arrays of one length."""

    hz: Doubles  # nan where there is no period
    clarity: Floats  # the autocorrelation at the period, 1 for a perfectly periodic sound
    level_db: Floats  # of the window against full scale, without what lies below the harp
    rival_hz: Doubles  # read without what is wanted, where that is another note of the harp
    loudness_db: Floats  # twice as often, every HOP_S / 2: the level of 15 ms around

    def __len__(self) -> int:
        return len(self.hz)

    @property
    def cents(self) -> Doubles:
        """The pitch in cents above 440 Hz (A4).

        One for each reading, not a number where there is no pitch.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            return 1200 * np.log2(self.hz / 440.0)


@dataclass(frozen=True, slots=True)
class Expected:
    """The pitches a take may hold; they settle octaves the sound leaves open, nothing else."""

    wanted_hz: tuple[float, ...]  # the notes of the score
    possible_hz: tuple[float, ...]  # natural notes of the harp
    lowest_hz: float
    highest_hz: float


def track_pitch(take: Take, expected: Expected) -> PitchTrack:
    """Return the pitch track of *take*."""
    tracker = _Tracker(expected)
    count = len(take.steps) // HOP + 1
    parts = [tracker.readings(take, first, min(first + _CHUNK, count)) for first in
             range(0, count, _CHUNK)]  # fmt: skip
    hz, clarity, level, rival, loud = (np.concatenate(each) for each in zip(*parts, strict=True))
    return PitchTrack(hz, clarity, level, rival, loud)


class _Tracker:
    """The windows and tables that all stretches of one take share."""

    def __init__(self, expected: Expected) -> None:
        lowest, highest = expected.lowest_hz, min(expected.highest_hz, 0.45 * RATE)
        self.window = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
        spectrum = np.abs(np.fft.rfft(self.window, _SIZE)) ** 2
        hz = np.fft.rfftfreq(_SIZE, 1 / RATE)
        fade = np.clip((_FADE_HZ[1] - hz) / (_FADE_HZ[1] - _FADE_HZ[0]), 0, 1)
        self.keep = (fade * np.clip((hz - 0.6 * lowest) / (0.25 * lowest), 0, 1)).astype(np.float32)
        self.own = _lags(spectrum[None, :].astype(np.float32))[0]
        self.own /= self.own[0]
        self.low_lag = max(2 * _FINER, int(_FINER * RATE / highest))
        self.high_lag = min(_LONGEST_LAG - 2, int(_FINER * RATE / lowest) + 2)
        self.wanted, self.possible = _keys(expected.wanted_hz), _keys(expected.possible_hz)

    def readings(
        self, take: Take, first: int, last: int
    ) -> tuple[Doubles, Floats, Floats, Doubles, Floats]:
        """Return the readings from number *first* to *last*."""
        stopping.check()
        start = first * HOP - _WINDOW // 2
        sound = take.part(start, (last - 1) * HOP + _WINDOW // 2)
        frames = np.lib.stride_tricks.sliding_window_view(sound, _WINDOW)[::HOP]
        power = np.abs(np.fft.rfft(frames * self.window, _SIZE)) ** 2 * self.keep
        lags = _lags(power)
        energy = lags[:, 0].copy()
        level = 10 * np.log10(np.maximum(energy / float(np.sum(self.window**2)), 1e-12))
        lags /= np.maximum(energy, 1e-12)[:, None]
        lags /= np.maximum(self.own, 0.02)
        period, clarity, rival = self._periods(lags)
        hz, rival_hz = _FINER * RATE / period, _FINER * RATE / rival
        return hz, clarity.astype(np.float32), level, rival_hz, self._loudness(take, first, last)

    def _loudness(self, take: Take, first: int, last: int) -> Floats:
        """Return the level of 15 ms around every half hop, without hum and rumble."""
        half = HOP // 2
        start = first * HOP - 3 * half // 2
        sound = take.part(start - 1, start + (2 * (last - first) + 2) * half)
        blocks = ((sound[1:] - 0.9 * sound[:-1]) ** 2).reshape(-1, half).sum(axis=1)
        power = (blocks[:-2] + blocks[1:-1] + blocks[2:]) / (3 * half)
        return np.asarray(10 * np.log10(np.maximum(power, 1e-12)), np.float32)

    def _periods(self, lags: Floats) -> tuple[Doubles, Doubles, Doubles]:
        """Return each row's period in lags, its periodicity, and its rival's period."""
        rows = np.arange(len(lags))
        lag, height = self._chosen_peak(lags)
        found = height >= _ENOUGH
        lag = np.where(found, lag, 100.0)
        doubtful = np.zeros(len(lags), bool)
        longest, tallest = lag.copy(), height.copy()
        for share in range(2, _MOST_SHARES + 1):
            shorter = np.rint(longest / share).astype(int)
            doubtful |= self._to_shorter(lags, rows, lag, height, shorter, _LIKELY * tallest)
        period = _over_many(lags, rows, lag)
        found &= np.abs(period / lag - 1) < _SLIPPED
        return (
            np.where(found, period, np.nan),
            np.where(found, height, 0.0),
            (np.where(doubtful & found, longest, np.nan)),
        )

    def _chosen_peak(self, lags: Floats) -> tuple[Doubles, Doubles]:
        """Return the shortest lag whose peak is (nearly) as high as the highest."""
        inside = lags[:, self.low_lag - 1 : self.high_lag + 2]
        tops = (inside[:, 1:-1] > inside[:, :-2]) & (inside[:, 1:-1] >= inside[:, 2:])
        # A peak between two lags is higher than either: the top of a parabola through three.
        lean = inside[:, :-2] - inside[:, 2:]
        bend = 2 * inside[:, 1:-1] - inside[:, :-2] - inside[:, 2:]
        heights = np.where(tops, inside[:, 1:-1] + lean**2 / (8 * np.maximum(bend, 1e-9)), 0.0)
        best = heights.max(axis=1)
        good = heights >= (_PLAIN * best)[:, None]
        return _interpolated(lags, np.arange(len(lags)), np.argmax(good, axis=1) + self.low_lag)

    def _to_shorter(
        self, lags: Floats, rows: NDArray[np.intp], lag: Doubles, height: Doubles,
        shorter: NDArray[np.int_], least: Doubles,
    ) -> NDArray[np.bool_]:  # fmt: skip
        """Move *lag* to near *shorter* where the expected pitches want that.

        True where without what is wanted it would have been another note of the harp: a drone
        below all its notes is not one that the player could have played.
        """
        at, high = _climbed(lags, rows, np.maximum(shorter, self.low_lag), 2)
        vying = (shorter >= self.low_lag) & (high >= least) & (high >= _ENOUGH)
        here, there = self._strangeness(lag), self._strangeness(at)
        asked_for = vying & (there < here)
        moved = asked_for | (vying & (there == here) & (high >= _EVEN / _LIKELY * least))
        rivals = asked_for & (here <= _ON_THE_HARP)
        lag[moved], height[moved] = at[moved], high[moved]
        return rivals

    def _strangeness(self, lag: Doubles) -> NDArray[np.int_]:
        """Rate each lag: 0 for a wanted note, 1 for another of the harp, 2 for any other."""
        keys = np.log2(_FINER * RATE / lag) * 12
        away = [_away(keys, known) > _NEAR for known in (self.wanted, self.possible)]
        return np.where(away[0], np.where(away[1], 2, 1), 0)


def _keys(hz: Sequence[float]) -> Doubles:
    """Return frequencies as semitones above 1 Hz, from low to high."""
    return np.asarray(12 * np.log2(np.array(sorted(set(hz)) or [1.0])))


def _away(keys: Doubles, known: Doubles) -> Doubles:
    """Return the semitones from each of *keys* to the nearest *known* one."""
    place = np.clip(np.searchsorted(known, keys), 1, max(1, len(known) - 1))
    last = np.minimum(place, len(known) - 1)
    return np.minimum(np.abs(keys - known[place - 1]), np.abs(keys - known[last]))


def _lags(power: Floats) -> Floats:
    """Return the autocorrelation of *power* spectra, ``_FINER`` lags a sample, to the longest."""
    return np.fft.irfft(power, _SIZE * _FINER)[:, : _LONGEST_LAG + 2].astype(np.float32)


def _climbed(
    lags: Floats, rows: NDArray[np.intp], at: NDArray[np.int_], reach: int
) -> tuple[Doubles, Doubles]:
    """Return the highest point of each row within *reach* lags of *at*, interpolated."""
    steps = np.arange(-reach, reach + 1)
    places = np.clip(at[:, None] + steps, 1, _LONGEST_LAG - 1)
    best = np.argmax(lags[rows[:, None], places], axis=1)
    return _interpolated(lags, rows, places[rows, best])


def _interpolated(
    lags: Floats, rows: NDArray[np.intp], at: NDArray[np.int_]
) -> tuple[Doubles, Doubles]:
    """Return place and height of the top of a parabola through three lags."""
    below, top, above = (lags[rows, at + step].astype(np.float64) for step in (-1, 0, 1))
    bend = below - 2 * top + above
    with np.errstate(divide="ignore", invalid="ignore"):
        beside = np.where(bend < 0, 0.5 * (below - above) / bend, 0.0)
    beside = np.clip(beside, -1, 1)
    place = np.asarray(at + beside, np.float64)
    return place, np.asarray(top - 0.25 * (below - above) * beside, np.float64)


def _over_many(lags: Floats, rows: NDArray[np.intp], lag: Doubles) -> Doubles:
    """Measure the period over as many periods as fit, by doubling, so that none is miscounted."""
    times = np.ones(len(lag))
    period = lag.copy()
    while True:
        # In a click the top may lie at no lag at all, which no number of periods would fill.
        more = (times < _LONGEST_LAG) & (period * times * 2 < _LONGEST_LAG - 4)
        if not more.any():
            return period
        times = np.where(more, times * 2, times)
        place, _ = _climbed(lags, rows, np.rint(period * times).astype(int), 2)
        period = np.where(more, place / times, period)
