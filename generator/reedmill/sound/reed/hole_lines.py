"""The holes of one attack as lines of pitch, and which of them sound when: for every voice.

A hole that is played goes on as one line through the slides and lifts of its attack, silent
where a lift leaves it out; what sounds for an instant beside it, in the chord of a slap or a
pull, has a line of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from reedmill.harp import Reed
from reedmill.practice.practice import Pass
from reedmill.score.bursts import holes_change, holes_in_time, of_one_hole
from reedmill.score.pitch_curve import PitchCurve, pitch_curve
from reedmill.score.score import Note, Score, SoundingReed
from reedmill.score.style import Mark
from reedmill.sound.reed.tone_segments import ToneSegment, connected, note_segments
from reedmill.sound.signal.clock import sample_at, sample_of
from reedmill.sound.signal.loudness import Samples

MUTED_DB = 4.0
"""How much softer a note is in closed hands; common practice, no published source."""

MUTED_ABOVE_HZ = 700.0
"""Where closed hands begin to take the brightness away.  Chosen by ear, no published source."""

_TURN_S = 0.004  # in which one hole gives way to another, without a click


@dataclass(frozen=True, slots=True)
class PlacedReed:
    """A reed of a hole, and from where on it is played there."""

    start: int  # samples from the attack
    reed: Reed
    hz: float
    slide: int  # samples until its pitch has come there


@dataclass(frozen=True, slots=True)
class HoleLine:
    """One hole all along an attack: its pitch, heard or not."""

    hz: tuple[float, ...]  # of its notes
    segments: tuple[ToneSegment, ...]
    reeds: tuple[PlacedReed, ...]  # one after the other, the first of them from its start

    @property
    def highest_hz(self) -> float:
        """The highest frequency it comes to."""
        return max(*self.hz, *(each.highest_hz for each in self.segments))

    @property
    def hz_range(self) -> tuple[float, ...]:
        """The frequencies of its notes, the first of them first, and the highest it comes to."""
        return (*self.hz, self.highest_hz)

    def step_hz(self, rate: int) -> Samples:
        """Return the frequency between each sample of the attack and the next."""
        return np.concatenate([each.step_hz(0, each.count, rate) for each in self.segments])

    def hz_at(self, place: int) -> float:
        """Return the frequency at sample *place* of the attack, where a slide there will end."""
        at = next(
            (each for each in self.segments if place < each.start + each.count), self.segments[-1]
        )
        return at.slides_to_hz or at.hz

    def reed_at(self, place: int) -> PlacedReed:
        """Return the reed at sample *place* of the attack; before its first, that one."""
        played = (each for each in reversed(self.reeds) if each.start <= place)
        return next(played, self.reeds[0])


class ReedTone(NamedTuple):
    """A reed at its pitch, with open hands or closed ones."""

    reed: Reed
    hz: float
    closed: bool


@dataclass(frozen=True, slots=True)
class LineSpan:
    """A stretch of an attack in which the same lines sound, with open hands or closed ones."""

    start: int  # samples from the attack
    end: int
    sounding: tuple[int, ...]  # numbers of lines
    closed: bool


@dataclass(frozen=True, slots=True)
class LineGain:
    """The amplitude of a line: straight between the places it is given at, in samples."""

    places: tuple[float, ...]
    values: tuple[float, ...]

    @property
    def silent(self) -> bool:
        """True where the line is never heard."""
        return not any(self.values)

    @property
    def heard(self) -> tuple[float, float]:
        """The places where it is heard first and last; infinite where it has no edge."""
        loud = [number for number, value in enumerate(self.values) if value]
        begin = self.places[loud[0] - 1] if loud[0] else float("-inf")
        end = self.places[loud[-1] + 1] if loud[-1] + 1 < len(self.places) else float("inf")
        return begin, end

    def between(self, first: int, last: int) -> Samples | None:
        """Return the amplitude at samples *first* to *last*; ``None`` where it is 1 all along."""
        if set(self.values) == {1.0}:
            return None
        places = np.arange(first, last, dtype=np.float64)
        return np.asarray(np.interp(places, self.places, self.values), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class BreathLines:
    """One attack and what is joined to it: its lines, and the spans in which they sound."""

    start: int  # sample of the recording
    count: int
    rate: int
    lines: tuple[HoleLine, ...]
    spans: tuple[LineSpan, ...]

    def gain(self, line: int, factors: Sequence[float], *, closed: bool) -> LineGain:
        """Return the amplitude of a *line*, by number, with open hands or with *closed* ones.

        *factors* has the amplitude of what sounds in each span.
        """
        steps = [
            _Step(span.start, factor if line in span.sounding and span.closed is closed else 0.0)
            for span, factor in zip(self.spans, factors, strict=True)
            if span.end > span.start
        ]
        return _ramped(steps, self.count, self._reach)

    @property
    def _reach(self) -> float:
        return round(_TURN_S * self.rate) / 2

    def gains(self, line: int, factors: Sequence[float]) -> dict[ReedTone, LineGain]:
        """Return the amplitude of each tone of a *line*, which go over into one another.

        *factors* as in ``gain``.  From reed to reed it takes as long as the pitch slides.
        """
        there = [
            (span, self.tone(line, span), factor if line in span.sounding else 0.0)
            for span, factor in zip(self.spans, factors, strict=True)
            if span.end > span.start
        ]
        placed = self.lines[line]
        slides = [0, *(
            placed.reed_at(span.start).slide if left and right and was.reed != now.reed else 0
            for (_, was, left), (span, now, right) in pairwise(there)
        )]  # fmt: skip
        return {
            wanted: _ramped(
                [
                    _Step(span.start, factor if tone == wanted else 0.0, slide)
                    for (span, tone, factor), slide in zip(there, slides, strict=True)
                ],
                self.count,
                self._reach,
            )
            for wanted in dict.fromkeys(tone for _, tone, factor in there if factor)
        }

    def tone(self, line: int, span: LineSpan) -> ReedTone:
        """Return what sounds, or would sound, of a *line* in *span*."""
        played = self.lines[line].reed_at(span.start)
        return ReedTone(played.reed, played.hz, span.closed)


class _Step(NamedTuple):
    """A place from which a gain has another value; it comes there around it, or in a slide."""

    place: int
    value: float
    slide: int = 0  # samples


def _ramped(steps: Sequence[_Step], end: int, reach: float) -> LineGain:
    """Return a gain that goes from value to value around the place of each step, or from it on."""
    changes = [
        step
        for number, step in enumerate(steps)
        if not number or step.value != steps[number - 1].value
    ]
    edges = [*(each.place for each in changes), end]
    points = [(float(edges[0]), changes[0].value)] if changes else [(0.0, 0.0)]
    for number, (before, step) in enumerate(pairwise(changes), start=1):
        room = (edges[number + 1] - step.place) / 2
        half = min(reach, (step.place - edges[number - 1]) / 2, room)
        early, late = (0.0, min(step.slide, room)) if step.slide else (half, half)
        points += [(step.place - early, before.value), (step.place + late, step.value)]
    places, values = zip(*points, strict=True)
    return LineGain(places, values)


def breath_lines(heard: Pass, breath: tuple[Note, ...], rate: int) -> BreathLines:
    """Return the lines of *breath*, an attack of the pass *heard*, in samples at *rate*."""
    starts = [sample_at(heard, note.start, rate) for note in breath]
    bounds = [*starts, sample_of(heard.silent_s(breath[-1]), rate)]
    places = [(start - bounds[0], end - bounds[0]) for start, end in pairwise(bounds)]
    count = bounds[-1] - bounds[0]
    played = [list(_stretches(heard.score, note, each, rate)) for note, each in zip(
        breath, places, strict=True
    )]  # fmt: skip
    holes = list(dict.fromkeys(each.reed.hole for note in breath for each in note.sounded))
    extra = list(dict.fromkeys(_beside(breath, played)))
    lines = [_hole_line(heard.score, breath, hole, places, rate) for hole in holes]
    lines += [_struck(each, count) for each in extra]
    spans = []
    for note, stretches in zip(breath, played, strict=True):
        for first, last, sounded in stretches:
            numbers = tuple(
                holes.index(each.reed.hole) if each in note.sounded
                else len(holes) + extra.index(each)
                for each in sounded
            )  # fmt: skip
            spans.append(LineSpan(first, last, numbers, Mark.MUTE in note.style))
    return BreathLines(bounds[0], count, rate, tuple(lines), tuple(spans))


_Stretch = tuple[int, int, tuple[SoundingReed, ...]]
"""First and last sample from the attack, and what sounds between them."""


def _stretches(score: Score, note: Note, place: tuple[int, int], rate: int) -> Iterator[_Stretch]:
    start, end = place
    if not holes_change(note):
        yield start, end, note.sounded
        return
    played = holes_in_time(score, note)
    edges = [min(start + round(each.start_s * rate), end) for each in played]
    for each, (first, last) in zip(played, pairwise([*edges, end]), strict=True):
        yield first, last, each.sounded


def _beside(breath: Sequence[Note], played: Sequence[Sequence[_Stretch]]) -> Iterator[SoundingReed]:
    """Yield what sounds for an instant beside the notes of *breath*."""
    for note, stretches in zip(breath, played, strict=True):
        for *_, sounded in stretches:
            yield from (each for each in sounded if each not in note.sounded)


def _struck(sounding: SoundingReed, count: int) -> HoleLine:
    """Return the line of a reed that sounds for an instant beside others."""
    steady = (ToneSegment(0, count, 0.0, sounding.hz),)
    return HoleLine((sounding.hz,), steady, (PlacedReed(0, sounding.reed, sounding.hz, 0),))


def _hole_line(
    score: Score, breath: Sequence[Note], hole: int, places: Sequence[tuple[int, int]], rate: int
) -> HoleLine:
    """Return the line of *hole*, from note to note; it waits where a note is without it."""
    parts: list[ToneSegment] = []
    found: list[PlacedReed] = []
    before: Note | None = None
    played = [_in_hole(note, hole) for note in breath]
    first_hz = next(own.hz for own in played if own is not None)
    for own, (start, end) in zip(played, places, strict=True):
        if own is None:
            waits = found[-1].hz if found else first_hz
            parts.append(ToneSegment(start, end - start, 0.0, waits))
        else:
            from_hz = before.hz if before is not None and own.joined else None
            curve = _curve(score, own, before)
            slides = (round(each.lasting_s * rate) for each in curve.glides if not each.start_s)
            slide = 0 if from_hz is None else next(slides, 0)
            found.append(PlacedReed(start, own.reed, own.hz, slide))
            parts += note_segments(curve, own.hz, from_hz, start, end - start, rate)
        before = own
    return HoleLine(tuple(each.hz for each in found), connected(parts, rate), tuple(found))


def _in_hole(note: Note, hole: int) -> Note | None:
    """Return *note* in *hole* alone, or ``None`` where it is not played there."""
    if not note.beside:
        return note if note.reed.hole == hole else None
    own = next((each for each in note.sounded if each.reed.hole == hole), None)
    return None if own is None else of_one_hole(note, own)


def _curve(score: Score, note: Note, before: Note | None) -> PitchCurve:
    if not note.joined and not note.style.marks:
        return PitchCurve()
    return pitch_curve(score, note, before)
