"""What pages and site say of a course: texts and facts alone, taken from tasks and editions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.pack.course import Edition, Lesson
from reedmill.pack.tasks import ChartTask, Task
from reedmill.theory.positions import Position


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

    @property
    def tempo(self) -> str:
        """``56 to 84``, or ``56`` without a goal."""
        return f"{self.tempo_bpm} to {self.goal_bpm}" if self.goal_bpm else str(self.tempo_bpm)

    @property
    def where(self) -> str:
        """``C harp, 2nd position``."""
        return f"{self.harp} harp, {Position(self.position).ordinal} position"


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
        """``Lesson 3``."""
        return f"Lesson {self.number}"


@dataclass(frozen=True, slots=True)
class Front:
    """What stands on the cover."""

    title: str
    about: str = ""
    author: str = ""
    student: str = ""
    harps: tuple[str, ...] = ()
    lessons: int = 0


def exercise_of(task: Task) -> Exercise:
    """The facts of *task*."""
    score = task.score
    mode = "minor" if score.key.minor else "major"
    return Exercise(
        name=task.name,
        title=score.title,
        harp=score.harp.name,
        position=score.position.number,
        key=f"{score.key.name} {mode}",
        tempo_bpm=score.tempo_bpm,
        goal_bpm=score.tempo_goal_bpm,
        note=task.note,
    )


def chapter_of(lesson: Lesson, tasks: Sequence[Task], charts: Sequence[ChartTask] = ()) -> Chapter:
    """The words of *lesson* with those of *tasks* and *charts* that belong to it."""
    mine = tuple(exercise_of(task) for task in tasks if task.lesson == lesson.number)
    roles = tuple((each.name, each.harp.name) for each in charts if each.lesson == lesson.number)
    return Chapter(lesson.number, lesson.title, lesson.goal, lesson.text, mine, roles)


def front_of(edition: Edition) -> Front:
    """The cover of *edition*."""
    course = edition.course
    return Front(
        title=course.title,
        about=course.about,
        author=course.author,
        student=edition.student.name if edition.student else "",
        harps=tuple(harp.name for harp in edition.harps),
        lessons=len(course.lessons),
    )
