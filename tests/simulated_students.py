"""Simulated students for the tests of what is practised next; their model is not the estimates'.

Each rung has a true distance from its place.  A try differs from it by chance, each student's by
another, now and then one is lost altogether, and every try takes a share of what is left off it.
The forty rungs are those that the longest course of the library practises most, on its three harps.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from reedmill.base.shipped import courses_dir
from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.needs import Needs
from reedmill.coaching.offered_drills import of_the_library, rungs_of, written_for
from reedmill.coaching.planning import EveningPart, Offer, PracticeBlock, plan
from reedmill.coaching.practice_history import PastTake, PracticeHistory
from reedmill.harp import Harp, ReedKind
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import read_course
from reedmill.pack.course.tasks import LessonRow, Task, expanded, planned
from reedmill.theory.positions import Position

CELLS = 40
HARPS = tuple(map(Harp, ("F", "C", "A")))
CROSS = Position(2)
NOW = datetime(2027, 3, 1, 19, tzinfo=UTC)
HARDEST = "Blues scale at the top"  # a drill of the highest level: who plays it is offered all

LEAST_CENTS, LEARNED = 4.0, 0.985  # nobody is nearer; a try leaves so much of what is above it
LOST, LOST_CENTS = 0.03, 60.0
MINUTES = 6.0  # the least in which rungs are listened to; a block lasts three at most
TAKE_S = 150.0


@dataclass(frozen=True)
class Exercise:
    """An exercise of the course: how often one time through comes to each of the forty rungs."""

    title: str
    seconds: float
    tries: Mapping[LearnedRung, int]


@cache
def course() -> tuple[Exercise, ...]:
    """Return the exercises of the course in its order, those without bends left out.

    It is gone through three times, each time with every lesson on the next of the three harps.
    """
    read = read_course(courses_dir() / "eight-weeks-of-clean-bends.toml")
    found = []
    for turn in range(len(HARPS)):
        for row in planned(editions(read)[0]):
            assert isinstance(row, LessonRow)
            harp = HARPS[(HARPS.index(row.harp) + turn) % len(HARPS)]
            task = expanded(replace(row, harp=harp))
            assert isinstance(task, Task)
            score = task.score
            tries = rungs_of(score, lambda reed: reed.kind is not ReedKind.NATURAL)
            found.append(Exercise(score.title, float(score.seconds(score.length)), tries))
    return tuple(each for each in found if each.tries)


@cache
def cells() -> tuple[LearnedRung, ...]:
    """Return the forty rungs."""
    counts: Counter[LearnedRung] = Counter()
    for each in course():
        counts.update(each.tries)
    return tuple(rung for rung, _ in counts.most_common(CELLS))


@cache
def library() -> tuple[Offer, ...]:
    """Return the drills of the library on the three harps that have any of the forty rungs."""
    there = set(cells())
    everything = PracticeHistory(
        tuple(PastTake(each, HARPS[1], 2, NOW, 60.0, 0.7, ()) for each in [HARDEST]), NOW
    )
    found = [
        replace(each, tries={rung: n for rung, n in each.tries.items() if rung in there})
        for harp in HARPS
        for each in of_the_library(everything, harp, CROSS)
    ]
    return tuple(replace(each, music=False) for each in found if each.tries)


@dataclass
class Student:
    """A simulated player."""

    rng: np.random.Generator
    ahead_cents: float = 12.0  # of the weakest rung, before the next
    takes: list[PastTake] = field(default_factory=list)

    def __post_init__(self) -> None:
        usual = self.rng.uniform(8, 16)
        away = usual * np.exp(self.rng.normal(0, 0.35, CELLS))
        self.out = dict(zip(cells(), np.clip(away, LEAST_CENTS, 32), strict=True))
        self.weakest = cells()[self.rng.integers(CELLS)]
        self.out[self.weakest] = max(self.out.values()) + self.ahead_cents
        self.chance = self.rng.uniform(5, 10)

    def play(self, tries: Mapping[LearnedRung, int], passes: int) -> None:
        """Play a drill once, be heard, and learn from it."""
        heard = []
        for rung, count in tries.items():
            for _ in range(count * passes):
                lost = self.rng.random() < LOST
                out = LOST_CENTS if lost else abs(self.rng.normal(self.out[rung], self.chance))
                heard.append((rung, min(LOST_CENTS, float(out))))
                self.out[rung] = LEAST_CENTS + LEARNED * (self.out[rung] - LEAST_CENTS)
        self.takes.append(PastTake("", HARPS[1], 2, self.now, 56.0, 0.7, tuple(heard)))

    @property
    def done(self) -> bool:
        """True when every rung is within ten cents."""
        return bool(max(self.out.values()) < 10)

    @property
    def needs(self) -> Needs:
        """What is known of the forty rungs."""
        return self.history.needs(cells())

    @property
    def history(self) -> PracticeHistory:
        """All that was heard."""
        return PracticeHistory(tuple(self.takes), self.now)

    @property
    def now(self) -> datetime:
        """The moment of the next take: there are three a day."""
        return NOW + timedelta(days=len(self.takes) // 3)

    def next_block(self) -> PracticeBlock:
        """Return the first thing about rungs that is chosen for this student."""
        history, needs = self.history, self.needs
        offers = [*library(), *(
            offer for harp in HARPS for offer in written_for(history, needs, harp, CROSS, cells())
        )]  # fmt: skip
        return next(
            each
            for each in plan(offers, needs, MINUTES)
            if each.part in (EveningPart.SURVEY, EveningPart.RUNGS)
        )


Choice = Callable[[Student, int], tuple[Mapping[LearnedRung, int], int, float]]
"""What is practised in a take, how often, and the seconds it takes."""


def as_chosen(student: Student, _: int) -> tuple[Mapping[LearnedRung, int], int, float]:
    block = student.next_block()
    return block.offer.tries, block.passes, block.offer.seconds * block.passes


def in_order(_: Student, number: int) -> tuple[Mapping[LearnedRung, int], int, float]:
    return _exercise(course()[number % len(course())])


def at_random(student: Student, _: int) -> tuple[Mapping[LearnedRung, int], int, float]:
    return _exercise(course()[student.rng.integers(len(course()))])


def _exercise(each: Exercise) -> tuple[Mapping[LearnedRung, int], int, float]:
    """An exercise is played as often as fits into the time of a chosen block, once at least."""
    passes = max(1, int(TAKE_S / (each.seconds + 4)))
    tries = {rung: n for rung, n in each.tries.items() if rung in set(cells())}
    return tries, passes, each.seconds * passes


def finds_the_weakest(seed: int, takes: int = 6, ahead_cents: float = 12.0) -> bool:
    """Tell whether the rung named first after some takes is the student's weakest."""
    student = Student(np.random.default_rng(seed), ahead_cents)
    for _ in range(takes):
        block = student.next_block()
        student.play(block.offer.tries, block.passes)
    known = student.needs.known
    return max(cells(), key=lambda rung: known[rung].cents) == student.weakest


def takes_needed(seed: int, choice: Choice, most: int = 3000) -> tuple[int, float]:
    """Return the takes and hours of playing until every rung is within ten cents."""
    student, seconds = Student(np.random.default_rng(seed)), 0.0
    for number in range(most):
        if student.done:
            return number, seconds / 3600
        tries, passes, lasts = choice(student, number)
        student.play(tries, passes)
        seconds += lasts
    return most, seconds / 3600


def mean_needed(choice: Choice, seeds: Sequence[int]) -> tuple[float, float]:
    found = [takes_needed(seed, choice) for seed in seeds]
    return float(np.mean([takes for takes, _ in found])), float(np.mean([h for _, h in found]))
