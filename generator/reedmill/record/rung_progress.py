"""Progress of a student: each rung over the weeks, by the note before it, harp and position.

A try counts with how far it was from its place, whichever way; one that was missed or another
note counts as ``NOT_THERE_CENTS``, because a note that is not there is not in its place.  What is
called a trend is the slope of a straight line through the days' medians, with an interval from
1,000 resamplings of the days (bootstrap, Efron and Tibshirani, "An Introduction to the
Bootstrap", 1993); where it has both signs, nothing is said to have moved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np

from reedmill.record.kept_take import PlayedTake, Try, mostly_in_place
from reedmill.score.verdicts import Verdict

NOT_THERE_CENTS = 60.0
"""The distance of a try that was missed or another note: more than any that is still that note."""

LEAST_DAYS = 4
"""Fewer days say nothing of a trend."""

_RESAMPLINGS = 1_000
_PERCENT = 90.0  # of the resamplings lie within the interval
_DAYS_A_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class RungCell:
    """A rung as a place to be found: which, from which note, on which harp, in which position."""

    tab: str
    came_from: str | None
    harp: str
    register: str
    position: int


@dataclass(frozen=True, slots=True)
class Trend:
    """The slope of a rung: cents a week further out, negative where it comes nearer."""

    cents_a_week: float
    low: float  # of the interval that holds it with a certainty of 90%
    high: float

    @property
    def certain(self) -> bool:
        """True where the whole interval lies on one side of nothing."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class Week:
    """One week of the calendar, and the median of its tries."""

    monday: str  # ISO 8601
    out_cents: float  # the median
    count: int


@dataclass(frozen=True, slots=True)
class CellProgress:
    """All tries of one cell."""

    cell: RungCell
    count: int
    median_cents: float | None  # over its place, of those with a pitch
    spread_cents: float | None  # half of them are no further from that
    out_cents: float  # the median of how far all of them were out
    in_place: int
    days: int
    last: str  # ISO 8601, in UTC
    weeks: tuple[Week, ...]  # in which it was tried, in order
    trend: Trend | None  # None where there are too few days


@dataclass(frozen=True, slots=True)
class StudentProgress:
    """The progress of a student: all takes summed up, rung by rung."""

    takes: int
    days: int
    first: str | None
    last: str | None
    cells: tuple[CellProgress, ...]  # those furthest out first
    fastest: tuple[tuple[str, int], ...]  # drills with the tempo at which most of them was in place


def progress_of(takes: Iterable[PlayedTake]) -> StudentProgress:
    """Return what *takes*, the oldest first, come to."""
    tries: dict[RungCell, list[tuple[str, Try]]] = defaultdict(list)
    fastest: dict[str, int] = {}
    played: list[str] = []
    for each in takes:
        take = each.take
        played.append(each.played)
        for one in take.tries:
            if one.verdict is not Verdict.UNCLEAR:
                cell = RungCell(
                    one.tab, one.came_from, take.harp.name, take.register, take.position
                )
                tries[cell].append((each.played, one))
        good = sum(one.verdict.in_place for one in take.tries)
        if mostly_in_place(good, len(take.tries)):
            tempo = round(take.data["tempo_heard"] or take.data["tempo"])
            fastest[take.title] = max(tempo, fastest.get(take.title, 0))
    cells = sorted((_cell(cell, each) for cell, each in tries.items()), key=_order)
    return StudentProgress(
        takes=len(played),
        days=len({each[:10] for each in played}),
        first=played[0] if played else None,
        last=played[-1] if played else None,
        cells=tuple(cells),
        fastest=tuple(sorted(fastest.items())),
    )


def _order(each: CellProgress) -> tuple[object, ...]:
    cell = each.cell
    return (-each.out_cents, cell.harp, cell.position, cell.tab, cell.came_from or "")


def _cell(cell: RungCell, tries: Sequence[tuple[str, Try]]) -> CellProgress:
    pitched = [one.cents for _, one in tries if one.cents is not None and one.verdict.measured]
    middle = median(pitched) if pitched else None
    return CellProgress(
        cell=cell,
        count=len(tries),
        median_cents=middle,
        spread_cents=None if middle is None else median(abs(each - middle) for each in pitched),
        out_cents=median(out_of_place(one) for _, one in tries),
        in_place=sum(one.verdict.in_place for _, one in tries),
        days=len({at[:10] for at, _ in tries}),
        last=tries[-1][0],
        weeks=tuple(_weeks(tries)),
        trend=_trend(tries),
    )


def _weeks(tries: Sequence[tuple[str, Try]]) -> Iterator[Week]:
    by_week: dict[str, list[float]] = defaultdict(list)
    for at, one in tries:
        day = date.fromisoformat(at[:10])
        by_week[(day - timedelta(days=day.weekday())).isoformat()].append(out_of_place(one))
    for monday, out in by_week.items():
        yield Week(monday, median(out), len(out))


def out_of_place(one: Try) -> float:
    """Return how many cents a try was out, whichever way."""
    if one.cents is None or not one.verdict.measured:
        return NOT_THERE_CENTS
    return min(abs(one.cents), NOT_THERE_CENTS)


def _trend(tries: Sequence[tuple[str, Try]]) -> Trend | None:
    by_day: dict[str, list[float]] = defaultdict(list)
    for at, one in tries:
        by_day[at[:10]].append(out_of_place(one))
    if len(by_day) < LEAST_DAYS:
        return None
    weeks = np.array([date.fromisoformat(day).toordinal() for day in by_day]) / _DAYS_A_WEEK
    out = np.array([median(each) for each in by_day.values()])
    draws = np.random.default_rng(len(by_day)).integers(0, len(out), (_RESAMPLINGS, len(out)))
    slopes = _slopes(weeks[draws], out[draws])
    low, high = np.percentile(slopes, [(100 - _PERCENT) / 2, (100 + _PERCENT) / 2])
    [slope] = _slopes(weeks[None], out[None])
    return Trend(float(slope), float(low), float(high))


def _slopes(
    weeks: np.ndarray[tuple[int, int], np.dtype[np.float64]],
    out: np.ndarray[tuple[int, int], np.dtype[np.float64]],
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the slope of the least-squares line of each row; 0 where all is of one day."""
    across = weeks - weeks.mean(axis=1, keepdims=True)
    squares = (across**2).sum(axis=1)
    products = (across * (out - out.mean(axis=1, keepdims=True))).sum(axis=1)
    slopes: np.ndarray[tuple[int], np.dtype[np.float64]] = np.divide(
        products, squares, out=np.zeros_like(products), where=squares > 0
    )
    return slopes
