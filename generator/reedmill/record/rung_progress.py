"""Progress of a student: each rung over the weeks, by the note before it, harp and position.

A try counts with how far it was from its place, whichever way; one that was missed or another
note counts as ``NOT_THERE_CENTS``, because a note that is not there is not in its place.  What is
called a trend is the slope of a straight line through the days' medians, with an interval from
1,000 resamplings of the days (bootstrap, Efron and Tibshirani, "An Introduction to the
Bootstrap", 1993); where it has both signs, nothing is said to have moved.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np

from reedmill.base.text import ForeignText
from reedmill.harp.harp_registers import REGISTERS
from reedmill.harp.layouts import RICHTER
from reedmill.record.kept_take import KeptTake, PlayedTake, Try, mostly_in_place
from reedmill.score.verdicts import Verdict

NOT_THERE_CENTS = 60.0
"""The distance of a try that was missed or another note: more than any that is still that note."""

LEAST_DAYS = 4
"""Fewer days say nothing of a trend."""

_DatedTry = tuple[str, Try]  # with when it was played
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
    tuning: str = RICHTER.name  # the layout of its reeds

    @property
    def harp_words(self) -> str:
        """The harp, with its layout where that is not the usual one: ``C natural minor``."""
        usual = self.tuning == RICHTER.name
        return self.harp if usual else f"{self.harp} {self.tuning.replace('-', ' ')}"


@dataclass(frozen=True, slots=True)
class Trend:
    """The slope of a rung: cents a week further out, negative where it comes nearer.

    The line goes through the middle of the days, at the mean of their medians.
    """

    cents_a_week: float
    low: float  # of the interval that holds it with a certainty of 90%
    high: float
    middle_day: float  # proleptic Gregorian ordinal, as ``date.toordinal``
    middle_cents: float

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
    in_place: int
    rested: tuple[float, ...]  # cents over its place of each try with a pitch, in order


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
class TriesSummary:
    """All tries that have something in common: a register, a position, the note before."""

    shared: str | int | None  # what they have in common; no note before is a start
    count: int
    in_place: int
    out_cents: float  # the median of how far all of them were out
    days: int


@dataclass(frozen=True, slots=True)
class TakeTempo:
    """The tempo of a take, and whether most of its notes were in place."""

    played: str  # ISO 8601, in UTC
    tempo: int  # pulses a minute, as it was heard
    mastered: bool


@dataclass(frozen=True, slots=True)
class DrillTempi:
    """A drill with the tempi it was played at, in order."""

    drill: ForeignText
    takes: tuple[TakeTempo, ...]

    @property
    def reached(self) -> tuple[TakeTempo, ...]:
        """The takes that were mastered at a tempo higher than any before."""
        found: list[TakeTempo] = []
        for each in self.takes:
            if each.mastered and each.tempo > (found[-1].tempo if found else 0):
                found.append(each)
        return tuple(found)


@dataclass(frozen=True, slots=True)
class PractisedDay:
    """A day with takes."""

    day: str  # ISO 8601
    takes: int


@dataclass(frozen=True, slots=True)
class StudentProgress:
    """The progress of a student: all takes summed up, rung by rung."""

    takes: int
    days: int
    first: str | None
    last: str | None
    cells: tuple[CellProgress, ...]  # those furthest out first
    by_register: tuple[TriesSummary, ...]  # high, middle, low
    by_position: tuple[TriesSummary, ...]
    by_came_from: tuple[TriesSummary, ...]  # those furthest out first
    tempi: tuple[DrillTempi, ...]  # by the drills' titles
    practised: tuple[PractisedDay, ...]  # in order

    @property
    def fastest(self) -> tuple[tuple[str, int], ...]:
        """The drills that were mastered, with the fastest tempo."""
        return tuple((each.drill, each.reached[-1].tempo) for each in self.tempi if each.reached)


def progress_of(takes: Iterable[PlayedTake]) -> StudentProgress:
    """Return what *takes*, the oldest first, come to."""
    tries: dict[RungCell, list[_DatedTry]] = defaultdict(list)
    tempi: dict[ForeignText, list[TakeTempo]] = defaultdict(list)
    played: list[str] = []
    for each in takes:
        played.append(each.played)
        for one in each.take.tries:
            if one.verdict is not Verdict.UNCLEAR:
                tries[_cell_of(one, each.take)].append((each.played, one))
        if each.take.tries:
            tempi[each.take.title].append(_take_tempo(each))
    cells = sorted((_cell(cell, each) for cell, each in tries.items()), key=_order)
    days = Counter(each[:10] for each in played)
    return StudentProgress(
        takes=len(played),
        days=len(days),
        first=played[0] if played else None,
        last=played[-1] if played else None,
        cells=tuple(cells),
        by_register=tuple(
            sorted(_sums(tries, "register"), key=lambda each: REGISTERS.index(str(each.shared)))
        ),
        by_position=tuple(sorted(_sums(tries, "position"), key=lambda each: int(each.shared or 0))),
        by_came_from=tuple(
            sorted(
                _sums(tries, "came_from"),
                key=lambda each: (-each.out_cents, str(each.shared or "")),
            )
        ),
        tempi=tuple(DrillTempi(drill, tuple(each)) for drill, each in sorted(tempi.items())),
        practised=tuple(PractisedDay(day, many) for day, many in sorted(days.items())),
    )


def _cell_of(one: Try, take: KeptTake) -> RungCell:
    return RungCell(
        one.tab, one.came_from, take.harp.name, take.register, take.position, take.harp.layout.name
    )


def _take_tempo(each: PlayedTake) -> TakeTempo:
    take = each.take
    good = sum(one.verdict.in_place for one in take.tries)
    tempo = round(take.data["tempo_heard"] or take.data["tempo"])
    return TakeTempo(each.played, tempo, mostly_in_place(good, len(take.tries)))


def _sums(tries: Mapping[RungCell, Sequence[_DatedTry]], shared: str) -> Iterator[TriesSummary]:
    """Yield all tries summed up by the field *shared* of their cells."""
    together: dict[str | int | None, list[_DatedTry]] = defaultdict(list)
    for cell, each in tries.items():
        together[getattr(cell, shared)] += each
    for name, several in together.items():
        yield TriesSummary(
            shared=name,
            count=len(several),
            in_place=sum(one.verdict.in_place for _, one in several),
            out_cents=median(out_of_place(one) for _, one in several),
            days=len({at[:10] for at, _ in several}),
        )


def _order(each: CellProgress) -> tuple[object, ...]:
    cell = each.cell
    where = (cell.harp, cell.tuning, cell.position, cell.tab, cell.came_from or "")
    return (-each.out_cents, *where)


def _cell(cell: RungCell, tries: Sequence[_DatedTry]) -> CellProgress:
    pitched = list(_pitched(one for _, one in tries))
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


def _weeks(tries: Sequence[_DatedTry]) -> Iterator[Week]:
    by_week: dict[str, list[Try]] = defaultdict(list)
    for at, one in tries:
        day = date.fromisoformat(at[:10])
        by_week[(day - timedelta(days=day.weekday())).isoformat()].append(one)
    for monday, several in by_week.items():
        yield Week(
            monday=monday,
            out_cents=median(map(out_of_place, several)),
            count=len(several),
            in_place=sum(one.verdict.in_place for one in several),
            rested=tuple(_pitched(several)),
        )


def _pitched(tries: Iterable[Try]) -> Iterator[float]:
    """Yield the cents of those of *tries* that have a pitch of their own note."""
    for one in tries:
        if one.cents is not None and one.verdict.measured:
            yield one.cents


def out_of_place(one: Try) -> float:
    """Return how many cents a try was out, whichever way."""
    if one.cents is None or not one.verdict.measured:
        return NOT_THERE_CENTS
    return min(abs(one.cents), NOT_THERE_CENTS)


def _trend(tries: Sequence[_DatedTry]) -> Trend | None:
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
    middle_day = float(weeks.mean() * _DAYS_A_WEEK)
    return Trend(float(slope), float(low), float(high), middle_day, float(out.mean()))


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
