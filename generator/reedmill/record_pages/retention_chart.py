"""The day on which a rung is due again: the recall of spaced repetition falls until it is played.

How likely a rung still is where it was says nothing of how well that was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reedmill.record_pages.day_scale import DayTick, said_date, said_day, scale_over

# In a drawing of 300 by 132 units, whose frame is in record_parts.html.
LEFT, RIGHT = 40, 290
TOP, FLOOR = 22, 100


@dataclass(frozen=True, slots=True)
class RetentionCurve:
    """The likelihood of each day that a rung still is where it was, and the day it is due again."""

    label: str
    points: tuple[tuple[date, float], ...]  # in order; from 0 to 1
    due: date | None = None


@dataclass(frozen=True, slots=True)
class RetentionChart:
    """A drawing of one curve."""

    label: str
    path: str  # of SVG
    due_x: float | None
    due_anchor: str
    due_words: str
    ticks: tuple[DayTick, ...]
    words: str


def retention_charts(curves: Sequence[RetentionCurve]) -> tuple[RetentionChart, ...]:
    """Return a drawing of each of *curves* that has a point."""
    return tuple(_chart(each) for each in curves if each.points)


def _chart(curve: RetentionCurve) -> RetentionChart:
    days = [day for day, _ in curve.points] + ([curve.due] if curve.due else [])
    scale = scale_over(days, LEFT, RIGHT)
    places = [(scale.at(day.toordinal()), _y(share)) for day, share in curve.points]
    due_x = scale.at(curve.due.toordinal()) if curve.due else None
    return RetentionChart(
        label=curve.label,
        path="M" + " L".join(f"{x:g} {y:g}" for x, y in places),
        due_x=due_x,
        due_anchor="end" if due_x is not None and due_x > (LEFT + RIGHT) / 2 else "start",
        due_words=f"due {said_day(curve.due)}" if curve.due else "",
        ticks=scale.ticks(),
        words=_words(curve),
    )


def _y(share: float) -> float:
    return round(FLOOR - min(max(share, 0.0), 1.0) * (FLOOR - TOP), 1)


def _words(curve: RetentionCurve) -> str:
    played = f"Played last on {said_date(curve.points[0][0])}."
    if curve.due is None:
        return played
    share = dict(curve.points).get(curve.due)
    likely = "" if share is None else f", when it is {share:.0%} likely to be where it was"
    return f"{played} Due again on {said_date(curve.due)}{likely}."
