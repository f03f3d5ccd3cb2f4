"""Sums of a student's tries and takes: what is asked of a whole class before its lesson.

A try counts for less the older it is: half after ``HALF_LIFE_DAYS``.  So that a sum needs no new
reckoning every day, each try counts ``2 ** (days since FADING_EPOCH / HALF_LIFE_DAYS)``, and
``fading`` takes from the finished sum what has passed since: sums are added in any order, on any
day.  A book keeps these sums (``kept_sums``), so whoever changes a constant, or what a try counts,
gives the book a new form.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from reedmill.base.text import ForeignText
from reedmill.record.kept_take import Try, mostly_in_place
from reedmill.record.rung_progress import out_of_place
from reedmill.score.verdicts import Verdict

HALF_LIFE_DAYS = 7.0
"""After so long a try counts half: a week of practice moves a rung by several cents, and what is
asked for is where it lies now."""

FADING_EPOCH = date(2040, 1, 1)
"""On this day a try counts 1.  A float reaches from 2 ** -1022 to 2 ** 1023, so a day's try counts
more than nothing from 2021 on, and sums are finite until the end of 2058."""

_FIRST_DAY, _LAST_DAY = date(2021, 1, 1), date(2058, 11, 30)
"""Between which days floats reach; a day that is said to lie outside counts as the nearest."""


class LearnedRung(NamedTuple):
    """A rung as it is learned: its tab, the tab it is reached from, the register of the harp."""

    tab: str
    came_from: str | None  # ``None`` at a start
    register: str

    @property
    def is_reached(self) -> bool:
        """True where it comes from another note: not at a start, and not played again."""
        return self.came_from not in (None, self.tab)


class SummedDrill(NamedTuple):
    """A drill as it was played: its title, the harp, the position."""

    drill: ForeignText
    harp: str
    position: int


@dataclass(slots=True)
class RungSum:
    """The tries of one rung, unclear ones left out, summed up."""

    tries: int = 0
    in_place: int = 0
    weight: float = 0.0  # what they count, all together, on ``FADING_EPOCH``
    out_sum: float = 0.0  # how far out they were, in cents, each by what it counts
    last: str = ""  # the day of the newest, ISO 8601


@dataclass(slots=True)
class DrillSum:
    """The takes of one drill on one harp in one position, summed up."""

    takes: int = 0
    good: int = 0  # of which most was in place
    last: str = ""  # the day of the newest, ISO 8601


@dataclass(frozen=True, slots=True)
class Sums:
    """The sums of some takes of one student."""

    rungs: dict[LearnedRung, RungSum] = field(default_factory=dict)
    drills: dict[SummedDrill, DrillSum] = field(default_factory=dict)

    def add(self, key: SummedDrill, register: str, day: str, tries: Iterable[Try]) -> None:
        """Add one take of *tries* that was played on *day* (ISO 8601); ``ValueError`` for none."""
        counted = counts_on(day)
        total = in_place = 0
        for one in tries:
            good = one.verdict.in_place
            total += 1
            in_place += good
            if one.verdict is Verdict.UNCLEAR:
                continue
            rung = self.rungs.setdefault(LearnedRung(one.tab, one.came_from, register), RungSum())
            rung.tries += 1
            rung.in_place += good
            rung.weight += counted
            rung.out_sum += counted * out_of_place(one)
            rung.last = max(rung.last, day)
        drill = self.drills.setdefault(key, DrillSum())
        drill.takes += 1
        drill.good += mostly_in_place(in_place, total)
        drill.last = max(drill.last, day)


@dataclass(frozen=True, slots=True)
class StudentSums:
    """A student of a book, and the sums of all takes."""

    name: ForeignText
    takes: int
    days: int  # on which at least one take was played
    last: str | None  # the day of the newest, ISO 8601
    sums: Sums


def counts_on(day: str) -> float:
    """Return what a try of *day* (ISO 8601) counts; ``ValueError`` for what is not a day.

    >>> counts_on("2040-01-01"), counts_on("2039-12-25"), counts_on("2040-01-15")
    (1.0, 0.5, 4.0)
    """
    days = (min(date.fromisoformat(day), _LAST_DAY) - FADING_EPOCH).days
    return float(2.0 ** (days / HALF_LIFE_DAYS))


def fading(today: date) -> float:
    """Return by what a weight of ``FADING_EPOCH`` is multiplied to be that of *today*.

    >>> counts_on("2027-01-01") * fading(date(2027, 1, 8))
    0.5
    """
    days = (max(_FIRST_DAY, min(today, _LAST_DAY)) - FADING_EPOCH).days
    return float(2.0 ** (-days / HALF_LIFE_DAYS))
