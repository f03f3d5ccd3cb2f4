"""A form laid out in bars of a meter, chorus after chorus, with the chord in force everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate, pairwise

from reedmill.band.form import Form, FormBar
from reedmill.score.score import Meter
from reedmill.theory.chords import Chord


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and the beats it lasts within one bar."""

    start: Fraction  # beats from the start of the music
    end: Fraction
    chord: Chord


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar of the music, with its number, its chords and its place in the chorus."""

    number: int  # from 0 at the start of each chorus
    stretches: tuple[ChordSpan, ...]
    opens: bool  # a chorus other than the first starts here
    leads_on: bool  # a new chorus, or the last bar of all, follows
    last: bool  # of all

    @property
    def start(self) -> Fraction:
        """Beats from the start of the music to the start of the bar."""
        return self.stretches[0].start


def chorus_bars(form: Form, meter: Meter, choruses: int) -> tuple[PlayedBar, ...]:
    """Return every bar of *choruses* of the form, with turnarounds and the ending in place."""
    count = len(form.bars)
    total = count * choruses
    bars: list[PlayedBar] = []
    for at in range(total):
        chorus, number = divmod(at, count)
        bar = form.chorus(last=chorus == choruses - 1)[number]
        start = Fraction(at * meter.beats)
        bars.append(
            PlayedBar(
                number,
                tuple(_stretches(bar, start, meter)),
                opens=number == 0 and chorus > 0,
                leads_on=(number == count - 1 and at < total - 1) or at == total - 2,
                last=at == total - 1,
            )
        )
    return tuple(bars)


def changes(bars: tuple[PlayedBar, ...]) -> tuple[tuple[Fraction, Chord], ...]:
    """Return each place where a chord starts; a chorus restates a chord that goes on."""
    found: list[tuple[Fraction, Chord]] = []
    for bar in bars:
        for stretch in bar.stretches:
            first = bar.number == 0 and stretch.start == bar.start
            if first or found[-1][1] != stretch.chord:
                found.append((stretch.start, stretch.chord))
    return tuple(found)


def _stretches(bar: FormBar, start: Fraction, meter: Meter) -> Iterator[ChordSpan]:
    edges = _edges([each.share for each in bar], meter)
    for each, (begin, end) in zip(bar, pairwise(edges), strict=True):
        yield ChordSpan(start + begin, start + end, each.chord)


def _edges(shares: list[int], meter: Meter) -> list[Fraction]:
    """Return where each chord of a bar begins and where the bar ends, in beats.

    A change falls on the tap of the foot that is nearest, the later of two, as long as
    every chord keeps one.
    """
    taps = int(meter.beats / meter.pulse)
    exact = [Fraction(taps * share, sum(shares)) for share in accumulate(shares, initial=0)]
    tapped = [Fraction((2 * place + 1) // 2) for place in exact]
    if len(set(tapped)) < len(tapped):
        tapped = exact
    return [place * meter.pulse for place in tapped]
