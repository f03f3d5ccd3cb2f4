"""The exercises of a course whose drill is meant for other positions than the course asks for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from reedmill.base.source import Span
from reedmill.library import not_meant_for
from reedmill.pack.course.course import Course


class PlayedElsewhere(NamedTuple):
    """A drill of an exercise outside its own positions."""

    place: Span | None  # in the course file
    notice: str


def played_elsewhere(course: Course) -> Iterator[PlayedElsewhere]:
    """Yield a notice for each drill in each position that it is not meant for."""
    for lesson in course.lessons:
        for entry in lesson.entries:
            for position in entry.positions:
                notice = not_meant_for(entry.drill, course.harps[0], position)
                if notice:
                    yield PlayedElsewhere(entry.place, notice)
