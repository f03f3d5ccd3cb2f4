"""The reed voice: the tones of a score, one attack for each breath.

Every sample is a function of its place alone, so that any stretch of a recording can be
made by itself: an hour of sound needs no more memory than a second.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.score.score import Note, Score
from reedmill.sound.reed.shape import outline, slide_hz, sounding_attacks
from reedmill.sound.signal.clock import sample_at, sample_of
from reedmill.sound.signal.loudness import Samples
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

REED_ATTACK_S = 0.003  # quicker than a real reed, so that the onset marks the beat exactly


def partials_of_reed(hz: float, rate: int) -> tuple[Samples, Samples]:
    """Return cosines and sines of the reed tone for a breath whose highest note is *hz*.

    Arrays of one length; item 0 belongs to the fundamental, the next to twice its
    frequency.
    """
    return partials(REED, hz, rate)


@dataclass(frozen=True, slots=True)
class ToneSegment:
    """A part of an attack: a steady tone, or the slide to the next."""

    start: int  # samples from the attack
    count: int
    phase: float  # periods passed at its start
    hz: float
    slides_to_hz: float | None = None

    def cycles(self, first: int, last: int, rate: int) -> Samples:
        """Return periods passed at samples *first* to *last*, counted from the attack."""
        if self.slides_to_hz is not None:
            return self._sliding(rate)[first - self.start : last - self.start]
        steps = np.arange(first - self.start, last - self.start, dtype=np.float64)
        steps *= self.hz / rate
        steps += self.phase
        return steps

    def _sliding(self, rate: int) -> Samples:
        passed = np.cumsum(self._slide_hz())
        passed /= rate
        return self.phase + np.concatenate([[0.0], passed[:-1]])

    def _slide_hz(self) -> Samples:
        assert self.slides_to_hz is not None  # noqa: S101  asked of slides only
        return slide_hz(self.hz, self.slides_to_hz, self.count)

    def phase_after(self, rate: int) -> float:
        """Return the periods passed at its end."""
        if self.slides_to_hz is None:
            return self.phase + self.count * self.hz / rate
        return self.phase + float(np.sum(self._slide_hz())) / rate


@dataclass(frozen=True, slots=True)
class Attack:
    """One attack and the slides after it, from sample *start* of the recording."""

    start: int
    count: int
    amplitude: float
    tone: Period  # of its highest note, so that a slide upwards stays band-limited
    stretches: tuple[ToneSegment, ...]
    rate: int

    @property
    def end(self) -> int:
        """The first sample after the attack."""
        return self.start + self.count

    def between(self, first: int, last: int) -> Samples:
        """Return its samples from *first* to *last*, counted from its own start."""
        parts = [
            each.cycles(max(first, each.start), min(last, each.start + each.count), self.rate)
            for each in self.stretches
            if each.start < last and first < each.start + each.count
        ]
        sound = self.tone.along(parts[0] if len(parts) == 1 else np.concatenate(parts))
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
        found = _attack(heard, breath, amplitude, rate)
        if found.count:
            yield found


def _attack(heard: Pass, breath: tuple[Note, ...], amplitude: float, rate: int) -> Attack:
    starts = [sample_at(heard, note.start, rate) for note in breath]
    bounds = [*starts, sample_of(heard.silent_s(breath[-1]), rate)]
    stretches = tuple(_stretches(heard.score, breath, bounds, rate))
    tone = period(REED, max(note.hz for note in breath), rate)
    return Attack(bounds[0], bounds[-1] - bounds[0], amplitude, tone, stretches, rate)


def _stretches(
    score: Score, breath: tuple[Note, ...], bounds: list[int], rate: int
) -> Iterator[ToneSegment]:
    """Yield the parts of one attack, each taking up the phase where the one before it ends."""
    phase, before = 0.0, breath[0]
    for note, start, end in zip(breath, bounds, bounds[1:], strict=False):
        start -= bounds[0]
        slide = round(score.glide_s(note) * rate) if note is not before else 0
        slide = min(slide, end - bounds[0] - start)
        for part in (
            ToneSegment(start, slide, phase, before.hz, note.hz),
            ToneSegment(start + slide, end - bounds[0] - start - slide, 0.0, note.hz),
        ):
            if part.count:
                part = _taken_up(part, phase)
                phase = part.phase_after(rate)
                yield part
        before = note


def _taken_up(part: ToneSegment, phase: float) -> ToneSegment:
    return ToneSegment(part.start, part.count, phase, part.hz, part.slides_to_hz)
