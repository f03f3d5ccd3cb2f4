"""The words and facts of a course for its pages and site, from tasks and editions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reedmill.harp.layouts import RICHTER, Layout
from reedmill.pack.course.course import Edition, Lesson
from reedmill.pack.course.embouchures import format_plan
from reedmill.pack.course.tasks import ChartTask, Task
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

_FEW = 4  # tempi that are listed, where more are told by their ends


def ladder_words(tempi_bpm: Sequence[int]) -> str:
    """Return a ladder as a course file writes it, or its ends and the number of tempi.

    >>> ladder_words((60, 65, 70, 72)), ladder_words((80, 70, 60)), ladder_words((38, 41, 45))
    ('60 to 72 by 5', '80 to 60 by 10', '38 to 45, 3 tempi')
    """
    first, last = tempi_bpm[0], tempi_bpm[-1]
    steps = [abs(upper - lower) for lower, upper in pairwise(tempi_bpm)]
    if not steps:
        return str(first)
    even = all(step == steps[0] for step in steps[:-1]) and steps[-1] <= steps[0]
    return f"{first} to {last}" + (f" by {steps[0]}" if even else f", {len(tempi_bpm)} tempi")


@dataclass(frozen=True, slots=True)
class Exercise:
    """One row of a lesson in words."""

    name: str  # safe file stem, unique in the edition
    title: str  # printable, like all texts here
    harp: str
    position: int
    key: str
    tempo_bpm: int
    goal_bpm: int | None = None
    note: str = ""
    about: str = ""  # what the drill is for
    tempi_bpm: tuple[int, ...] = ()  # the ladder it is practised on, where one was asked for
    embouchure: str = ""  # the plan for the mouth, where the drill has one: "tongue left"
    number: str = ""  # "2.3": the third of lesson 2

    @property
    def tempo(self) -> str:
        """The tempo: ``56 to 84``, ``56`` without a goal, or the tempi of the ladder."""
        if self.tempi_bpm:
            few = len(self.tempi_bpm) <= _FEW
            return ", ".join(map(str, self.tempi_bpm)) if few else ladder_words(self.tempi_bpm)
        return f"{self.tempo_bpm} to {self.goal_bpm}" if self.goal_bpm else str(self.tempo_bpm)

    @property
    def where(self) -> str:
        """``B♭ harp, 2nd position``, and ``, tongue left`` where there is a plan for the mouth."""
        place = f"{with_signs(self.harp)} harp, {Position(self.position).ordinal} position"
        return f"{place}, {self.embouchure}" if self.embouchure else place


@dataclass(frozen=True, slots=True)
class Chapter:
    """One lesson in words."""

    number: int
    title: str
    goal: str = ""
    text: str = ""  # Markdown source
    exercises: tuple[Exercise, ...] = ()
    charts: tuple[tuple[str, str], ...] = ()  # file stem and harp of each role chart

    @property
    def label(self) -> str:
        """The number of the lesson: ``Lesson 3``."""
        return f"Lesson {self.number}"


@dataclass(frozen=True, slots=True)
class Front:
    """The words on the cover."""

    title: str
    about: str = ""
    author: str = ""
    student: str = ""
    harps: tuple[str, ...] = ()
    lessons: int = 0
    layout: Layout = RICHTER


def exercise_of(task: Task, place: int = 0) -> Exercise:
    """Return the words of *task*, number *place* of its lesson, from 1."""
    score = task.score
    return Exercise(
        name=task.name,
        title=score.title,
        harp=score.harp.full_name,
        position=score.position.number,
        key=score.key_words,
        tempo_bpm=score.tempo_bpm,
        goal_bpm=score.tempo_goal_bpm,
        note=task.note,
        about=score.about,
        tempi_bpm=score.tempi_bpm,
        embouchure=format_plan(score.embouchure),
        number=f"{task.lesson}.{place}" if place else "",
    )


def chapter_of(lesson: Lesson, tasks: Sequence[Task], charts: Sequence[ChartTask] = ()) -> Chapter:
    """Return the words of *lesson* with those of its *tasks* and *charts*."""
    its_own = (task for task in tasks if task.lesson == lesson.number)
    mine = tuple(exercise_of(task, place) for place, task in enumerate(its_own, start=1))
    roles = tuple(
        (each.name, each.harp.full_name) for each in charts if each.lesson == lesson.number
    )
    return Chapter(lesson.number, lesson.title, lesson.goal, lesson.text, mine, roles)


def front_of(edition: Edition) -> Front:
    """Return the cover of *edition*."""
    course = edition.course
    return Front(
        title=course.title,
        about=course.about,
        author=course.author,
        student=edition.student.name if edition.student else "",
        harps=tuple(harp.full_name for harp in edition.harps),
        lessons=len(course.lessons),
        layout=edition.harps[0].layout if edition.harps else course.harps[0].layout,
    )
