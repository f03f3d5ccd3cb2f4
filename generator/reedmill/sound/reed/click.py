"""The click: a tap of wood on every pulse, higher and stronger where a bar begins.

As loud as music it is another tap: wood held at its loudest for longer, because a short one
would need peaks that no file has room for.

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
from reedmill.sound.signal.loudness import OFFSET_DB, Samples, k_gain

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

# The tap that is as loud as music: how many times longer, how hard it is driven, and in how long
# it falls to 1/e all the same, so that its beginning is its loudest.  By ear.
_LONGER, _DRIVE, _TILT_S = 2.8, 4.0, 0.14
_LU = {BAR_HZ: -1.5, PULSE_HZ: -2.9, OFFBEAT_HZ: -9.0}  # beside the music
_CARRIED_HZ = 24_000.0  # up to which BS.1770 gives its filter
_HIGHEST_HZ = 9000.0  # of the tap, as its wood has it
_FULL = 0.99  # of full scale
_MOMENT_S = 0.4  # of which loudness is the mean: BS.1770's block, and EBU R 128's moment


class Tap(NamedTuple):
    """One tap of the click."""

    start: int  # the sample of the recording it begins at
    hz: float
    peak: float  # of its amplitude, 0 to 1


def click(
    plan: RecordingPlan, where: Click, rate: int, lufs: float | None = None
) -> Callable[[int, int], Samples]:
    """Return the taps of *plan*: a function from first and last sample to mono samples.

    Where a bar begins a tap is as loud for a moment as music of *lufs*; without it all of them
    stay behind the tones, at the peaks of a practice page.
    """
    taps = sorted(tap for heard in plan.passes for tap in _taps(heard, where, rate))
    starts = [tap.start for tap in taps]
    length = round(TAP_LENGTH_S * (1.0 if lufs is None else _LONGER) * rate)

    def block(first: int, last: int) -> Samples:
        sound = np.zeros(last - first)
        for start, hz, peak in taps[
            bisect_left(starts, first - length) : bisect_left(starts, last)
        ]:
            made = _tap(hz, peak, rate) if lufs is None else _loud_tap(hz, lufs, rate)
            tap = made[max(first - start, 0) : last - start]
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
    burst = _closed(_struck(hz, 1.0, rate), rate)
    burst *= peak / np.max(np.abs(burst))
    burst.flags.writeable = False  # it is shared
    return burst


@lru_cache(maxsize=16)
def _loud_tap(hz: float, lufs: float, rate: int) -> Samples:
    """Return one burst at *hz* beside music of *lufs*, by its K-weighted energy in a moment."""
    wood = _struck(hz, _LONGER, rate)
    falls = np.exp(-np.arange(len(wood)) / (_TILT_S * rate))
    burst = _closed(np.tanh(_DRIVE * wood / np.max(np.abs(wood))) * falls, rate)
    count = 1 << (2 * len(burst)).bit_length()
    hz_of = np.fft.rfftfreq(count, 1 / rate)
    spectrum = np.fft.rfft(burst, count)
    spectrum *= np.clip((_HIGHEST_HZ - hz_of) / (0.2 * _HIGHEST_HZ), 0, 1)  # what driving adds
    burst = np.fft.irfft(spectrum, count)[: len(burst)]
    weighted = np.fft.irfft(spectrum * k_gain(np.minimum(hz_of, _CARRIED_HZ)), count)
    power = float(np.sum(weighted**2)) / (_MOMENT_S * rate)
    burst *= 10 ** ((lufs + _LU[hz] - OFFSET_DB) / 20) / np.sqrt(power)
    burst *= min(1.0, _FULL / float(np.max(np.abs(burst))))
    burst.flags.writeable = False  # it is shared
    return burst


def _struck(hz: float, longer: float, rate: int) -> Samples:
    """Return a struck bar of wood that falls *longer* times as slowly."""
    seconds = np.arange(round(TAP_LENGTH_S * longer * rate)) / rate
    return sum(
        (level * np.exp(-seconds / (longer * fall_s)) * np.sin(2 * np.pi * hz * times * seconds)
         for times, level, fall_s in WOOD_MODES),
        start=np.zeros_like(seconds),
    )  # fmt: skip


def _closed(burst: Samples, rate: int) -> Samples:
    """Return *burst* from silence to silence."""
    seconds = np.arange(len(burst)) / rate
    falls = np.cos(np.pi / 2 * np.arange(len(burst)) / len(burst))
    return np.asarray(burst * np.clip(seconds / TAP_ATTACK_S, 0, 1) * falls)
