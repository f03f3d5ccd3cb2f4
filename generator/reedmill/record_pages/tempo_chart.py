"""The tempi of a drill over time: which takes were in place, and the fastest so far."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from reedmill.base.text import ForeignText
from reedmill.record.rung_progress import DrillTempi, TakeTempo
from reedmill.record_pages.day_scale import DayScale, DayTick, said_date, scale_over

# In a drawing of 300 by 128 units, whose frame is in record_parts.html.
LEFT, RIGHT = 34, 290
TOP, FLOOR = 18, 96
_EDGE = 10
_LEAST_RANGE = 8  # pulses a minute from the lowest line to the highest


@dataclass(frozen=True, slots=True)
class TempoDot:
    """The fastest take of a day, of those that were in place or of the others."""

    x: float
    y: float
    mastered: bool


@dataclass(frozen=True, slots=True)
class TempoChart:
    """A drawing of one drill's tempi; where it was never mastered, it has no steps."""

    drill: ForeignText
    takes: int
    reached: int | None
    reached_on: str
    first_reached: int | None
    steps: str  # a path of SVG
    dots: tuple[TempoDot, ...]
    lowest: int
    highest: int
    ticks: tuple[DayTick, ...]

    @property
    def words(self) -> str:
        """A sentence on how fast the drill was mastered."""
        if self.reached is None:
            return "Not mastered at any tempo yet."
        if self.first_reached == self.reached:
            return f"Mastered at {self.reached}, on {self.reached_on}."
        return f"Mastered at {self.first_reached} at first, at {self.reached} on {self.reached_on}."


def tempo_chart(tempi: DrillTempi) -> TempoChart:
    """Return the drawing of *tempi*."""
    days = [_day(each) for each in tempi.takes]
    scale = scale_over(days, LEFT + _EDGE, RIGHT - _EDGE)
    shown = _fastest_of_days(tempi)
    low = min(each.tempo for each in shown)
    high = max(max(each.tempo for each in shown), low + _LEAST_RANGE)
    reached = tempi.reached
    return TempoChart(
        drill=tempi.drill,
        takes=len(tempi.takes),
        reached=reached[-1].tempo if reached else None,
        reached_on=said_date(_day(reached[-1])) if reached else "",
        first_reached=reached[0].tempo if reached else None,
        steps=_steps(reached, scale, low, high),
        dots=tuple(
            TempoDot(scale.at(_day(each).toordinal()), _y(each.tempo, low, high), each.mastered)
            for each in shown
        ),
        lowest=low,
        highest=high,
        ticks=scale.ticks(),
    )


def _day(each: TakeTempo) -> date:
    return date.fromisoformat(each.played[:10])


def _fastest_of_days(tempi: DrillTempi) -> list[TakeTempo]:
    """Return the fastest take of each day that was mastered, and of those that were not."""
    found: dict[tuple[str, bool], TakeTempo] = {}
    for each in tempi.takes:
        key = (each.played[:10], each.mastered)
        if key not in found or each.tempo > found[key].tempo:
            found[key] = each
    return list(found.values())


def _y(tempo: int, low: int, high: int) -> float:
    return round(FLOOR - (tempo - low) / (high - low) * (FLOOR - TOP), 1)


def _steps(reached: tuple[TakeTempo, ...], scale: DayScale, low: int, high: int) -> str:
    """Return the fastest tempo so far as a path: level, then up on the day it was reached."""
    if not reached:
        return ""
    start, *later = reached
    path = f"M{scale.at(_day(start).toordinal()):g} {_y(start.tempo, low, high):g}"
    for each in later:
        path += f" H{scale.at(_day(each).toordinal()):g} V{_y(each.tempo, low, high):g}"
    return f"{path} H{scale.right:g}"
