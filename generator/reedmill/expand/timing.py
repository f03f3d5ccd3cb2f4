"""The exact time of every step: beats, checked bar lines, slides tied to their source."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from reedmill.base.gathering import apart
from reedmill.base.source import Span
from reedmill.expand.fingering import can_join
from reedmill.expand.playing import EchoGap, Played, PlayedEvent, RepeatMark
from reedmill.harp.together import held_holes, holes_tab, shared_holes
from reedmill.language.drill import BarCheck
from reedmill.language.mistakes import drill_mistake
from reedmill.language.words import MAX_BARS
from reedmill.score.score import Meter, Repeat
from reedmill.score.style import Mark


@dataclass(frozen=True, slots=True)
class Timed:
    """A step with its place in time."""

    start: Fraction  # beats
    step: PlayedEvent

    @property
    def end(self) -> Fraction:
        """The beat at which the step stops sounding."""
        return self.start + self.step.length


@dataclass(frozen=True, slots=True)
class TimedPart:
    """The notes of a part in time."""

    notes: tuple[Timed, ...]
    echoes: tuple[tuple[Fraction, Fraction], ...]  # stretches left open, start and end
    repeats: tuple[Repeat, ...]
    end: Fraction  # beats


def timed_part(played: Played, meter: Meter, start: Fraction) -> TimedPart:
    """Lay the steps one after the other from *start*.

    A slide from a note to itself becomes one longer note.  Raises ``PatternError`` where
    a bar line does not fall on the end of a bar, a slide has nothing to leave, or the drill
    has more than ``MAX_BARS`` bars.
    """
    now = bar_start = start
    late = Fraction(0)  # beats by which a bar line before this one was out of place
    begins: list[Fraction] = []
    notes: list[Timed] = []
    echoes: list[tuple[Fraction, Fraction]] = []
    folds: list[tuple[RepeatMark, Fraction]] = []
    span = Span("", 1, 1)  # of the last note or rest; one comes before anything lasts
    for step in played:
        begins.append(now)
        if isinstance(step, BarCheck):
            with apart():
                _check_bar(bar_start - late, now - late, meter, step.span)
            bar_start, late = now, now % meter.beats
        elif isinstance(step, RepeatMark):
            folds.append((step, now))
        elif isinstance(step, EchoGap):
            echoes.append((now, 2 * now - begins[step.start]))
            now = echoes[-1][1]
        else:
            _add(notes, Timed(now, step))
            now += step.length
            span = step.event.span
        if now > MAX_BARS * meter.beats:
            raise drill_mistake("too-many-bars", span, most=MAX_BARS)
    for each in notes:
        _check_slide_fits(each)
    return TimedPart(tuple(notes), tuple(echoes), tuple(_repeats(folds)), now)


def _repeats(folds: list[tuple[RepeatMark, Fraction]]) -> Iterator[Repeat]:
    start = ending = Fraction(0)
    passes: list[tuple[Fraction, Fraction]] = []
    for what, at in folds:
        if what is RepeatMark.BEGIN:
            start, passes = at, []
        elif what is RepeatMark.ENDING:
            ending = at
        elif what is RepeatMark.AGAIN:
            passes.append((ending, at))
        else:
            yield Repeat(start, tuple(passes))


def _add(notes: list[Timed], timed: Timed) -> None:
    if timed.step.event.joined:
        _check_slide(notes[-1] if notes else None, timed)
        before = notes[-1]
        if before.step.reeds == timed.step.reeds:
            length = before.step.length + timed.step.length
            style = timed.step.style.under(before.step.style)
            longer = Timed(before.start, replace(before.step, length=length, style=style))
            notes[-1] = _lifted(longer, timed) if _ends_in_lift(notes) else longer
            return
        notes[-1] = _left_open(before)
        if held_holes(before.step.reeds, timed.step.reeds):
            timed = _lifted(timed, timed)
    if timed.step.reed is not None:
        notes.append(timed)


def _left_open(before: Timed) -> Timed:
    """Return the note *before* a slide without what would end it; refuse what was written there."""
    step = before.step
    for mark in step.event.style.marks:
        if mark.ends:
            raise drill_mistake("slide-after-end", step.event.span, mark=mark.value)
    style = step.style.without(*(mark for mark in step.style.marks if mark.ends))
    return Timed(before.start, replace(step, style=style))


def _ends_in_lift(notes: Sequence[Timed]) -> bool:
    """Return whether the last of *notes* is a lift out of the one before it."""
    joined = notes[-1].step.event.joined
    return joined and bool(held_holes(*(each.step.reeds for each in notes[-2:])))


def _lifted(timed: Timed, written: Timed) -> Timed:
    """Return a note after a lift without the shake of brackets; refuse one *written* before it.

    A shake begins with its lower hole alone, so that no hole would go on into it.
    """
    if Mark.SHAKE not in timed.step.style:
        return timed
    if Mark.SHAKE in written.step.event.style:
        raise drill_mistake("shake-after-lift", written.step.event.span)
    return Timed(timed.start, replace(timed.step, style=timed.step.style.without(Mark.SHAKE)))


def whole_bars(end: Fraction, meter: Meter) -> Fraction:
    """Return the end of the bar that contains *end*; at least one bar."""
    return Fraction(max(1, -(-end // meter.beats)) * meter.beats)


def _check_bar(start: Fraction, now: Fraction, meter: Meter, span: Span) -> None:
    """Refuse a bar line at *now* that does not end the bar begun at *start*."""
    if now % meter.beats == 0:
        return
    missing = start % meter.beats  # a pick-up starts inside its bar
    if missing:
        said = meter.beats - missing
        raise drill_mistake(
            "pickup-does-not-add-up", span, beats=_beats(now - start), said=_mixed(said)
        )
    raise drill_mistake(
        "bar-does-not-add-up", span, beats=_beats(now - start), meter=meter.name, full=meter.beats
    )


def _mixed(count: Fraction) -> str:
    whole, part = divmod(count, 1)
    return " ".join(str(piece) for piece in (whole, part) if piece) or "0"


def _beats(count: Fraction) -> str:
    return f"{_mixed(count)} beat{'s' if count > 1 else ''}"


def _check_slide(before: Timed | None, timed: Timed) -> None:
    """Refuse a slide that does not continue the reed sounding right before it."""
    span = timed.step.event.span
    if before is None or before.end != timed.start:
        raise drill_mistake("slide-from-nowhere", span)
    here, there = before.step.reeds, timed.step.reeds
    if can_join(here, there):
        if timed.step.event.slide_beats is not None and held_holes(here, there):
            raise drill_mistake("length-on-lift", span, there=holes_tab(there))
        return
    tabs = {"here": holes_tab(here), "there": holes_tab(there)}
    if not before.step.beside and not timed.step.beside:
        raise drill_mistake("slide-between-reeds", span, **tabs)
    if shared := shared_holes(here, there):
        moved = next(each.hole for each in here if each.hole in shared and each not in there)
        raise drill_mistake("lift-moves-hole", span, hole=moved, **tabs)
    raise drill_mistake("nothing-held", span, **tabs)


def _check_slide_fits(timed: Timed) -> None:
    """Refuse a slide that takes more than its note, with all that goes on from that."""
    slide = timed.step.event.slide_beats
    if slide is not None and slide > timed.step.length:
        raise drill_mistake(
            "slide-outlasts-note",
            timed.step.event.span,
            slide=_beats(slide),
            length=_beats(timed.step.length),
        )
