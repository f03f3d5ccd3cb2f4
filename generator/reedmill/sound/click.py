"""The click: a tap of wood on every pulse, higher and stronger where a bar begins."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from reedmill.score import Score
from reedmill.sound.clock import RATE, sample_at, sample_count
from reedmill.sound.loudness import Samples

BAR_HZ, BAR_PEAK = 1800.0, 0.25
PULSE_HZ, PULSE_PEAK = 1200.0, 0.16

# A struck wooden bar: times the lowest frequency, amplitude, seconds to fall by 1/e.
# Chosen by ear, no published source.
_MODES = ((1.0, 1.0, 0.012), (2.76, 0.35, 0.005), (4.1, 0.12, 0.003))
_LENGTH_S = 0.06
_ATTACK_S = 0.0004  # long enough to keep the burst in its band


def click(score: Score, rate: int = RATE) -> Samples:
    """A tap every ``score.meter.pulse`` beats from the first bar to the end of the last."""
    sound = np.zeros(sample_count(score, rate))
    pulse = score.meter.pulse
    for number in range(-(-score.length // pulse)):
        beat = number * pulse
        tap = _bar_tap(rate) if beat % score.meter.beats == 0 else _pulse_tap(rate)
        room = sound[sample_at(score, beat, rate) :][: len(tap)]
        room += tap[: len(room)]
    return sound


def _bar_tap(rate: int) -> Samples:
    return _tap(BAR_HZ, BAR_PEAK, rate)


def _pulse_tap(rate: int) -> Samples:
    return _tap(PULSE_HZ, PULSE_PEAK, rate)


@lru_cache(maxsize=8)
def _tap(hz: float, peak: float, rate: int) -> Samples:
    """One burst at *hz*, its loudest sample at *peak*, silent at both ends."""
    seconds = np.arange(round(_LENGTH_S * rate)) / rate
    burst = sum(
        (level * np.exp(-seconds / fall_s) * np.sin(2 * np.pi * hz * times * seconds)
         for times, level, fall_s in _MODES),
        start=np.zeros_like(seconds),
    )  # fmt: skip
    burst *= np.clip(seconds / _ATTACK_S, 0, 1) * np.cos(np.pi / 2 * seconds / _LENGTH_S)
    burst *= peak / np.max(np.abs(burst))
    burst.flags.writeable = False  # it is shared
    return burst
