"""From a course file to what an overview of its class asks of it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from reedmill.base.errors import InputError
from reedmill.base.reading import shown_name
from reedmill.base.text import printable
from reedmill.cli.meant import shell_quoted
from reedmill.coaching.class_overview import (
    CourseOutline,
    OutlineExercise,
    OutlineLesson,
    OutlineStudent,
)
from reedmill.coaching.drill_contents import DrillContent, course_contents, is_shipped
from reedmill.harp.harp_registers import REGISTERS
from reedmill.language import Drill
from reedmill.library import usual_position
from reedmill.pack.course.beside import beside
from reedmill.pack.course.course import Course, Edition, Entry, Lesson
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.lessons import BOOK_SUFFIX
from reedmill.pack.course.registers import Named
from reedmill.pack.course.shipped_courses import find_course
from reedmill.theory.positions import Position


@dataclass(frozen=True, slots=True)
class OutlinedCourse:
    """A course file, its course, and what an overview of the class asks of it."""

    file: Path
    course: Course

    @property
    def outline(self) -> CourseOutline:
        """The lessons that each student gets, and their harps."""
        course = self.course
        return CourseOutline(
            title=printable(course.title),
            everyone=_outline(Edition(course)),
            students={
                printable(each.name): _outline(Edition(course, each)) for each in course.students
            },
        )

    @property
    def contents(self) -> Iterator[DrillContent]:
        """The drills that are the course's own, or are played in another position than usual."""
        found = {(each.span, position): (each, position, named) for each, position, named in
                 self._own_drills()}  # fmt: skip
        return course_contents(list(found.values()))

    def _own_drills(self) -> Iterator[tuple[Drill, Position, str]]:
        for entry in (entry for lesson in self.course.lessons for entry in lesson.entries):
            drill, ours = entry.drill, is_shipped(entry.drill)
            for position in entry.positions:
                if not ours or position != usual_position(drill):
                    yield drill, position, drill.title if ours else drill.span.file

    def book(self) -> Path | None:
        """Return the record book that the course names; ``None`` where it names none.

        ``InputError`` where it is not there, or lies outside of the folder of the course.
        """
        if not self.course.book:
            return None
        path = self.file.parent / self.course.book
        if not os.path.lexists(path):
            raise InputError(
                f"{shown_name(path)}: the record book of this course is not there yet. Add the "
                "first takes to it: reedmill record add takes.json --student Ada --book "
                f"{shell_quoted(str(path))}"
            )
        return beside(self.file.parent, self.course.book, BOOK_SUFFIX)


def outlined_course(wanted: str) -> OutlinedCourse:
    """Read the course *wanted*, a file or the title of a shipped one."""
    file = find_course(wanted)
    return OutlinedCourse(file, read_course(file))


def _outline(edition: Edition) -> OutlineStudent:
    student = edition.student
    return OutlineStudent(
        lessons=tuple(
            OutlineLesson(each.number, printable(each.title), tuple(_exercises(edition, each)))
            for each in edition.course.lessons  # what a record adds is another with every take
        ),
        harps=edition.harps,
        registers=(student.registers if student else ()) or REGISTERS,
    )


def _exercises(edition: Edition, lesson: Lesson) -> Iterator[OutlineExercise]:
    for entry in lesson.entries:
        if not edition.leaves_out(lesson, entry):
            yield OutlineExercise(
                printable(entry.drill.title),
                _harps(entry),
                tuple(position.number for position in entry.positions),
            )


def _harps(entry: Entry) -> tuple[str, ...]:
    """Return the harps that the course names; none where they take turns or all are wanted."""
    return tuple(each.name for each in entry.harps.harps) if isinstance(entry.harps, Named) else ()
