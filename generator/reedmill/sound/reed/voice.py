"""The reed voice: the tones of a score, one attack for each breath.

It breathes: every reed has its colour, a tone swells and brightens as it begins, and the noise
of the breath is in it.  Or it is still: the same tone for every reed, to tune by.  Every sample
is a function of its place alone, so that any stretch of a recording can be made by itself: an
hour of sound needs no more memory than a second.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.sound.reed.breath_noise import BreathingPeriods, breathing_periods
from reedmill.sound.reed.colour import ReedColour, colour_of, colour_waves, darkened, noise_waves
from reedmill.sound.reed.hole_lines import BreathLines, HoleLine, LineGain, LineSpan, breath_lines
from reedmill.sound.reed.shape import (
    REED_ATTACK_S,
    SPEAK_S,
    SPEAKS,
    Outline,
    outline,
    sounding_attacks,
    swell_s,
)
from reedmill.sound.reed.still_tone import CLOSED_REED, REED
from reedmill.sound.reed.tone_segments import cycles_between
from reedmill.sound.signal.loudness import Samples, k_gain
from reedmill.sound.signal.tone import Period, partials, period, period_of

_STRIDE = 40_503  # periods from breath to breath: odd, so that all of a table come in turn


@dataclass(frozen=True, slots=True)
class _Layer:
    """A tone of one hole, and how loud it is."""

    line: HoleLine
    tone: Period | BreathingPeriods
    gain: LineGain
    darkness: Period | None = None  # what a tone lacks that only begins to speak

    def between(self, first: int, last: int, attack: Attack) -> Samples | None:
        """Return it at samples *first* to *last* of *attack*, or ``None`` where it is silent."""
        gain = self.gain.between(first, last)
        if gain is not None and not np.any(gain):
            return None
        cycles = cycles_between(self.line.segments, first, last, attack.rate)
        part = self._along(cycles, attack.start)
        if self.darkness is not None:
            for place, share in attack.outline.dark(first, last):
                dark = slice(place - first, place - first + len(share))
                part[dark] -= share * self.darkness.along(cycles[dark])
        if gain is not None:
            part *= gain
        return part

    def _along(self, cycles: Samples, start: int) -> Samples:
        if isinstance(self.tone, Period):
            return self.tone.along(cycles)
        return self.tone.along(cycles, start * _STRIDE % self.tone.count)


@dataclass(frozen=True, slots=True)
class Attack:
    """One attack and the slides after it, from sample *start* of the recording."""

    start: int
    amplitude: float
    layers: tuple[_Layer, ...]
    outline: Outline
    rate: int

    @property
    def end(self) -> int:
        """The first sample after the attack."""
        return self.start + self.outline.count

    def between(self, first: int, last: int) -> Samples:
        """Return its samples from *first* to *last*, counted from its own start."""
        sound = np.zeros(0)
        for layer in self.layers:
            begins, ends = layer.gain.heard
            begin, end = max(first, int(max(begins, 0))), int(min(last, ends + 1))
            part = layer.between(begin, end, self) if begin < end else None
            if part is None:
                continue
            if not len(sound) and end - begin == last - first:
                sound = part
                continue
            sound = sound if len(sound) else np.zeros(last - first)
            sound[begin - first : end - first] += part
        sound = sound if len(sound) else np.zeros(last - first)
        sound *= self.amplitude
        self.outline.give(sound, first)
        return sound


def guide(plan: RecordingPlan, rate: int, *, still: bool = False) -> Callable[[int, int], Samples]:
    """Return the tones of *plan*: a function from first and last sample to mono samples.

    They breathe, unless they are to be *still*.
    """
    attacks = [attack for heard in plan.passes for attack in _attacks(heard, rate, still)]
    starts, ends = [each.start for each in attacks], [each.end for each in attacks]

    def block(first: int, last: int) -> Samples:
        sound = np.zeros(last - first)
        for attack in attacks[bisect_right(ends, first) : bisect_left(starts, last)]:
            begin, end = max(attack.start, first), min(attack.end, last)
            tone = attack.between(begin - attack.start, end - attack.start)
            sound[begin - first : end - first] = tone
        return sound

    return block


def _attacks(heard: Pass, rate: int, still: bool) -> Iterator[Attack]:
    for breath, amplitude in sounding_attacks(heard):
        lines = breath_lines(heard, breath, rate)
        if not lines.count:
            continue
        if still:
            shape = outline(lines.count, REED_ATTACK_S, rate)
            layers = tuple(_still_layers(lines))
        else:
            first = lines.lines[lines.spans[0].sounding[0]]
            shape = outline(lines.count, SPEAK_S, rate, swell_s(first.hz[0]), SPEAKS)
            layers = tuple(_breathing_layers(lines, amplitude))
        yield Attack(lines.start, amplitude, layers, shape, rate)


# --- still ---------------------------------------------------------------------------------


def _still_layers(lines: BreathLines) -> Iterator[_Layer]:
    factors = [_factor(lines, span, _still_partials) for span in lines.spans]
    for closed, timbre in ((False, REED), (True, CLOSED_REED)):
        if all(span.closed is not closed for span in lines.spans):
            continue
        for number, line in enumerate(lines.lines):
            gain = lines.gain(number, factors, closed=closed)
            if not gain.silent:
                yield _Layer(line, period(timbre, line.highest_hz, lines.rate), gain)


def _still_partials(lines: BreathLines, number: int, span: LineSpan) -> _Partials:
    line = lines.lines[number]
    return _Partials(line.hz_at(span.start), line.highest_hz, _cycles(lines, number, span))


# --- breathing -----------------------------------------------------------------------------


def _breathing_layers(lines: BreathLines, amplitude: float) -> Iterator[_Layer]:
    def partials_of(lines: BreathLines, number: int, span: LineSpan) -> _Partials:
        tone, line = lines.tone(number, span), lines.lines[number]
        cycles = _cycles(lines, number, span)
        return _Partials(
            tone.hz, line.highest_hz, cycles, colour_of(tone.reed, amplitude=amplitude)
        )

    factors = [_factor(lines, span, partials_of) for span in lines.spans]
    for number, line in enumerate(lines.lines):
        for tone, gain in lines.gains(number, factors).items():
            colour = colour_of(tone.reed, closed=tone.closed, amplitude=amplitude)
            full, darkness = _periods(colour, tone.hz, line.highest_hz, lines.rate)
            yield _Layer(line, full, gain, darkness)


@lru_cache(maxsize=64)
def _periods(
    colour: ReedColour, hz: float, highest_hz: float, rate: int
) -> tuple[BreathingPeriods, Period]:
    """Return the periods of the tone, and one of what it lacks in the dark."""
    waves = colour_waves(colour, hz, highest_hz, rate)
    noise = noise_waves(colour, hz, highest_hz, rate)
    return breathing_periods(waves, noise), period_of(waves - darkened(waves))


# --- chords as loud as one note ------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Partials:
    """The partials of one hole of a chord."""

    hz: float
    highest_hz: float
    cycles: float  # periods passed where the chord begins
    colour: ReedColour | None = None  # None: still


def _factor(
    lines: BreathLines, span: LineSpan, of: Callable[[BreathLines, int, LineSpan], _Partials]
) -> float:
    """Return the amplitude factor by which the holes of *span* are together as loud as one."""
    if len(span.sounding) < 2 or span.end <= span.start:
        return 1.0
    tones = tuple(of(lines, number, span) for number in span.sounding)
    return _chord_factor(tones, (span.end - span.start) / lines.rate, lines.rate)


def _cycles(lines: BreathLines, number: int, span: LineSpan) -> float:
    segments = lines.lines[number].segments
    return float(cycles_between(segments, span.start, span.start + 1, lines.rate)[0] % 1)


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
        begun = _waves(tone, rate)
        numbers = np.arange(1, len(begun) + 1, dtype=np.float64)
        waves = begun * np.exp(2j * np.pi * numbers * tone.cycles)
        heard = waves * k_gain(np.minimum(numbers * tone.hz, 20_000.0))
        return numbers * tone.hz, np.asarray(heard, dtype=np.complex128)

    return of


def _waves(tone: _Partials, rate: int) -> NDArray[np.complex128]:
    if tone.colour is not None:
        return colour_waves(tone.colour, tone.hz, tone.highest_hz, rate)
    cosines, sines = partials(REED, tone.highest_hz, rate)
    return np.asarray(cosines - 1j * sines, dtype=np.complex128)
