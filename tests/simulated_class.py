"""A simulated class: students who play drills of the library, each with weak places of their own.

A student has a talent, a habit for each rung on each register, and a lesson up to which every
exercise was played.  Nothing of it is made by what an overview is made by.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from random import Random

from reedmill.base.text import ForeignText, printable
from reedmill.cli.outlining import outlined_course
from reedmill.coaching.class_overview import ClassOverview, CourseOutline, class_overview
from reedmill.coaching.drill_contents import library_contents
from reedmill.harp import Harp
from reedmill.harp.harp_registers import register
from reedmill.record.demo_book import DRILLS
from reedmill.record.kept_take import Try
from reedmill.record.rung_sums import StudentSums, SummedDrill, Sums
from reedmill.score.verdicts import Tolerance

TODAY = date(2027, 3, 1)
COURSE = "Eight weeks of clean bends"
HARPS = ("C", "A", "Bb", "F", "low F")
NAMES = (
    "Ada", "Ben", "Cleo", "Dan", "Emre", "Fatima", "Gus", "Hana", "Ines Oliveira", "Jo", "Kofi",
    "Lena", "Mia", "Noor", "Olga", "Pia", "Quentin", "Rosa", "Sam", "Tariq", "Uma", "Vera", "Wim",
    "Xenia", "Yusuf", "Zoe", "Maximilian Alexander von Lindenthal", "Bo", "Cem", "Dora",
)  # fmt: skip


def names_of(many: int) -> tuple[ForeignText, ...]:
    return tuple(map(printable, NAMES[:many]))


def simulated_class(
    names: Sequence[ForeignText], title: str = COURSE, stranger: str = "Guss"
) -> ClassOverview:
    """An overview of a shipped course; every seventh student has no take, and one is unknown."""
    outline = outlined_course(COURSE).outline
    course = replace(
        outline, title=printable(title), students=dict.fromkeys(names, outline.everyone)
    )
    chance = Random(5)
    playing = [name for at, name in enumerate(names) if at % 7 != 6]
    sums = [_student(name, course, chance) for name in (*playing, printable(stranger))]
    return class_overview(course, sums, library_contents(), TODAY)


def _student(name: ForeignText, course: CourseOutline, chance: Random) -> StudentSums:
    talent, harps = chance.uniform(0.4, 1.6), chance.sample(HARPS, chance.choice((1, 2, 2, 3)))
    habits: dict[tuple[str, str], float] = {}
    sums, days = Sums(), list[int]()
    last = chance.choice((0, 1, 1, 2, 4, 6, 13, 40))
    for drill in _drills(course, chance.randrange(0, 9)):
        for _ in range(chance.randrange(1, 4)):
            days.append(last + chance.randrange(0, 20) if days else last)
            harp = chance.choice(harps)
            day = (TODAY - timedelta(days=days[-1])).isoformat()
            on = register(Harp.parse(harp))
            tries = list(_tries(on, talent, habits, chance))
            sums.add(SummedDrill(drill, harp, 2), on, day, tries)
    last_day = (TODAY - timedelta(days=min(days))).isoformat()
    return StudentSums(name, len(days), len(set(days)), last_day, sums)


def _drills(course: CourseOutline, reached: int) -> Iterator[ForeignText]:
    yield course.everyone.lessons[0].exercises[0].title
    for lesson in course.everyone.lessons[:reached]:
        for exercise in lesson.exercises:
            yield exercise.title


def _tries(
    on: str, talent: float, habits: dict[tuple[str, str], float], chance: Random
) -> Iterator[Try]:
    tabs = chance.choice(DRILLS).tabs.split()
    for before, tab in pairwise([None, *tabs]):
        depth = str(tab).count("'")
        habit = habits.setdefault((str(tab), on), talent * depth * chance.uniform(0, 26))
        cents = habit + chance.gauss(0, 6)
        yield Try(str(tab), before, cents, Tolerance().verdict(cents))
