"""The drone: the root of the key held, to tune every note against.

A fifth and an octave may sound with it.  They are pure (3:2 and 2:1) in every intonation:
a tempered fifth would beat with the root, and the drone could not hold its level.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reedmill.practice.practice import RecordingPlan
from reedmill.sound.signal.clock import TAIL_S, sample_count
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.tone import Timbre, partials, period

# Softer than the reed: a flute stop with its octave and twelfth.  The upper harmonics
# let a small speaker give a low root.  Chosen by ear, no published source.
_STOP = (1.0, 0.55, 0.30, 0.16, 0.08, 0.05, 0.025, 0.012)
_SOFT_ABOVE_HZ = 1200.0
_LUFS = -25.0

# Each tone: periods to two periods of the root, and its amplitude against the root's.
_TONES = {"root": (2, 1.0), "fifth": (3, 0.6), "octave": (4, 0.5)}

_FADE_S = float(TAIL_S)

LOOP_S = 30
"""About how many seconds a drone for looping lasts."""


def drone(
    plan: RecordingPlan, tones: tuple[str, ...], rate: int, count: int | None = None
) -> Callable[[int, int], Samples]:
    """Return the drone of *plan*: a function from first and last sample to mono samples.

    It sounds from the first sample to the last without a break, fades in at once and out
    at the end of *count* samples, usually in the tail.
    """
    count = sample_count(plan, rate) if count is None else count
    held = _Held(tones, plan.score.root_hz, rate)
    fade = min(round(_FADE_S * rate), count // 2)

    def block(first: int, last: int) -> Samples:
        sound = held.between(first, last)
        rising = sound[: max(fade - first, 0)]
        rising *= _rise(first + np.arange(len(rising)), fade)
        falls_at = max(count - fade - first, 0)
        falling = sound[falls_at:]
        falling *= _rise(count - 1 - first - falls_at - np.arange(len(falling)), fade)
        return sound

    return block


def _rise(places: NDArray[np.int64], fade: int) -> Samples:
    """Return the amplitude at *places* counted from where it is silent."""
    return np.asarray(np.sin(np.pi / 2 * places / max(fade, 1)) ** 2, dtype=np.float64)


def drone_loop(root_hz: float, tones: tuple[str, ...], rate: int) -> Samples:
    """Return a drone of about ``LOOP_S`` seconds that loops without a seam.

    It holds a whole even number of periods of the root in a whole number of samples.  That
    moves the pitch by a thousandth of a cent at the most (measured from F2 to E4).
    """
    count, pairs = min(_fits(root_hz, rate))[1:]
    return _Held(tones, 2 * pairs * rate / count, rate).between(0, count)


def _fits(root_hz: float, rate: int) -> Iterator[tuple[float, int, int]]:
    """Yield ways to fill about LOOP_S: samples off a perfect fit, whole samples, period pairs."""
    around = round(LOOP_S * root_hz / 2)
    # some seconds either way: among so many lengths one fits nearly exactly
    for pairs in range(around - 200, around + 200):
        exact = 2 * pairs * rate / root_hz
        yield abs(round(exact) - exact), round(exact), pairs


@dataclass(frozen=True, slots=True)
class _Held:
    """Root, fifth and octave as one tone: harmonics of the note an octave under the root."""

    tones: tuple[str, ...]
    root_hz: float
    rate: int

    def between(self, first: int, last: int) -> Samples:
        """Return its samples from *first* to *last*."""
        under_hz = self.root_hz / 2
        cycles = np.arange(first, last, dtype=np.float64)
        cycles *= under_hz / self.rate
        return period(_timbre(self.tones), under_hz, self.rate).along(cycles)


def partials_of_drone(tones: tuple[str, ...], root_hz: float, rate: int) -> tuple[Samples, Samples]:
    """Return cosines and sines of a drone of *tones*, over an octave below the root.

    Arrays of one length; item 0 belongs to the fundamental, the next to twice its
    frequency.
    """
    return partials(_timbre(tones), root_hz / 2, rate)


def _timbre(tones: tuple[str, ...]) -> Timbre:
    """Return the sum of the *tones*' harmonics; where two coincide their powers add."""
    power = np.zeros(4 * len(_STOP))
    for times, level in (_TONES[tone] for tone in tones):
        power[times - 1 : times * len(_STOP) : times] += (level * np.array(_STOP)) ** 2
    return Timbre(tuple(map(float, np.sqrt(power))), _SOFT_ABOVE_HZ, _LUFS)
