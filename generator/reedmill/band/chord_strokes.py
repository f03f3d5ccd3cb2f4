"""The strokes of a comp: those of the feel, and one for every change of chord."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.band.feel import BandFeel, FeelStroke
from reedmill.band.harmony import ChordSpan, Duty, PlayedBar
from reedmill.band.hit import strokes_of, way_for
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


def chord_strokes(
    feel: BandFeel, bars: tuple[PlayedBar, ...], seed: int
) -> tuple[ChordStroke, ...]:
    """Return the strokes of the comp in time order, none of them longer than to the next one.

    A chord that the feel has no stroke for is struck where it starts, or by the stroke that is
    half a beat before it.  In bars with stops the stops alone are struck.
    """
    found: list[ChordStroke] = []
    places = _places(bars)
    for bar in bars:
        written = _written(feel, bar, seed)
        for place in places[bar.start]:
            span = place.span
            own = [each for each in written if span.start <= bar.start + each.at < span.end]
            if place.new and (bar.duty is Duty.ALL or bar.last):
                early = _pushed(feel, found, place, own)
                if early is not None:
                    found[-1] = early
                elif not own or _cuts_off(own, written, span.start - bar.start):
                    own = [_added(written, span.start - bar.start), *own]
            found += [_placed(feel, place, each) for each in own]
    return tuple(_until_the_next(found))


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


def _written(feel: BandFeel, bar: PlayedBar, seed: int) -> tuple[FeelStroke, ...]:
    """Return the strokes of a bar as the feel has them."""
    if bar.duty in (Duty.NOBODY, Duty.DRUMS):
        return ()
    if bar.last:
        return feel.ending
    if bar.duty is not Duty.ALL:
        return feel.stops if bar.duty is Duty.STOPS else feel.stops[:1]
    return strokes_of(way_for(feel.comp.in_mood(bar.mood), bar, seed, "comp"), bar)


def _pushed(
    feel: BandFeel, found: list[ChordStroke], place: _Place, own: list[FeelStroke]
) -> ChordStroke | None:
    """Return the last stroke before a chord as one that strikes that chord half a beat early.

    Nothing where the chord is struck as it starts, or where the stroke is the only one that the
    chord before has.
    """
    start = place.span.start
    on_time = bool(own) and place.bar.start + own[0].at == start
    if on_time or len(found) < 2 or found[-1].run != found[-2].run:
        return None
    last = found[-1]
    if last.bar.duty is not Duty.ALL or last.start < start - feel.meter.pulse / 2:
        return None
    length = last.stroke.length or _usual(feel, last.stroke, feel.meter.pulse)
    end = last.start + (length or place.span.end - last.start)
    if not own:  # it is all there is of the chord, and rings into it
        end = max(end, start + feel.meter.pulse / 2)
    end = min(place.span.end, end)
    return replace(last, end=end, chord=place.span.chord, run=place.run)


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
    starts = [each.start for each in found[1:]]
    shorter = [
        replace(each, end=min(each.end, start)) for each, start in zip(found, starts, strict=False)
    ]
    return shorter + found[-1:]
