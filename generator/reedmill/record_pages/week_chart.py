"""One rung over the weeks: how far its tries were out, how many were in place, and the trend."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from reedmill.record import CellProgress, Trend
from reedmill.record.rung_progress import NOT_THERE_CENTS, Week
from reedmill.record_pages.day_scale import DayScale, DayTick, said_day, scale_over

# In a drawing of 300 by 196 units, whose frame is in record_parts.html.
LEFT, RIGHT = 34, 290
TOP, FLOOR = 16, 112  # where tries are as far out as they count, and where they are in place
SHARE_TOP, SHARE_FLOOR = 136, 168
_EDGE = 10  # from the frame to the first week and the last
_WIDEST_BAR, _WIDEST_DOT = 14, 3.2
_STEPS = 24  # of the outline of a wedge


@dataclass(frozen=True, slots=True)
class WeekPoint:
    """One week in the drawing, and in words."""

    x: float
    y: float
    bar_top: float
    words: str  # of the week: "5 Oct"
    out_cents: int
    in_place: int
    count: int


@dataclass(frozen=True, slots=True)
class WeekChart:
    """A drawing of one rung's weeks, with what it says in words."""

    points: tuple[WeekPoint, ...]
    ticks: tuple[DayTick, ...]
    bar: float  # the width of a bar
    dot: float  # the radius of a point
    path: str  # of SVG, through the points
    wedge: str  # points of a polygon within which the trend is; empty where there is none
    line: tuple[float, float, float, float] | None  # of the trend
    certain: bool
    words: str

    @property
    def last(self) -> WeekPoint:
        """The newest week."""
        return self.points[-1]


def week_chart(each: CellProgress) -> WeekChart:
    """Return the drawing of *each*."""
    mondays = [date.fromisoformat(week.monday) for week in each.weeks]
    scale = scale_over(mondays, LEFT + _EDGE, RIGHT - _EDGE)
    points = tuple(_point(week, scale) for week in each.weeks)
    span = (mondays[-1] - mondays[0]).days // 7
    column = (RIGHT - LEFT - 2 * _EDGE) / max(span, 1)
    trend = each.trend
    return WeekChart(
        points=points,
        ticks=scale.ticks(),
        bar=round(min(_WIDEST_BAR, 0.7 * column), 1),
        dot=round(min(_WIDEST_DOT, 0.4 * column), 1),
        path="M" + " L".join(f"{each.x:g} {each.y:g}" for each in points),
        wedge=_wedge(trend, scale) if trend and span else "",
        line=_line(trend, scale) if trend and span else None,
        certain=trend is not None and trend.certain,
        words=" ".join(map(_said, points)),
    )


def out_y(cents: float) -> float:
    """Return the y of a try or line that is *cents* out."""
    within = min(max(cents, 0.0), NOT_THERE_CENTS)
    return round(FLOOR - within / NOT_THERE_CENTS * (FLOOR - TOP), 1)


def _point(week: Week, scale: DayScale) -> WeekPoint:
    monday = date.fromisoformat(week.monday)
    share = week.in_place / week.count
    return WeekPoint(
        x=scale.at(monday.toordinal()),
        y=out_y(week.out_cents),
        bar_top=round(SHARE_FLOOR - share * (SHARE_FLOOR - SHARE_TOP), 1),
        words=said_day(monday),
        out_cents=round(week.out_cents),
        in_place=week.in_place,
        count=week.count,
    )


def _said(each: WeekPoint) -> str:
    return (
        f"Week of {each.words}: {each.out_cents} cents out, {each.in_place} of {each.count} "
        "in place."
    )


def _at(trend: Trend, slope: float, day: float) -> float:
    """Return the cents of a line of that *slope* through the middle of *trend* on *day*.

    A week is drawn at its Monday, and a day of it lies up to six days later, so that lines are
    read half a week later too.
    """
    return trend.middle_cents + slope * (day + 3 - trend.middle_day) / 7


def _line(trend: Trend, scale: DayScale) -> tuple[float, float, float, float]:
    first, last = scale.first.toordinal(), scale.last.toordinal()
    slope = trend.cents_a_week
    return (scale.at(first), out_y(_at(trend, slope, first)),
            scale.at(last), out_y(_at(trend, slope, last)))  # fmt: skip


def _wedge(trend: Trend, scale: DayScale) -> str:
    """Return the outline of all lines from the flattest to the steepest that the trend may be."""
    first, last = scale.first.toordinal(), scale.last.toordinal()
    days = [first + number * (last - first) / _STEPS for number in range(_STEPS + 1)]
    ends = [sorted(_at(trend, slope, day) for slope in (trend.low, trend.high)) for day in days]
    upper = [(scale.at(day), out_y(high)) for day, (_, high) in zip(days, ends, strict=True)]
    lower = [(scale.at(day), out_y(low)) for day, (low, _) in zip(days, ends, strict=True)]
    return " ".join(f"{x:g},{y:g}" for x, y in [*upper, *reversed(lower)])
