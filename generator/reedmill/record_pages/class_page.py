"""The page of a class before its lesson: one HTML file for any browser and for paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from reedmill.base.text import ForeignText, printable
from reedmill.coaching.class_overview import (
    ENOUGH_TRIES,
    IN_TUNE_CENTS,
    STUCK_CENTS,
    ClassOverview,
    ClassStranger,
    DrillToPrint,
    LessonMark,
    StuckPlace,
    StudentOverview,
    StudentPlace,
)
from reedmill.coaching.class_words import days_words, need_words
from reedmill.record_pages.day_scale import said_date
from reedmill.record_pages.piece_bar import CountedPiece, piece_bar
from reedmill.record_pages.place_table import PlaceShown, PlaceTable, place_shown, place_tables
from reedmill.record_pages.record_frame import record_html
from reedmill.theory.pitch import with_signs

_LATELY = 7  # days


@dataclass(frozen=True, slots=True)
class StuckShown:
    """A place where students are stuck."""

    place: PlaceShown
    students: tuple[ForeignText, ...]
    tried: int
    bar: tuple[CountedPiece, ...]  # who tried it; full for who is stuck
    cents: int


@dataclass(frozen=True, slots=True)
class WeakestShown:
    """The place of one student that is furthest out."""

    place: PlaceShown
    cents: int
    tries: int
    in_place: int
    more: int  # places where he is stuck besides


@dataclass(frozen=True, slots=True)
class StudentShown:
    """The card of one student."""

    name: ForeignText
    last: str
    takes: str
    days: str
    lessons: int
    bar: tuple[CountedPiece, ...]  # of lessons; full for those up to the one that is reached
    reached: LessonMark | None
    next: LessonMark | None
    is_stuck: bool
    weakest: WeakestShown | None
    needs: tuple[str, ...]
    command: str  # that makes the sheet; empty where there is none
    exact: bool  # the drill comes to the rung from the very note


@dataclass(frozen=True, slots=True)
class ClassShown:
    """All that the template of a class page shows."""

    course: ForeignText | None
    day: str
    students: int
    lately: int  # practised in the last days
    lately_days: int
    takes: int
    stuck: tuple[StuckShown, ...]
    tables: tuple[PlaceTable, ...]
    practised: tuple[StudentShown, ...]
    idle: tuple[ForeignText, ...]
    strangers: tuple[ClassStranger, ...]
    commands: tuple[str, ...]  # that make all sheets
    stuck_cents: int
    in_tune_cents: int
    enough_tries: int


def class_page(found: ClassOverview, command: Callable[[DrillToPrint], str]) -> bytes:
    """Return the page of *found* in UTF-8; *command* gives the line that makes a drill's sheet."""
    return record_html("class.html", _shown(found, command))


def _shown(found: ClassOverview, command: Callable[[DrillToPrint], str]) -> ClassShown:
    practised = tuple(_student(each, command) for each in found.students if each.takes)
    ago = [each.days_ago for each in found.students]
    return ClassShown(
        course=found.course,
        day=said_date(date.fromisoformat(found.day)),
        students=len(found.students),
        lately=sum(days is not None and days < _LATELY for days in ago),
        lately_days=_LATELY,
        takes=sum(each.takes for each in found.students),
        stuck=tuple(map(_stuck, found.stuck)),
        tables=place_tables(found),
        practised=practised,
        idle=tuple(each.name for each in found.students if not each.takes),
        strangers=found.strangers,
        commands=tuple(dict.fromkeys(each.command for each in practised if each.command)),
        stuck_cents=round(STUCK_CENTS),
        in_tune_cents=round(IN_TUNE_CENTS),
        enough_tries=ENOUGH_TRIES,
    )


def _stuck(each: StuckPlace) -> StuckShown:
    stuck = len(each.students)
    bar = piece_bar(stuck, each.tried)
    return StuckShown(place_shown(each.place), each.students, each.tried, bar, round(each.cents))


def _student(each: StudentOverview, command: Callable[[DrillToPrint], str]) -> StudentShown:
    drill = each.to_print
    return StudentShown(
        name=each.name,
        last=days_words(each.days_ago or 0),
        takes=_counted(each.takes, "take"),
        days=_counted(each.days, "day"),
        lessons=each.lessons,
        bar=piece_bar(each.reached.number if each.reached else 0, each.lessons),
        reached=each.reached,
        next=each.next,
        is_stuck=bool(each.stuck),
        weakest=_weakest(each.weakest, len(each.stuck)) if each.weakest else None,
        needs=tuple(map(with_signs, need_words(each.register_needs))),
        command=printable(command(drill)) if drill else "",
        exact=bool(drill and drill.exact),
    )


def _weakest(each: StudentPlace, stuck: int) -> WeakestShown:
    more = max(0, stuck - 1)
    return WeakestShown(place_shown(each.place), round(each.cents), each.tries, each.in_place, more)


def _counted(number: int, what: str) -> str:
    return f"{number} {what if number == 1 else f'{what}s'}"
