"""Days as places along a drawing, and as words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

# Not by strftime, which follows the language of the system.
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "June", "July", "Aug", "Sept", "Oct", "Nov", "Dec")
WEEK = timedelta(days=7)


def said_day(day: date) -> str:
    """Return *day* without its year: ``5 Oct``."""
    return f"{day.day} {_MONTHS[day.month - 1]}"


def said_date(day: date) -> str:
    """Return *day* with its year: ``5 Oct 2026``."""
    return f"{said_day(day)} {day.year}"


def monday_of(day: date) -> date:
    """Return the Monday of the week of *day*."""
    return day - timedelta(days=day.weekday())


@dataclass(frozen=True, slots=True)
class DayTick:
    """A day that is named under a drawing."""

    x: float
    words: str
    anchor: str  # of SVG text: start, middle, end


@dataclass(frozen=True, slots=True)
class DayScale:
    """Days spread evenly between *left* and *right* of a drawing, in its own units."""

    first: date
    last: date
    left: float
    right: float

    def at(self, day: float) -> float:
        """Return the x of *day*, an ordinal; of the middle where there is one day alone."""
        span = self.last.toordinal() - self.first.toordinal()
        share = (day - self.first.toordinal()) / span if span else 0.5
        return round(self.left + share * (self.right - self.left), 1)

    def ticks(self) -> tuple[DayTick, ...]:
        """Return the first day and the last, or the only one."""
        with_year = said_date if self.first.year != self.last.year else said_day
        if self.first == self.last:
            middle = (self.left + self.right) / 2
            return (DayTick(middle, said_day(self.first), "middle"),)
        return (
            DayTick(self.left, with_year(self.first), "start"),
            DayTick(self.right, with_year(self.last), "end"),
        )


def scale_over(days: Sequence[date], left: float, right: float) -> DayScale:
    """Return the scale from the first of *days* to the last."""
    return DayScale(min(days), max(days), left, right)
