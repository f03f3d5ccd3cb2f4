"""The rungs that each drill practises and the notes before them: a sheet is chosen by these."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from reedmill.base.errors import InputError
from reedmill.base.text import ForeignText
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.language import Drill
from reedmill.library import practice_shelf, whole_library
from reedmill.score.score import Score
from reedmill.theory.positions import Position


class Reached(NamedTuple):
    """A rung by the note before it, on whatever harp."""

    tab: str
    came_from: str | None  # ``None`` at a start


@dataclass(frozen=True, slots=True)
class DrillContent:
    """A drill in a position, and how often it comes to each of its notes from each other."""

    title: ForeignText
    named: str  # what it is asked for by: its title, or the path of its file
    position: int
    level: int
    notes: int
    times: Mapping[Reached, int]
    of_course: bool = False

    def share(self, reached: Reached) -> float:
        """Return the part of all notes that is *reached*, 0 to 1."""
        return self.times.get(reached, 0) / self.notes if self.notes else 0.0


def library_contents() -> Iterator[DrillContent]:
    """Yield the content of every shipped drill to practise, in its usual position."""
    for each in practice_shelf():
        drill = each.drill
        yield _content(drill, each.score, drill.title, of_course=False)


def course_contents(drills: Sequence[tuple[Drill, Position, str]]) -> Iterator[DrillContent]:
    """Yield the content of *drills* of a course, each with its position and what it is asked by.

    One that no harp can play in that position is passed over.
    """
    for drill, position, named in drills:
        try:
            score = expand(drill, Harp("C"), position)
        except InputError:
            continue
        yield _content(drill, score, named, of_course=True)


def is_shipped(drill: Drill) -> bool:
    """Tell whether *drill* is one of the library's, with whatever embouchures."""
    # a course may change those and never the span, which no two drills share
    return any(drill.span is each.drill.span for each in whole_library())


def reached_in(score: Score) -> Mapping[Reached, int]:
    """Return how often *score* comes to each of its notes from each other, and from a start.

    Several holes at once are never heard as rungs, so they are not counted; a note after them
    is come to as from a start, as the ear has it.
    """
    tabs = [None if note.beside else note.reed.tab for note in score.notes]
    return Counter(Reached(tab, before) for before, tab in pairwise([None, *tabs]) if tab)


def _content(drill: Drill, score: Score, named: str, *, of_course: bool) -> DrillContent:
    return DrillContent(
        drill.title, named, score.position.number, drill.level or 0, len(score.notes),
        reached_in(score), of_course,
    )  # fmt: skip
