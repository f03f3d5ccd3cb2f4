"""A form laid out in bars of a meter, chorus after chorus, with the chord in force everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction
from itertools import accumulate, pairwise

from reedmill.band.form import Form, FormBar
from reedmill.band.moods import Mood
from reedmill.band.set_plan import ChorusKind
from reedmill.band.way_in_and_out import HELD_BARS, Ending, Intro, intro_bars, last_chorus
from reedmill.score.score import Meter
from reedmill.theory.chords import Chord

PHRASE = 4
"""Bars in which a player keeps to one way: the phrases of most forms."""

INTRO = -1
"""The number of what is played before the first chorus."""


class Duty(Enum):
    """The players of a bar, and their duty in it."""

    ALL = "all"
    STOPS = "stops"  # all strike the stops of the feel and are silent between
    FIRST_BEAT = "first beat"  # all strike it and are silent after
    NOBODY = "nobody"
    DRUMS = "drums"  # they play alone


@dataclass(frozen=True, slots=True)
class ChordSpan:
    """A chord and the beats it lasts within one bar."""

    start: Fraction  # beats from the start of the music
    end: Fraction
    chord: Chord


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar of the music, with its chords, its place in the set, and what the band does in it."""

    number: int  # from 0 at the start of each chorus
    stretches: tuple[ChordSpan, ...]
    opens: bool  # a chorus starts here, and music went before it
    leads_on: bool  # a new chorus, or the last bar of all, follows
    last: bool  # of all
    chorus: int = 0  # from 0; INTRO before the first
    mood: Mood = Mood.EVEN
    duty: Duty = Duty.ALL
    returns: bool = False  # the band is all there again in the bar after it

    @property
    def start(self) -> Fraction:
        """Beats from the start of the music to the start of the bar."""
        return self.stretches[0].start

    @property
    def end(self) -> Fraction:
        """Beats from the start of the music to the end of the bar."""
        return self.stretches[-1].end

    @property
    def phrase(self) -> int:
        """The phrase of the chorus it is in, from 0."""
        return self.number // PHRASE


@dataclass(frozen=True, slots=True)
class _Place:
    """A bar before its chords are laid out in time."""

    number: int
    bar: FormBar
    chorus: int
    kind: ChorusKind
    duty: Duty


def set_bars(
    form: Form,
    meter: Meter,
    plan: tuple[ChorusKind, ...],
    *,
    intro: Intro = Intro.NONE,
    ending: Ending = Ending.WRITTEN,
) -> tuple[PlayedBar, ...]:
    """Return every bar of a set: its way in, a chorus of *form* for each of *plan*, its ending."""
    places = [*_intro(form, plan[0], intro), *_choruses(form, plan, ending)]
    total = len(places)
    bars: list[PlayedBar] = []
    for at, place in enumerate(places):
        start = Fraction(at * meter.beats)
        following = places[at + 1] if at + 1 < total else None
        bars.append(
            PlayedBar(
                place.number,
                tuple(_stretches(place.bar, start, meter)),
                opens=place.number == 0 and place.chorus != INTRO and at > 0,
                leads_on=at == total - 2
                or (following is not None and following.chorus != place.chorus),
                last=at == total - 1,
                chorus=place.chorus,
                mood=place.kind.mood,
                duty=place.duty,
                returns=following is not None
                and following.duty is Duty.ALL
                and place.duty is not Duty.ALL,
            )
        )
    if ending is Ending.HELD:
        bars[-1] = _held(bars[-1], HELD_BARS * meter.beats)
    return tuple(bars)


def _held(bar: PlayedBar, beats: int) -> PlayedBar:
    """Return *bar* with its last chord held for *beats* more."""
    *before, last = bar.stretches
    return replace(bar, stretches=(*before, replace(last, end=last.end + beats)))


def _intro(form: Form, kind: ChorusKind, intro: Intro) -> Iterator[_Place]:
    duty = Duty.DRUMS if intro is Intro.DRUMS else Duty.ALL
    first = ChorusKind.EVEN if kind is not ChorusKind.QUIET else kind
    for number, bar in enumerate(intro_bars(form, intro)):
        yield _Place(number, bar, INTRO, first, duty)


def _choruses(form: Form, plan: tuple[ChorusKind, ...], ending: Ending) -> Iterator[_Place]:
    for chorus, kind in enumerate(plan):
        last = chorus == len(plan) - 1
        bars = last_chorus(form, ending) if last else form.chorus(last=False)
        for number, bar in enumerate(bars):
            closing = last and number >= len(bars) - max(len(form.ending), 1)
            duty = Duty.ALL if closing else _duty(form, kind, number)
            yield _Place(number, bar, chorus, kind, duty)


def _duty(form: Form, kind: ChorusKind, number: int) -> Duty:
    """Return who plays in bar *number* of a chorus."""
    stops = stopped_bars(form) if kind is ChorusKind.STOPS else form.stops
    breaks = broken_bars(form) if kind is ChorusKind.BREAKS else form.breaks
    if kind is ChorusKind.TRADE and number // PHRASE % 2:
        return Duty.DRUMS
    if number in breaks:
        return Duty.FIRST_BEAT if number == breaks[0] else Duty.NOBODY
    return Duty.STOPS if number in stops else Duty.ALL


def stopped_bars(form: Form) -> range:
    """Return the bars that a chorus of stops has them in: a third of it where a form is silent."""
    count = len(form.bars)
    return form.stops or range(max(count // 3 // PHRASE * PHRASE, min(PHRASE, count - 1)))


def broken_bars(form: Form) -> range:
    """Return the bars of the break of a chorus: the last two where a form is silent."""
    count = len(form.bars)
    return form.breaks or range(max(count - 2, min(1, count - 1)), count)


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
