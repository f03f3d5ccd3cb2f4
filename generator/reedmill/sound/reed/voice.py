"""The reed voice: the tones of a score, one attack for each breath.

Every sample is a function of its place alone, so that any stretch of a recording can be
made by itself: an hour of sound needs no more memory than a second.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.sound.reed.hole_lines import (
    MUTED_ABOVE_HZ,
    MUTED_DB,
    BreathLines,
    HoleLine,
    LineGain,
    LineSpan,
    breath_lines,
)
from reedmill.sound.reed.shape import outline, sounding_attacks
from reedmill.sound.reed.tone_segments import cycles_between
from reedmill.sound.signal.loudness import Samples, k_gain
from reedmill.sound.signal.tone import Period, Timbre, partials, period

# A free reed chops the air into pulses: even and odd harmonics, many of them, the second
# and third nearly as strong as the first.  Chosen by ear, no published source.
REED = Timbre(
    (
        1.0, 0.62, 0.71, 0.45, 0.38, 0.30, 0.24, 0.19, 0.15, 0.12, 0.095, 0.075,
        0.060, 0.047, 0.037, 0.030, 0.024, 0.019, 0.015, 0.012, 0.0095, 0.0075, 0.0060, 0.0047,
    ),
    soft_above_hz=2500.0,
    lufs=-16.0,
)  # fmt: skip

CLOSED_REED = replace(REED, soft_above_hz=MUTED_ABOVE_HZ, lufs=REED.lufs - MUTED_DB)
"""The tone with the hands closed round the harp."""

REED_ATTACK_S = 0.003  # quicker than a real reed, so that the onset marks the beat exactly


def partials_of_reed(hz: float, rate: int) -> tuple[Samples, Samples]:
    """Return cosines and sines of the reed tone for a breath whose highest note is *hz*.

    Arrays of one length; item 0 belongs to the fundamental, the next to twice its
    frequency.
    """
    return partials(REED, hz, rate)


@dataclass(frozen=True, slots=True)
class _Layer:
    """One hole with open hands, or with the hands closed, and how loud it is."""

    line: HoleLine
    tone: Period  # of its highest note, so that a slide upwards stays band-limited
    gain: LineGain


@dataclass(frozen=True, slots=True)
class Attack:
    """One attack and the slides after it, from sample *start* of the recording."""

    start: int
    count: int
    amplitude: float
    layers: tuple[_Layer, ...]
    rate: int

    @property
    def end(self) -> int:
        """The first sample after the attack."""
        return self.start + self.count

    def between(self, first: int, last: int) -> Samples:
        """Return its samples from *first* to *last*, counted from its own start."""
        sound = np.zeros(0)
        for layer in self.layers:
            gain = layer.gain.between(first, last)
            if gain is None or np.any(gain):
                cycles = cycles_between(layer.line.segments, first, last, self.rate)
                part = layer.tone.along(cycles)
                part *= 1.0 if gain is None else gain
                sound = part if not len(sound) else sound + part
        sound *= self.amplitude
        outline(self.count, REED_ATTACK_S, self.rate).give(sound, first)
        return sound


def guide(plan: RecordingPlan, rate: int) -> Callable[[int, int], Samples]:
    """Return the tones of *plan*: a function from first and last sample to mono samples."""
    attacks = [attack for heard in plan.passes for attack in _attacks(heard, rate)]
    starts, ends = [each.start for each in attacks], [each.end for each in attacks]

    def block(first: int, last: int) -> Samples:
        sound = np.zeros(last - first)
        for attack in attacks[bisect_right(ends, first) : bisect_left(starts, last)]:
            begin, end = max(attack.start, first), min(attack.end, last)
            tone = attack.between(begin - attack.start, end - attack.start)
            sound[begin - first : end - first] = tone
        return sound

    return block


def _attacks(heard: Pass, rate: int) -> Iterator[Attack]:
    for breath, amplitude in sounding_attacks(heard):
        lines = breath_lines(heard, breath, rate)
        if lines.count:
            yield Attack(lines.start, lines.count, amplitude, tuple(_layers(lines)), rate)


def _layers(lines: BreathLines) -> Iterator[_Layer]:
    factors = [_factor(lines, span) for span in lines.spans]
    for closed, timbre in ((False, REED), (True, CLOSED_REED)):
        if all(span.closed is not closed for span in lines.spans):
            continue
        for number, line in enumerate(lines.lines):
            gain = lines.gain(number, factors, closed=closed)
            if not gain.silent:
                yield _Layer(line, period(timbre, line.highest_hz, lines.rate), gain)


# --- chords as loud as one note ------------------------------------------------------------


def _factor(lines: BreathLines, span: LineSpan) -> float:
    """Return the amplitude factor by which the holes of *span* are together as loud as one."""
    if len(span.sounding) < 2 or span.end <= span.start:
        return 1.0
    sounding = [lines.lines[number] for number in span.sounding]
    begun = (cycles_between(line.segments, span.start, span.start + 1, lines.rate)[0]
             for line in sounding)  # fmt: skip
    tones = tuple(
        _Partials(line.hz_at(span.start), line.highest_hz, float(cycles % 1))
        for line, cycles in zip(sounding, begun, strict=True)
    )
    return _chord_factor(tones, (span.end - span.start) / lines.rate, lines.rate)


@dataclass(frozen=True, slots=True)
class _Partials:
    """The partials of one hole of a chord."""

    hz: float
    highest_hz: float
    cycles: float  # periods passed where the chord begins


@lru_cache(maxsize=1024)  # a chord comes again at every repeat
def _chord_factor(tones: tuple[_Partials, ...], lasting_s: float, rate: int) -> float:
    """Return the factor that brings *tones*, sounding for *lasting_s* together, to one's loudness.

    Partials that are as good as in unison, those of an octave for example, add up or take
    away from one another as their phases have it; so their sum is looked at and not each.
    """
    hz, waves = (np.concatenate(each) for each in zip(*map(_weighted(rate), tones), strict=True))
    turns = lasting_s * (hz[:, np.newaxis] - hz[np.newaxis, :])
    # the mean of a wave that turns so often: it is 1 where two partials are in unison
    means = np.exp(1j * np.pi * turns) * np.sinc(turns)
    power = float(np.real(np.sum(waves[:, np.newaxis] * waves.conj()[np.newaxis, :] * means)))
    one = float(np.mean([np.sum(np.abs(_weighted(rate)(tone)[1]) ** 2) for tone in tones]))
    return float(np.sqrt(one / max(power, 1e-12)))


def _weighted(rate: int) -> Callable[[_Partials], tuple[Samples, NDArray[np.complex128]]]:
    """Return a function to the frequencies and complex amplitudes of partials, as loud as heard."""

    def of(tone: _Partials) -> tuple[Samples, NDArray[np.complex128]]:
        cosines, sines = partials(REED, tone.highest_hz, rate)
        numbers = np.arange(1, len(cosines) + 1, dtype=np.float64)
        waves = (cosines - 1j * sines) * np.exp(2j * np.pi * numbers * tone.cycles)
        heard = waves * k_gain(np.minimum(numbers * tone.hz, 20_000.0))
        return numbers * tone.hz, np.asarray(heard, dtype=np.complex128)

    return of
