"""The days that were practised, as a strip of weeks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reedmill.record.rung_progress import PractisedDay
from reedmill.record_pages.day_scale import WEEK, DayTick, monday_of, said_day

CELL = 14  # units of the drawing from one day to the next, and from one week to the next
LEFT = 36  # room for the names of days
TOP = 4
_MOST_WEEKS = 18
_SIZES = (6, 9, 12)  # of the mark for one take, two, and more
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A square of the strip."""

    x: float  # of its middle
    y: float
    size: int  # of the mark; 0 where nothing was played


@dataclass(frozen=True, slots=True)
class PracticeCalendar:
    """The newest weeks of practice, and what they come to in words."""

    width: int
    days: tuple[CalendarDay, ...]
    names: tuple[tuple[float, str], ...]  # of three days, each with its y
    ticks: tuple[DayTick, ...]
    words: str


def practice_calendar(practised: Sequence[PractisedDay]) -> PracticeCalendar:
    """Return the strip of *practised*, which has a day at least."""
    takes = {date.fromisoformat(each.day): each.takes for each in practised}
    last, oldest = monday_of(max(takes)), monday_of(min(takes))
    every = (last - oldest) // WEEK + 1
    weeks = min(every, _MOST_WEEKS)
    first = last - (weeks - 1) * WEEK
    days = []
    for week in range(weeks):
        for weekday in range(7):
            day = date.fromordinal((first + week * WEEK).toordinal() + weekday)
            x, y = LEFT + (week + 0.5) * CELL, TOP + (weekday + 0.5) * CELL
            days.append(CalendarDay(x, y, _SIZES[min(takes[day], 3) - 1] if day in takes else 0))
    return PracticeCalendar(
        width=LEFT + max(weeks, 8) * CELL + 4,
        days=tuple(days),
        names=tuple((TOP + (n + 0.5) * CELL + 4.5, _DAYS[n]) for n in (0, 3, 6)),
        ticks=_ticks(first, last, weeks),
        words=_words(takes, first, every, weeks),
    )


def _ticks(first: date, last: date, weeks: int) -> tuple[DayTick, ...]:
    start = DayTick(LEFT, said_day(first), "start")
    if weeks < 8:
        return (start,)
    return (start, DayTick(LEFT + weeks * CELL, said_day(last), "end"))


def _words(takes: dict[date, int], first: date, every: int, weeks: int) -> str:
    many = len(takes)
    said = f"{many} {'day' if many == 1 else 'days'} in {every} {'week' if every == 1 else 'weeks'}"
    if every > 1:
        said += f", {many / every:.1f} days a week"
    if every == weeks:
        return f"{said}."
    before = sum(day < first for day in takes)
    return f"{said}. The newest {weeks} weeks are drawn; {before} of the days are before them."
