"""The pitch of one hole all along an attack: steady stretches, slides and the wave of a vibrato.

Each takes up the phase where the one before it ends, and every phase is a function of its
place alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from reedmill.score.pitch_curve import Glide, PitchCurve, Wave
from reedmill.sound.reed.shape import slide_hz
from reedmill.sound.signal.loudness import Samples

# Samples of a moving pitch that are summed at a time, from places that never change: a slide
# of the usual length is in the first, and one of half a minute takes no more memory.
_SUMMED = 1 << 16


@dataclass(frozen=True, slots=True)
class ToneSegment:
    """A part of an attack: a steady tone, a slide to another pitch, or a wave around its own."""

    start: int  # samples from the attack
    count: int
    phase: float  # periods passed at its start
    hz: float
    slides_to_hz: float | None = None
    wave_hz: float = 0.0  # turns a second of a wave; 0 where there is none
    wave_cents: float = 0.0  # how far, to either side

    @property
    def steady(self) -> bool:
        """True where its pitch stays."""
        return self.slides_to_hz is None and not self.wave_hz

    @property
    def highest_hz(self) -> float:
        """The highest frequency in it."""
        return max(self.hz, self.slides_to_hz or 0.0) * float(2 ** (self.wave_cents / 1200))

    def cycles(self, first: int, last: int, rate: int) -> Samples:
        """Return periods passed at samples *first* to *last*, counted from the attack."""
        if not self.steady:
            return self._moving(first - self.start, last - self.start, rate)
        steps = np.arange(first - self.start, last - self.start, dtype=np.float64)
        steps *= self.hz / rate
        steps += self.phase
        return steps

    def _moving(self, first: int, last: int, rate: int) -> Samples:
        phases = _phases(self, rate)
        found = []
        for number in range(first // _SUMMED, -(-last // _SUMMED)):
            begin = number * _SUMMED
            passed = np.cumsum(self.step_hz(begin, min(begin + _SUMMED, self.count), rate))
            passed /= rate
            all_of_it = phases[number] + np.concatenate([[0.0], passed[:-1]])
            found.append(all_of_it[max(first - begin, 0) : last - begin])
        return np.concatenate(found) if found else np.zeros(0)

    def step_hz(self, first: int, last: int, rate: int) -> Samples:
        """Return the frequency between each of its samples *first* to *last* and the next."""
        if self.steady:
            return np.full(last - first, self.hz)
        if self.slides_to_hz is not None:
            return slide_hz(self.hz, self.slides_to_hz, self.count, first, last)
        turns = (np.arange(first, last) + 0.5) * (2 * np.pi * self.wave_hz / rate)
        return np.asarray(self.hz * 2 ** (self.wave_cents / 1200 * np.sin(turns)), np.float64)

    def phase_after(self, rate: int) -> float:
        """Return the periods passed at its end."""
        if self.steady:
            return self.phase + self.count * self.hz / rate
        return _phases(self, rate)[-1]


@lru_cache(maxsize=256)
def _phases(segment: ToneSegment, rate: int) -> tuple[float, ...]:
    """Return the periods passed where each summed part of *segment* begins, and at its end."""
    found = [segment.phase]
    for begin in range(0, segment.count, _SUMMED):
        hz = segment.step_hz(begin, min(begin + _SUMMED, segment.count), rate)
        found.append(found[-1] + float(np.sum(hz)) / rate)
    return tuple(found)


def connected(parts: Iterable[ToneSegment], rate: int) -> tuple[ToneSegment, ...]:
    """Return those *parts* that last, each taking up the phase where the one before it ends."""
    found: list[ToneSegment] = []
    for part in parts:
        if part.count > 0:
            phase = found[-1].phase_after(rate) if found else 0.0
            found.append(replace(part, phase=phase))
    return tuple(found)


def cycles_between(segments: Sequence[ToneSegment], first: int, last: int, rate: int) -> Samples:
    """Return the periods passed at samples *first* to *last* of an attack made of *segments*."""
    parts = [
        each.cycles(max(first, each.start), min(last, each.start + each.count), rate)
        for each in segments
        if each.start < last and first < each.start + each.count
    ]
    return parts[0] if len(parts) == 1 else np.concatenate(parts)


def note_segments(
    curve: PitchCurve, hz: float, before_hz: float | None, start: int, count: int, rate: int
) -> Iterator[ToneSegment]:
    """Yield the parts of a note of *hz* that follows *curve*, for *count* samples from *start*.

    What slides in comes from *before_hz*, the note before it.
    """
    now = 0
    for move in _moves(curve):
        begin, end = _places(move, count, rate)
        begin = max(begin, now)
        yield ToneSegment(start + now, begin - now, 0.0, hz)
        if isinstance(move, Wave):
            yield ToneSegment(
                start + begin, end - begin, 0.0, hz, wave_hz=move.hz, wave_cents=move.cents
            )
        else:
            from_hz = hz * 2 ** (move.from_cents / 1200)
            if before_hz is not None and not move.start_s:
                from_hz = before_hz
            to_hz = hz * 2 ** (move.to_cents / 1200)
            yield ToneSegment(start + begin, end - begin, 0.0, from_hz, to_hz)
        now = max(now, end)
    yield ToneSegment(start + now, count - now, 0.0, hz)


def _moves(curve: PitchCurve) -> list[Glide | Wave]:
    moves: list[Glide | Wave] = [*curve.glides, *([curve.wave] if curve.wave else [])]
    return sorted(moves, key=lambda move: move.start_s)


def _places(move: Glide | Wave, count: int, rate: int) -> tuple[int, int]:
    """Return the samples of a note of *count* at which *move* begins and ends."""
    end_s = move.end_s if isinstance(move, Wave) else move.start_s + move.lasting_s
    return min(round(move.start_s * rate), count), min(round(end_s * rate), count)
