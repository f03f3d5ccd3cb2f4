"""The bars of a score as they are printed: what is played again is written once, with signs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.notation import Written, bars
from reedmill.score import Repeat, Score


@dataclass(frozen=True, slots=True)
class Bar:
    """A printed bar; one inside a repeat stands for all the times it is played."""

    written: tuple[Written, ...]
    opens: bool = False  # a repeat begins with it
    closes: int = 0  # a repeat ends with it: how many times that is played, 0 for no repeat
    ending: int = 0  # an ending begins with it: the pass it is for, from 1
    ending_ends: bool = False
    again: tuple[Fraction, ...] = ()  # beats from here to the other times it is played

    @property
    def start(self) -> Fraction:
        """Beats from the start of the score to its first written value."""
        return self.written[0].start

    @property
    def end(self) -> Fraction:
        """Beats from the start of the score to where it ends."""
        return self.written[-1].start + self.written[-1].length


def printed(score: Score) -> list[Bar]:
    """The bars to print, in order.

    A repeat is written out where signs could not say all of it: where it does not begin
    and end on bar lines, a note is held or slid over one, or its times differ.
    """
    found = {number: Bar(tuple(written)) for number, written in enumerate(bars(score))}
    for repeat in score.repeats:
        if _can_be_signs(score, repeat):
            _note_again(found, repeat, score.meter.beats)
            for number, bar in _with_signs(found, repeat, score.meter.beats):
                found[number] = bar
            for number in _played_again(repeat, score.meter.beats):
                del found[number]
    return [found[number] for number in sorted(found)]


def breaths(score: Score, shown: Sequence[Bar]) -> set[Fraction]:
    """The beats of printed music at which to breathe, be it in one of its repeats alone."""
    return {
        place - later
        for bar in shown
        for later in (Fraction(0), *bar.again)
        for place in score.breathe_at
        if bar.start < place - later <= bar.end
    }


def _note_again(found: dict[int, Bar], repeat: Repeat, beats: int) -> None:
    again = tuple(end - repeat.start for _, end in repeat.passes[:-1])
    for number in range(int(repeat.start // beats), int(repeat.passes[0][0] // beats)):
        found[number] = replace(found[number], again=again)


def _with_signs(found: dict[int, Bar], repeat: Repeat, beats: int) -> Iterator[tuple[int, Bar]]:
    start, times = int(repeat.start // beats), len(repeat.passes)
    body_end, end = (int(edge // beats) for edge in repeat.passes[0])
    if body_end == end:
        alone = body_end - 1 == start
        yield start, replace(found[start], opens=True, closes=times if alone else 0)
        if not alone:
            yield body_end - 1, replace(found[body_end - 1], closes=times)
        return
    yield start, replace(found[start], opens=True)
    for number, (ending, ends) in enumerate(repeat.passes, start=1):
        bar_numbers = range(int(ending // beats), int(ends // beats))
        for at in bar_numbers:
            last = at == bar_numbers[-1]
            yield (
                at,
                replace(
                    found[at],
                    ending=number if at == bar_numbers[0] else 0,
                    ending_ends=last,
                    closes=2 if last and number < times else 0,
                ),
            )


def _played_again(repeat: Repeat, beats: int) -> Iterator[int]:
    """The bars that are printed by others: what is the same, from the second time on."""
    for (_, before), (ending, _) in pairwise(repeat.passes):
        yield from range(int(before // beats), int(ending // beats))


def _can_be_signs(score: Score, repeat: Repeat) -> bool:
    starts = [repeat.start, *(end for _, end in repeat.passes)]
    edges = {edge for ending in repeat.passes for edge in ending} | {repeat.start}
    in_pickup = score.pickup > 0 and repeat.start < score.meter.beats
    on_bar_lines = not in_pickup and all(edge % score.meter.beats == 0 for edge in edges)
    marks = {start for start, _ in (*score.sections, *score.echoes)}
    if not (on_bar_lines and repeat.body) or any(starts[0] < mark < starts[-1] for mark in marks):
        return False
    if any(note.start < edge < note.end for edge in edges for note in score.notes):
        return False
    if any(note.joined and note.start in edges for note in score.notes):
        return False
    first, *others = [_played(score, start, repeat.body) for start in starts[:-1]]
    return all(other == first for other in others)


def _played(score: Score, start: Fraction, length: Fraction) -> list[object]:
    """All that is played in a stretch, with its place in it."""
    notes = (note for note in score.notes if start <= note.start < start + length)
    return [replace(note, start=note.start - start) for note in notes]
