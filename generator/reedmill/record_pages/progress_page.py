"""The page of a student's progress: one HTML file for any browser and for paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reedmill.base.text import ForeignText
from reedmill.harp import Reed
from reedmill.record import CellProgress, StudentProgress
from reedmill.record.rung_progress import TriesSummary
from reedmill.record_pages.day_scale import said_date
from reedmill.record_pages.neck_chart import NeckChart, neck_charts
from reedmill.record_pages.practice_calendar import PracticeCalendar, practice_calendar
from reedmill.record_pages.progress_words import (
    comes_nearer,
    goes_further,
    interval_words,
    mostly_words,
    told_progress,
    trend_words,
    where_words,
)
from reedmill.record_pages.record_frame import record_html
from reedmill.record_pages.retention_chart import (
    RetentionChart,
    RetentionCurve,
    retention_charts,
)
from reedmill.record_pages.tempo_chart import TempoChart, tempo_chart
from reedmill.record_pages.week_chart import WeekChart, week_chart
from reedmill.score.verdicts import Tolerance
from reedmill.theory.positions import Position

_LEAST_CARDS, _MOST_CARDS = 4, 12
_MOST_ROWS = 200
_MOST_TEMPI = 12


@dataclass(frozen=True, slots=True)
class RungShown:
    """One rung of the page: its words, and its drawing where it has one."""

    tab: str
    tab_spoken: str
    came_from: str
    came_from_spoken: str
    where: str
    where_short: str
    count: int
    in_place: int
    share: int  # per cent
    out: int
    mostly: str
    trend: str
    interval: str  # within what it lies 90 times of 100; may be empty
    chart: WeekChart


@dataclass(frozen=True, slots=True)
class SummaryShown:
    """One row of a table that sums tries up."""

    name: str
    spoken: str  # for who does not see tab; empty where the name is said as it is written
    count: int
    share: int  # per cent in place
    out: int


@dataclass(frozen=True, slots=True)
class SummaryTable:
    """Tries by what they have in common."""

    title: str
    head: str
    rows: tuple[SummaryShown, ...]


@dataclass(frozen=True, slots=True)
class ProgressShown:
    """All that the template of a progress page shows."""

    student: ForeignText
    takes: int
    notes: int
    days: int
    first: str
    last: str
    told: tuple[str, ...]
    necks: tuple[NeckChart, ...]
    cards: tuple[RungShown, ...]  # rungs that are drawn
    rungs: tuple[RungShown, ...]
    more: int  # rungs that are not shown
    summaries: tuple[SummaryTable, ...]
    tempi: tuple[TempoChart, ...]
    more_tempi: int
    calendar: PracticeCalendar | None
    retention: tuple[RetentionChart, ...]


def progress_page(
    student: ForeignText, found: StudentProgress, retention: Sequence[RetentionCurve] = ()
) -> bytes:
    """Return the page of *student* in UTF-8, with the curves of *retention* where there are any."""
    return record_html("progress.html", _shown(student, found, retention))


def _shown(
    student: ForeignText, found: StudentProgress, retention: Sequence[RetentionCurve]
) -> ProgressShown:
    tempi = sorted(found.tempi, key=lambda each: each.takes[-1].played, reverse=True)
    return ProgressShown(
        student=student,
        takes=found.takes,
        notes=sum(each.count for each in found.cells),
        days=found.days,
        first=_date(found.first),
        last=_date(found.last),
        told=tuple(told_progress(found)),
        necks=neck_charts(found.cells),
        cards=tuple(map(_rung, _drawn(found.cells))),
        rungs=tuple(map(_rung, found.cells[:_MOST_ROWS])),
        more=max(0, len(found.cells) - _MOST_ROWS),
        summaries=tuple(each for each in _summaries(found) if each.rows),
        tempi=tuple(map(tempo_chart, tempi[:_MOST_TEMPI])),
        more_tempi=max(0, len(tempi) - _MOST_TEMPI),
        calendar=practice_calendar(found.practised) if found.practised else None,
        retention=retention_charts(retention),
    )


def _drawn(cells: Sequence[CellProgress]) -> list[CellProgress]:
    """Return the rungs that a drawing shows something of: those that were out, or moved."""
    told = [
        each for each in cells
        if comes_nearer(each) or goes_further(each) or each.out_cents > Tolerance().on_cents
    ]  # fmt: skip
    return (told if len(told) >= _LEAST_CARDS else list(cells[:_LEAST_CARDS]))[:_MOST_CARDS]


def _date(moment: str | None) -> str:
    return said_date(date.fromisoformat(moment[:10])) if moment else "none yet"


def _rung(each: CellProgress) -> RungShown:
    cell = each.cell
    return RungShown(
        tab=cell.tab,
        tab_spoken=Reed.parse(cell.tab).words,
        came_from=cell.came_from or "a start",
        came_from_spoken=Reed.parse(cell.came_from).words if cell.came_from else "a start",
        where=where_words(cell),
        where_short=where_words(cell, short=True),
        count=each.count,
        in_place=each.in_place,
        share=_percent(each.in_place, each.count),
        out=round(each.out_cents),
        mostly=mostly_words(each.median_cents),
        trend=trend_words(each),
        interval=interval_words(each.trend),
        chart=week_chart(each),
    )


def _percent(part: int, whole: int) -> int:
    return round(100 * part / whole)


def _summaries(found: StudentProgress) -> tuple[SummaryTable, ...]:
    return (
        SummaryTable("By register", "harp", tuple(
            _summary(each, str(each.shared)) for each in found.by_register
        )),
        SummaryTable("By position", "position", tuple(
            _summary(each, Position(int(each.shared or 1)).ordinal) for each in found.by_position
        )),
        SummaryTable("By the note before", "from", tuple(map(_from, found.by_came_from))),
    )  # fmt: skip


def _from(each: TriesSummary) -> SummaryShown:
    if each.shared is None:
        return _summary(each, "a start")
    return _summary(each, str(each.shared), Reed.parse(str(each.shared)).words)


def _summary(each: TriesSummary, name: str, spoken: str = "") -> SummaryShown:
    share = _percent(each.in_place, each.count)
    return SummaryShown(name, spoken, each.count, share, round(each.out_cents))
