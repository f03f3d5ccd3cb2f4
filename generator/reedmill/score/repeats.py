"""The printed bars of a score: repeated music is written once, with repeat signs."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from reedmill.score.notation import NotatedValue, bars
from reedmill.score.score import Breathing, Repeat, Score


@dataclass(frozen=True, slots=True)
class PrintedBar:
    """A printed bar; one inside a repeat stands for all the times it is played."""

    written: tuple[NotatedValue, ...]
    opens: bool = False  # a repeat begins with it
    closes: int = 0  # a repeat ends with it: how many times that is played, 0 for no repeat
    ending: tuple[int, ...] = ()  # an ending begins with it: the passes it is for, from 1
    ending_ends: bool = False
    again: tuple[Fraction, ...] = ()  # beats from here to the other times it is played

    @property
    def start(self) -> Fraction:
        """Beats from the start of the score to the bar's first written value."""
        return self.written[0].start

    @property
    def end(self) -> Fraction:
        """Beats from the start of the score to the end of the bar."""
        return self.written[-1].start + self.written[-1].length


def printed(score: Score) -> list[PrintedBar]:
    """Return the bars to print, in order.

    A repeat is written out where signs could not say all of it: where it does not begin
    and end on bar lines, a note is held or slid over one, or its times differ.
    """
    found = {number: PrintedBar(tuple(written)) for number, written in enumerate(bars(score))}
    marks = sorted(start for start, _ in (*score.sections, *score.echoes))
    for repeat in score.repeats:
        if _can_be_signs(score, repeat, marks):
            _fold(found, score, repeat)
    return [found[number] for number in sorted(found)]


@dataclass(frozen=True, slots=True)
class WrittenOnce:
    """A stretch of music that is written once for every time that it is played."""

    starts: tuple[Fraction, ...]  # beats, of each time
    length: Fraction  # beats


def written_once(score: Score) -> list[WrittenOnce]:
    """Return the stretches of *score* whose bars stand for several times, bodies and endings."""
    marks = sorted(start for start, _ in (*score.sections, *score.echoes))
    found: list[WrittenOnce] = []
    for repeat in score.repeats:
        if not _can_be_signs(score, repeat, marks):
            continue
        begins = (repeat.start, *(end for _, end in repeat.passes[:-1]))
        found.append(WrittenOnce(begins, repeat.body))
        for numbers in _endings(score, repeat):
            places = [repeat.passes[number - 1] for number in numbers]
            start, end = places[0]
            found.append(WrittenOnce(tuple(begin for begin, _ in places), end - start))
    return [each for each in found if each.length and len(each.starts) > 1]


def _fold(found: dict[int, PrintedBar], score: Score, repeat: Repeat) -> None:
    """Give the bars of *repeat* their signs, and remove those that others stand for."""
    beats = score.meter.beats
    start, body = repeat.start // beats, _numbers(repeat.start, repeat.passes[0][0], beats)
    found[start] = replace(found[start], opens=True)
    later = [end - repeat.start for _, end in repeat.passes[:-1]]
    for number in body:
        found[number] = replace(found[number], again=tuple(later))
    for (_, before), (ending, _) in pairwise(repeat.passes):
        for number in _numbers(before, ending, beats):
            del found[number]
    if repeat.passes[0][0] == repeat.passes[0][1]:
        found[body[-1]] = replace(found[body[-1]], closes=len(repeat.passes))
        return
    for passes in _endings(score, repeat):
        _fold_ending(found, repeat, passes, beats)


def _fold_ending(
    found: dict[int, PrintedBar], repeat: Repeat, passes: Sequence[int], beats: int
) -> None:
    """Give the ending of these *passes*, counted from 1, its signs; it is printed once."""
    first, *others = (repeat.passes[number - 1] for number in passes)
    shown = _numbers(*first, beats)
    later = tuple(start - first[0] for start, _ in others)
    for number in shown:
        found[number] = replace(found[number], again=later)
    found[shown[0]] = replace(found[shown[0]], ending=tuple(passes))
    closes = 0 if passes[-1] == len(repeat.passes) else 2
    found[shown[-1]] = replace(found[shown[-1]], ending_ends=True, closes=closes)
    for other in others:
        for number in _numbers(*other, beats):
            del found[number]


def _endings(score: Score, repeat: Repeat) -> list[list[int]]:
    """Return the passes, counted from 1, in runs that end alike."""
    groups: list[list[int]] = []
    last: list[object] = []
    for number, (start, end) in enumerate(repeat.passes, start=1):
        played = [end - start, *_played(score, start, end - start)]
        if groups and played == last:
            groups[-1].append(number)
        else:
            groups.append([number])
        last = played
    return groups


def _numbers(start: Fraction, end: Fraction, beats: int) -> range:
    """Return the bars between two bar lines, counted from 0."""
    return range(start // beats, end // beats)


def _can_be_signs(score: Score, repeat: Repeat, marks: Sequence[Fraction]) -> bool:
    """Return True where signs can show all of *repeat*; *marks* are section starts, sorted."""
    starts = [repeat.start, *(end for _, end in repeat.passes)]
    edges = {edge for ending in repeat.passes for edge in ending} | {repeat.start}
    on_bar_lines = all(edge % score.meter.beats == 0 for edge in edges)  # no pick-up begins on one
    marked = bisect_right(marks, starts[0]) < bisect_left(marks, starts[-1])
    if not (on_bar_lines and repeat.body) or marked:
        return False
    if any(score.sounding_over(edge) for edge in edges):
        return False
    begins = [score.beginning_at(edge) for edge in edges]
    if any(note and note.joined for note in begins):
        return False
    first, *others = [_played(score, start, repeat.body) for start in starts[:-1]]
    return all(other == first for other in others)


def _played(score: Score, start: Fraction, length: Fraction) -> list[object]:
    """Return all that is played in a stretch, with its place in it, and the chords under it.

    A breath after its last note is one of the stretch.
    """
    end = start + length
    notes: list[object] = [
        (note.start - start, *note.as_played) for note in score.between(start, end)
    ]
    first = bisect_right(score.breaths, start, key=_at)
    last = bisect_right(score.breaths, end, lo=first, key=_at)
    notes += [(each.at - start, each.way, each.rest) for each in score.breaths[first:last]]
    if score.band is None or not length:
        return notes
    chords = [(at - start, chord) for at, chord in score.band.changing(start, end) if at > start]
    return [*notes, score.band.chord_at(start), *chords]


def _at(breath: Breathing) -> Fraction:
    return breath.at
