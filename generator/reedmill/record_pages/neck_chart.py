"""Footprints on the neck of a hole: where tries came to rest, week by week, on rungs in cents.

The rungs stand at their true distance.  Every try is a short dash in the column of its week; of
many tries in a week, a few that lie evenly among them are drawn.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from reedmill.harp import (
    LAYOUTS,
    RICHTER,
    Harp,
    Reed,
    bend_depth,
    bending_breath,
    hole_rungs,
    note_on_harp,
)
from reedmill.record import CellProgress
from reedmill.record.rung_progress import RungCell
from reedmill.record_pages.day_scale import WEEK, DayTick, said_day
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

NECK_LEFT, NECK_RIGHT = 54, 248  # of 310 units
TOP = 54  # of the highest rung
SEMITONE = 72  # units of the drawing
_BELOW = 76  # the lowest rung
_MOST_WEEKS = 12
_MOST_DASHES = 7  # of a rung in a week
_FURTHEST = 60.0  # cents from its rung to a dash
_MOST_NECKS = 6


@dataclass(frozen=True, slots=True)
class NeckRung:
    """One rung of a neck."""

    y: float
    tab: str
    note: str
    degree: str
    tried: bool


@dataclass(frozen=True, slots=True)
class NeckDash:
    """One footprint, or several in the same place."""

    left: float
    right: float
    y: float
    newest: bool  # of the newest week


@dataclass(frozen=True, slots=True)
class NeckChart:
    """A drawing of one hole and breath on a harp in a position."""

    title: str  # "Hole 3 draw"
    where: str  # "C harp, 2nd position"
    height: int
    rungs: tuple[NeckRung, ...]
    dashes: tuple[NeckDash, ...]
    ticks: tuple[DayTick, ...]
    thinned: bool  # not every try is drawn
    words: str


@dataclass(frozen=True, slots=True)
class _Hole:
    """The cells that share a neck."""

    natural: Reed
    cells: tuple[CellProgress, ...]

    @property
    def cell(self) -> RungCell:
        return self.cells[0].cell

    @property
    def harp(self) -> Harp:
        return Harp.parse(self.cell.harp, LAYOUTS.get(self.cell.tuning, RICHTER))

    @property
    def bent(self) -> bool:
        return any(Reed.parse(each.cell.tab) != self.natural for each in self.cells)


def neck_charts(cells: Sequence[CellProgress]) -> tuple[NeckChart, ...]:
    """Return a neck for each hole that is bent or overbent, that with the furthest rung first.

    Where none is, natural notes that may sag have theirs, as on a practice page.
    """
    holes = list(_holes(cells))
    found = [each for each in holes if each.bent] or [each for each in holes if _may_sag(each)]
    return tuple(map(_neck, found[:_MOST_NECKS]))


def _holes(cells: Sequence[CellProgress]) -> Iterator[_Hole]:
    together: dict[tuple[object, ...], list[CellProgress]] = defaultdict(list)
    for each in cells:
        cell, natural = each.cell, Reed.parse(each.cell.tab).natural
        together[natural, cell.harp, cell.tuning, cell.position].append(each)
    for several in together.values():
        yield _Hole(Reed.parse(several[0].cell.tab).natural, tuple(several))


def _may_sag(hole: _Hole) -> bool:
    layout, natural = hole.harp.layout, hole.natural
    return bending_breath(layout, natural.hole) is natural.breath and (
        bend_depth(layout, natural.hole) > 0
    )


def _neck(hole: _Hole) -> NeckChart:
    cell = hole.cell
    rungs = _rungs(hole)
    newest = max(date.fromisoformat(each.weeks[-1].monday) for each in hole.cells)
    oldest = min(date.fromisoformat(each.weeks[0].monday) for each in hole.cells)
    weeks = min((newest - oldest) // WEEK + 1, _MOST_WEEKS)
    first = newest - (weeks - 1) * WEEK
    column = (NECK_RIGHT - NECK_LEFT) / max(weeks, 4)
    ys = {rung.tab: rung.y for rung in rungs}
    tries = _tries(hole, first)
    dashes = tuple(
        _dash(NECK_LEFT + (week + 0.5) * column, column, ys[tab] - cents / 100 * SEMITONE,
              newest=week == weeks - 1)
        for (tab, week), rested in tries.items()
        for cents in _thinned(rested)
    )  # fmt: skip
    place = Position(cell.position).ordinal
    return NeckChart(
        title=f"Hole {hole.natural.hole} {hole.natural.breath.value}",
        where=f"{with_signs(cell.harp_words)} harp, {place} position",
        height=round(rungs[-1].y + _BELOW),
        rungs=rungs,
        dashes=dashes,
        ticks=_ticks(first, newest, column, weeks),
        thinned=any(len(rested) > _MOST_DASHES for rested in tries.values()),
        words=" ".join(_said(rung, tries) for rung in rungs if rung.tried),
    )


def _rungs(hole: _Hole) -> tuple[NeckRung, ...]:
    """Return the rungs of the hole from high to low; one that was played besides has its own."""
    harp, cell = hole.harp, hole.cell
    tried = {Reed.parse(each.cell.tab) for each in hole.cells}
    reeds = {*hole_rungs(harp.layout, hole.natural), *tried}
    high = max(map(harp.midi, reeds))
    found = []
    for reed in sorted(reeds, key=lambda each: (-harp.midi(each), each.tab)):
        heard = note_on_harp(harp, Position(cell.position), reed)
        y = TOP + SEMITONE * (high - harp.midi(reed))
        note, degree = with_signs(heard.pitch.note), heard.degree.printed
        found.append(NeckRung(y, reed.tab, note, degree, reed in tried))
    return tuple(found)


def _tries(hole: _Hole, first: date) -> dict[tuple[str, int], list[float]]:
    """Return the cents of all tries since *first* by tab and week, sorted."""
    found: dict[tuple[str, int], list[float]] = defaultdict(list)
    for each in hole.cells:
        for week in each.weeks:
            number = (date.fromisoformat(week.monday) - first) // WEEK
            if number >= 0:
                near = [max(-_FURTHEST, min(_FURTHEST, cents)) for cents in week.rested]
                found[each.cell.tab, number] += near
    return {place: sorted(several) for place, several in found.items() if several}


def _thinned(rested: Sequence[float]) -> list[float]:
    """Return at most ``_MOST_DASHES`` of *rested*, which are sorted, evenly from among them."""
    if len(rested) <= _MOST_DASHES:
        return list(rested)
    step = len(rested) / _MOST_DASHES
    return [rested[int((number + 0.5) * step)] for number in range(_MOST_DASHES)]


def _dash(middle: float, column: float, y: float, *, newest: bool) -> NeckDash:
    half = 0.38 * min(column, 40)
    return NeckDash(round(middle - half, 1), round(middle + half, 1), round(y, 1), newest)


def _ticks(first: date, newest: date, column: float, weeks: int) -> tuple[DayTick, ...]:
    start = DayTick(NECK_LEFT + 2, f"week of {said_day(first)}", "start")
    if weeks == 1:
        return (start,)
    end = round(NECK_LEFT + (weeks - 0.5) * column, 1)
    last = DayTick(min(end + 12, NECK_RIGHT), said_day(newest), "end")
    return (DayTick(start.x, said_day(first), "start"), last)


def _said(rung: NeckRung, tries: dict[tuple[str, int], list[float]]) -> str:
    """Return in words where the tries of *rung* lie, first and last."""
    lying = [(week, rested[len(rested) // 2]) for (tab, week), rested in sorted(tries.items())
             if tab == rung.tab]  # fmt: skip
    if not lying:
        return f"{rung.tab}: not heard."
    ends = [side for side, _ in groupby(_side(cents) for _, cents in (lying[0], lying[-1]))]
    return f"{rung.tab}: {', then '.join(ends)}."


def _side(cents: float) -> str:
    near = round(abs(cents))
    return f"{near} cents {'above' if cents > 0 else 'below'} it" if near else "on it"
