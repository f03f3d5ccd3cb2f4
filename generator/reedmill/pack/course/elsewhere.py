"""The exercises of a course that are played, but not as they are meant: position or third."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from reedmill.base.source import Span
from reedmill.harp import Layout
from reedmill.harp.harp_choices import harp_for
from reedmill.harp.harp_places import HarpPlace
from reedmill.harp.harp_thirds import third_apart
from reedmill.library import not_meant_for
from reedmill.pack.course.course import Course
from reedmill.pack.course.registers import HarpChoice, InKeys
from reedmill.theory.positions import Position


class PlayedElsewhere(NamedTuple):
    """A drill outside its own positions, or on a harp with another third than its song."""

    place: Span | None  # in the course file
    notice: str


def played_elsewhere(course: Course) -> Iterator[PlayedElsewhere]:
    """Yield a notice for each drill in each position, or key, that it is not meant for."""
    for lesson in course.lessons:
        for entry in lesson.entries:
            for position in entry.positions:
                notice = not_meant_for(entry.drill, course.harps[0], position)
                if notice:
                    yield PlayedElsewhere(entry.place, notice)
                for told in _of_thirds(entry.harps, position, course.layout):
                    yield PlayedElsewhere(entry.place, told)


def _of_thirds(choice: HarpChoice, position: Position, layout: Layout) -> Iterator[str]:
    """Yield a notice for each key of *choice* whose third is another in *position*."""
    for key in choice.keys if isinstance(choice, InKeys) else ():
        apart = third_apart(key, HarpPlace(harp_for(key, position, layout), position))
        if apart:
            yield apart.told("positions = {}")
