"""The strokes of a comp: those of the feel, and one for every change of chord."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.band.feel import BandFeel, FeelStroke, Pattern
from reedmill.band.harmony import ChordSpan, Duty, PlayedBar
from reedmill.band.moods import chance
from reedmill.band.ways import strokes_of, way_for
from reedmill.theory.chords import Chord


@dataclass(frozen=True, slots=True)
class ChordStroke:
    """One stroke of the comp, and the chord it strikes."""

    bar: PlayedBar  # in which it is struck
    start: Fraction  # beats from the start of the music
    end: Fraction
    stroke: FeelStroke  # as the feel has it
    chord: Chord
    run: int  # counts the chords of the form, one that goes on over several bars once


@dataclass(frozen=True, slots=True)
class _Place:
    """A chord within one bar."""

    bar: PlayedBar
    span: ChordSpan
    run: int
    new: bool  # it starts here

    @property
    def at(self) -> Fraction:
        """Beats from the bar line."""
        return self.span.start - self.bar.start


_STRUCK = (Duty.ALL, Duty.STOPS, Duty.FIRST_BEAT)
_STOP = 10  # velocity of a stop, over that of a groove
_SEVERAL = 4  # strokes, the most that half a beat has
_AHEAD = 0.35  # how often a change that is written on time comes early


def chord_strokes(
    feel: BandFeel, bars: tuple[PlayedBar, ...], seed: int
) -> tuple[ChordStroke, ...]:
    """Return the strokes of the comp in time order, none of them longer than to the next one.

    A stroke on the last half beat before another chord strikes that chord and rings into it, or is
    left out where the change itself is struck.  A chord that has no stroke is struck where it
    starts; ghost strokes strike none.  In bars with stops the stops alone are struck.
    """
    found: list[ChordStroke] = []
    places, habit = _places(bars), _Habit(feel.meter.pulse)
    before: _Place | None = None  # the first place of the chord before
    back = False  # from stops or a break
    for bar in bars:
        written = _written(feel, bar, seed, habit)
        if back and bar.duty is Duty.ALL and not any(not each.at for each in written):
            written = (_added(written, Fraction(0)), *written)
        back = bar.returns
        for place in places[bar.start]:
            span = place.span
            own = [each for each in written if span.start <= bar.start + each.at < span.end]
            if place.new and before is not None:
                own = _changed(feel, found, before, place, own, seed)
            played = bar.duty is Duty.ALL or bar.last
            if place.new and played and not _begun(found, place, own, written):
                own = [_added(written, span.start - bar.start), *own]
            found += [_placed(feel, place, each) for each in own]
            before = place if place.new else before
    return tuple(_until_the_next(found))


class _Habit:
    """Habits of a comper between beats: no off-beat of a riff comes three bars running.

    Those that a way has in every bar, or in two bars running, are its style.
    """

    def __init__(self, pulse: Fraction) -> None:
        self._pulse = pulse
        self._last: tuple[frozenset[Fraction], frozenset[Fraction]] = (frozenset(), frozenset())

    def broken(self, way: Pattern, strokes: tuple[FeelStroke, ...]) -> tuple[FeelStroke, ...]:
        """Return *strokes*, the next bar, without what would be heard a third time."""
        bars = [self._between(bar) for bar in way]
        style = frozenset[Fraction]().union(
            *(a & b for a, b in zip(bars, [*bars[1:], *bars[:1]], strict=True))
        )
        tired = self._last[0] & self._last[1] - style
        kept = tuple(each for each in strokes if each.at not in tired)
        self._last = (self._last[1], self._between(kept))
        return kept

    def rested(self) -> None:
        """Take note of a bar with nothing between beats."""
        self._last = (self._last[1], frozenset())

    def _between(self, strokes: tuple[FeelStroke, ...]) -> frozenset[Fraction]:
        return frozenset(each.at for each in strokes if each.at % self._pulse and not each.ghost)


def _places(bars: tuple[PlayedBar, ...]) -> dict[Fraction, list[_Place]]:
    """Return the chords of each bar, by its start."""
    found: dict[Fraction, list[_Place]] = {}
    run, before = -1, None
    for bar in bars:
        for at, span in enumerate(bar.stretches):
            new = span.chord != before or (not at and not bar.number)
            run, before = run + new, span.chord
            found.setdefault(bar.start, []).append(_Place(bar, span, run, new))
    return found


def _written(feel: BandFeel, bar: PlayedBar, seed: int, habit: _Habit) -> tuple[FeelStroke, ...]:
    """Return the strokes of a bar as the feel has them."""
    if bar.duty is Duty.ALL and not bar.last:
        way = way_for(feel.comp.in_mood(bar.mood), bar, seed, "comp")
        return habit.broken(way, strokes_of(way, bar))
    habit.rested()
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return ()
    together = feel.ending if bar.last else feel.stops
    stops = together if bar.last or bar.duty is Duty.STOPS else together[:1]
    return tuple(replace(each, louder=each.louder + _STOP) for each in stops)


def _changed(
    feel: BandFeel,
    found: list[ChordStroke],
    before: _Place,
    place: _Place,
    own: list[FeelStroke],
    seed: int,
) -> list[FeelStroke]:
    """Settle who strikes a change of chord, and return the strokes of the new one.

    What is *found* on the last half beat before it goes, or strikes the new chord.
    """
    start, goes_on = place.span.start, before.span.chord == place.span.chord
    near = _just_before(feel, found, start)
    early = [each for each in near if not each.stroke.ghost]
    on_time = bool(own) and not own[0].ghost and place.bar.start + own[0].at == start
    pickups = on_time and feel.meter.compound  # in threes they lead into the one
    if not early or place.bar.duty not in _STRUCK or pickups or (goes_on and own):
        return own
    del found[len(found) - len(near) :]
    if not any(each.run == before.run and not each.stroke.ghost for each in found):
        found.append(_placed(feel, before, _added((early[0].stroke,), before.at)))
    if on_time and not _ahead(place, own[0], seed):
        found += [each for each in near if each.stroke.ghost]
        return own
    found.append(_pushed(feel, early[-1], place, own[:on_time]))
    return own[on_time:]


def _just_before(feel: BandFeel, found: list[ChordStroke], start: Fraction) -> list[ChordStroke]:
    """Return the strokes on the last half beat before *start*."""
    near = start - feel.meter.pulse / 2
    return [each for each in found[-_SEVERAL:] if each.start >= near and each.bar.duty is Duty.ALL]


def _ahead(place: _Place, own: FeelStroke, seed: int) -> bool:
    """Return True where a comper strikes a chord early though it is written on time.

    By chance, and never where a chorus or a stop is entered, or a chord is held.
    """
    bar = place.bar
    entered = bar.number == 0 or bar.last or bar.duty is not Duty.ALL
    if entered or own.word == "held":
        return False
    return chance(seed, "ahead", place.span.start).random() < _AHEAD


def _pushed(
    feel: BandFeel, early: ChordStroke, place: _Place, instead: list[FeelStroke]
) -> ChordStroke:
    """Return a stroke before a chord as one that strikes that chord and rings into it.

    It rings as long as the one that is left out for it.
    """
    start, pulse = place.span.start, feel.meter.pulse
    length = early.stroke.length or _usual(feel, early.stroke, pulse)
    end = place.span.end if length is None else early.start + length
    ring = pulse / 4 if early.stroke.word == "short" else pulse / 2
    ends = [end, start + ring, *(_placed(feel, place, each).end for each in instead)]
    return replace(early, end=min(place.span.end, max(ends)), chord=place.span.chord, run=place.run)


def _begun(
    found: list[ChordStroke],
    place: _Place,
    own: list[FeelStroke],
    written: tuple[FeelStroke, ...],
) -> bool:
    """Return True for a chord that is struck, and not only after a held one has ended at it."""
    if found and found[-1].run == place.run:
        return True
    struck = [each for each in own if not each.ghost]
    return bool(struck) and not _cuts_off(struck, written, place.at)


def _cuts_off(own: list[FeelStroke], written: tuple[FeelStroke, ...], at: Fraction) -> bool:
    """Return True where a held chord would end at a change, and silence follow it."""
    held = [each for each in written if each.word == "held" and each.at < at]
    return bool(held) and own[0].at > at


def _added(written: tuple[FeelStroke, ...], at: Fraction) -> FeelStroke:
    """Return a stroke at *at* in the manner of those before it."""
    before = [each for each in written if each.at <= at] or list(written)
    held = any(each.word == "held" for each in written)
    return FeelStroke("held" if held or not before else before[-1].word, at)


def _placed(feel: BandFeel, place: _Place, stroke: FeelStroke) -> ChordStroke:
    """Return *stroke* with its chord, as long as it lasts undisturbed."""
    bar, span, start = place.bar, place.span, place.bar.start + stroke.at
    length = stroke.length
    if length is None:
        length = None if bar.last else _usual(feel, stroke, feel.meter.pulse / 2)
    end = span.end if length is None else min(span.end, start + length)
    return ChordStroke(bar, start, end, stroke, span.chord, place.run)


def _usual(feel: BandFeel, stroke: FeelStroke, plain: Fraction) -> Fraction | None:
    """Return how many beats a stroke lasts where the feel does not say; None: all there are."""
    if stroke.word == "held":
        return None
    return feel.meter.pulse / 4 if stroke.word == "short" else plain


def _until_the_next(found: list[ChordStroke]) -> list[ChordStroke]:
    """Return strokes in time order, each to the next at most; no ghost where another is."""
    places = {each.start: each for each in sorted(found, key=lambda each: not each.stroke.ghost)}
    ordered = [places[start] for start in sorted(places)]
    shorter = [replace(one, end=min(one.end, two.start)) for one, two in pairwise(ordered)]
    return shorter + ordered[-1:]
