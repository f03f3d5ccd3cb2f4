"""Places by students: how far out each is, as a number in a frame that says how much that is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.base.text import ForeignText
from reedmill.coaching.class_overview import (
    IN_TUNE_CENTS,
    STUCK_CENTS,
    ClassOverview,
    ComparedPlace,
)
from reedmill.coaching.estimating import LearnedRung
from reedmill.harp import Reed

_MOST_ABREAST = 10  # students: more numbers stand in no line of the smallest phone


@dataclass(frozen=True, slots=True)
class PlaceShown:
    """A place as it is written, and as it is said to who does not see tab."""

    tab: str
    tab_spoken: str
    came_from: str
    came_from_spoken: str
    register: str


@dataclass(frozen=True, slots=True)
class PlaceCell:
    """One student at one place, and the cents that he is out there."""

    cents: int | None  # ``None``: not tried often enough
    how: str  # stuck, out, fine, untold


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """One place, and some students at it."""

    place: PlaceShown
    cells: tuple[PlaceCell, ...]


@dataclass(frozen=True, slots=True)
class PlaceTable:
    """All places for as many students as stand abreast."""

    caption: str
    students: tuple[ForeignText, ...]
    rows: tuple[PlaceRow, ...]


def place_shown(place: LearnedRung) -> PlaceShown:
    """Return a place of an overview as pages show it."""
    came_from = place.came_from or "a start"
    spoken = Reed.parse(place.came_from).words if place.came_from else came_from
    return PlaceShown(place.tab, Reed.parse(place.tab).words, came_from, spoken, place.register)


def place_tables(found: ClassOverview) -> tuple[PlaceTable, ...]:
    """Return the compared places of *found* for all students who have takes, ten in a table."""
    who = [at for at, each in enumerate(found.students) if each.takes]
    return tuple(_tables(found, who)) if found.compared else ()


def _tables(found: ClassOverview, who: Sequence[int]) -> Iterator[PlaceTable]:
    abreast = math.ceil(len(who) / math.ceil(len(who) / _MOST_ABREAST))
    for first in range(0, len(who), abreast):
        some = who[first : first + abreast]
        yield PlaceTable(
            caption=_caption(first, len(some), len(who)),
            students=tuple(found.students[at].name for at in some),
            rows=tuple(_row(each, some) for each in found.compared),
        )


def _caption(first: int, some: int, everyone: int) -> str:
    if some == everyone:
        return "Cents out at each place"
    last = first + some
    which = f"{first + 1} to {last}" if some > 1 else f"{last}"
    return f"{which} of {everyone} students with takes"


def _row(each: ComparedPlace, some: Sequence[int]) -> PlaceRow:
    return PlaceRow(place_shown(each.place), tuple(_cell(each.cents[at]) for at in some))


def _cell(cents: float | None) -> PlaceCell:
    if cents is None:
        return PlaceCell(None, "untold")
    how = "stuck" if cents > STUCK_CENTS else "out" if cents > IN_TUNE_CENTS else "fine"
    return PlaceCell(round(cents), how)
