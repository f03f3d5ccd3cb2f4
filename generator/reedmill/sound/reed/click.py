"""The click: a tap of wood on every pulse, higher and stronger where a bar begins.

It is given as musicians count: on dotted beats in 6/8, on the beats of a shuffle and, by
choice, softly between them, which in a shuffle is at two thirds of the beat.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from reedmill.practice.practice import Click, Pass, RecordingPlan, off_beats
from reedmill.sound.signal.clock import sample_at
from reedmill.sound.signal.loudness import Samples

# High enough to be heard beside the tones; bars stand out by pitch and level,
# off-beats stay in the background.  Chosen by ear, no published source.
BAR_HZ, BAR_PEAK = 1800.0, 0.2
PULSE_HZ, PULSE_PEAK = 1200.0, 0.13
OFFBEAT_HZ, OFFBEAT_PEAK = 900.0, 0.065

# A struck wooden bar: times the lowest frequency, amplitude, seconds to fall by 1/e.
# Chosen by ear, no published source.
WOOD_MODES = ((1.0, 1.0, 0.012), (2.76, 0.35, 0.005), (4.1, 0.12, 0.003))
TAP_LENGTH_S = 0.06  # five times the longest fall: it has died away
TAP_ATTACK_S = 0.0004  # long enough to keep the burst in its band


class Tap(NamedTuple):
    """One tap of the click."""

    start: int  # the sample of the recording it begins at
    hz: float
    peak: float  # of its amplitude, 0 to 1


def click(plan: RecordingPlan, where: Click, rate: int) -> Callable[[int, int], Samples]:
    """Return the taps of *plan*: a function from first and last sample to mono samples."""
    taps = sorted(tap for heard in plan.passes for tap in _taps(heard, where, rate))
    starts = [tap.start for tap in taps]
    length = round(TAP_LENGTH_S * rate)

    def block(first: int, last: int) -> Samples:
        sound = np.zeros(last - first)
        for start, hz, peak in taps[
            bisect_left(starts, first - length) : bisect_left(starts, last)
        ]:
            tap = _tap(hz, peak, rate)[max(first - start, 0) : last - start]
            at = max(start - first, 0)
            sound[at : at + len(tap)] += tap
        return sound

    return block


def _taps(heard: Pass, where: Click, rate: int) -> Iterator[Tap]:
    score, pulse = heard.score, heard.score.meter.pulse
    first = heard.first - heard.count_in_bars * score.meter.beats
    last = heard.first if where is Click.COUNT_IN else heard.last
    for number in range(-(-(last - first) // pulse)):
        beat = first + number * pulse
        kind = (BAR_HZ, BAR_PEAK) if beat % score.meter.beats == 0 else (PULSE_HZ, PULSE_PEAK)
        yield Tap(sample_at(heard, beat, rate), *kind)
        if where is Click.OFFBEATS and beat >= heard.first:
            for between in off_beats(score.meter):
                yield Tap(sample_at(heard, beat + between, rate), OFFBEAT_HZ, OFFBEAT_PEAK)


@lru_cache(maxsize=16)
def _tap(hz: float, peak: float, rate: int) -> Samples:
    """Return one burst at *hz*, its loudest sample at *peak*, silent at both ends."""
    seconds = np.arange(round(TAP_LENGTH_S * rate)) / rate
    burst = sum(
        (level * np.exp(-seconds / fall_s) * np.sin(2 * np.pi * hz * times * seconds)
         for times, level, fall_s in WOOD_MODES),
        start=np.zeros_like(seconds),
    )  # fmt: skip
    burst *= np.clip(seconds / TAP_ATTACK_S, 0, 1) * np.cos(np.pi / 2 * seconds / TAP_LENGTH_S)
    burst *= peak / np.max(np.abs(burst))
    burst.flags.writeable = False  # it is shared
    return burst
