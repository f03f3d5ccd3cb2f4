"""A course as its author wrote it, and its editions: the same course for each student.

Everything here is data that the reading has checked; ``tasks`` turns an edition into rows
to be made.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.base.source import Span
from reedmill.base.text import file_slug
from reedmill.formats.table import PACK_FORMATS
from reedmill.harp import RICHTER, Harp, Layout, Reed
from reedmill.harp.harp_registers import register
from reedmill.language import Drill
from reedmill.pack.course.registers import HarpChoice, Rotation
from reedmill.practice.practice import Recording
from reedmill.sheet.look import Look
from reedmill.theory.intonation import EQUAL, Intonation
from reedmill.theory.positions import Position

FORMATS = tuple(PACK_FORMATS)
"""What can be handed out of an exercise."""

EVERYONE = "everyone"
"""The name of the edition of a course without students."""


@dataclass(frozen=True, slots=True)
class ExerciseBand:
    """The band under an exercise."""

    form: Form
    feel: BandFeel
    choruses: int | None = None  # times through the form; None: as many as the drill fills
    lay: str = "loop"  # of expand.over.WAYS: how the drill lies over it


@dataclass(frozen=True, slots=True)
class Chart:
    """A role chart in a lesson: some reeds in every position."""

    harps: HarpChoice
    reeds: tuple[Reed, ...]
    place: Span | None = field(default=None, compare=False, repr=False)  # in the curriculum
    positions: tuple[Position, ...] = (Position(2),)  # in which a key finds its harp


@dataclass(frozen=True, slots=True)
class Entry:
    """One exercise of a lesson: one drill, and how it is practised."""

    drill: Drill  # with the embouchure plans wanted here
    harps: HarpChoice
    positions: tuple[Position, ...]  # at least one
    formats: tuple[str, ...]  # of FORMATS
    recording: Recording | None  # None: no audio is handed out
    tempo_bpm: int | None = None  # None: the drill's own
    backing: ExerciseBand | None = None
    note: str = ""  # printable, one line: the author's word on it
    exercise: int = 0  # which exercise of its lesson, from 1; one may have several drills
    place: Span | None = field(default=None, compare=False, repr=False)  # in the curriculum


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson: its text, exercises and charts."""

    number: int  # from 1
    title: str  # printable
    goal: str = ""  # printable, one line
    text: str = ""  # Markdown source, each of its lines printable
    entries: tuple[Entry, ...] = ()
    charts: tuple[Chart, ...] = ()

    @property
    def name(self) -> str:
        """A safe file name, unique in the course: ``03-lean-on-the-note-before``."""
        return f"{self.number:02d}-{file_slug(self.title)}"


class LeftOut(NamedTuple):
    """A drill of an exercise that a student does not get."""

    lesson: int  # from 1
    exercise: int  # from 1, in its lesson
    title: str  # of the drill


@dataclass(frozen=True, slots=True)
class Student:
    """A student of a course, with their harps, pace, look and tuning."""

    name: str  # printable
    slug: str  # safe file name, unique in the course
    harps: tuple[Harp, ...] = ()  # their own; empty: those of the course
    registers: tuple[str, ...] = ()  # the ones they play; empty: all
    pace_percent: int = 100  # of every tempo
    look: Look | None = None  # of their sheets and books; None: as the course's
    layout: Layout | None = None  # of their harps; None: as the course's
    intonation: Intonation | None = None  # None: as the course's
    reference_hz: float | None = None  # A4; None: as the course's
    without: tuple[LeftOut, ...] = ()  # what is not for them
    evenings: tuple[tuple[int, tuple[Entry, ...]], ...] = ()
    """What their own record adds to lessons, by the numbers of these."""


@dataclass(frozen=True, slots=True)
class Course:
    """A whole course: lessons, students and defaults."""

    title: str  # printable
    slug: str  # safe file name
    harps: tuple[Harp, ...]  # at least one: what a player of the course is expected to have
    lessons: tuple[Lesson, ...]
    author: str = ""  # printable
    about: str = ""  # printable, one line
    look: Look = Look()  # noqa: RUF009  frozen
    intonation: Intonation = EQUAL
    reference_hz: float = 440.0  # A4
    layout: Layout = RICHTER  # of every harp that names none
    book: str = ""  # the record book of the class, from the folder of the course; empty: none
    cautions: bool = True  # say how to practise without harm
    students: tuple[Student, ...] = ()
    notices: tuple[str, ...] = ()
    """Sentences for the teacher: what is not as the course says, and is made all the same."""


@dataclass(frozen=True, slots=True)
class Edition:
    """A course for one student, or for everyone."""

    course: Course
    student: Student | None = None

    @property
    def slug(self) -> str:
        """A safe file name, unique in the course."""
        return self.student.slug if self.student else EVERYONE

    @property
    def lessons(self) -> tuple[Lesson, ...]:
        """The lessons, with what the student's own record adds to them."""
        own = dict(self.student.evenings) if self.student else {}
        return tuple(
            replace(each, entries=(*each.entries, *own[each.number]))
            if each.number in own
            else each
            for each in self.course.lessons
        )

    @property
    def harps(self) -> tuple[Harp, ...]:
        """The harps of the player, in the order they were written."""
        if self.student is None:
            return self.course.harps
        wanted = self.student.registers
        own = self.student.harps or tuple(map(self.retuned, self.course.harps))
        return tuple(each for each in own if not wanted or register(each) in wanted)

    @property
    def pace_percent(self) -> int:
        """The student's pace, in per cent of every tempo."""
        return self.student.pace_percent if self.student else 100

    @property
    def look(self) -> Look:
        """The look of its sheets and books."""
        return (self.student and self.student.look) or self.course.look

    @property
    def intonation(self) -> Intonation:
        """The intonation: how degrees are tuned against the root."""
        return (self.student and self.student.intonation) or self.course.intonation

    @property
    def reference_hz(self) -> float:
        """The frequency of A4."""
        return (self.student and self.student.reference_hz) or self.course.reference_hz

    def retuned(self, harp: Harp) -> Harp:
        """Return *harp* of the course in the student's own layout.

        A harp whose layout the course names on its own keeps it.
        """
        layout = self.student.layout if self.student else None
        own = layout is not None and harp.layout == self.course.layout
        return replace(harp, layout=layout) if own and layout else harp

    def leaves_out(self, lesson: Lesson, entry: Entry) -> bool:
        """Return True for an exercise that this student does not get."""
        left_out = self.student.without if self.student else ()
        return LeftOut(lesson.number, entry.exercise, entry.drill.title) in left_out

    def lacks(self, harp: Harp) -> bool:
        """Return True when the student is known not to have *harp*."""
        return self.student is not None and harp not in self.harps


def editions(course: Course) -> tuple[Edition, ...]:
    """Return one edition for each student, in order; one for everyone when there are none."""
    if not course.students:
        return (Edition(course),)
    return tuple(Edition(course, student) for student in course.students)


__all__ = [
    "EVERYONE",
    "FORMATS",
    "Chart",
    "Course",
    "Edition",
    "Entry",
    "ExerciseBand",
    "Lesson",
    "Rotation",
    "Student",
    "editions",
]  # fmt: skip
