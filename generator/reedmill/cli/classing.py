"""The command that shows a class before its lesson; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted
from reedmill.cli.keeping import book_place
from reedmill.cli.options import Lenient, json_option, options, replace_option
from reedmill.cli.paging import page_out_option, page_place, page_row, say_page, to_page_option
from reedmill.cli.saying import columns_shown, say, say_block, say_heading, say_json

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from reedmill.cli.outlining import OutlinedCourse
    from reedmill.coaching.class_overview import (
        ClassOverview,
        ClassStranger,
        DrillToPrint,
        LessonMark,
        StuckPlace,
        StudentOverview,
        StudentPlace,
    )
    from reedmill.coaching.estimating import LearnedRung
    from reedmill.make.made_files import PlacedFile
    from reedmill.make.page_of_record import PageSubject

_INDENT = "  "
_MOST_NAMES = 12  # of those who are stuck at a place; --json has all of them

class_book_option = click.option(
    "--book", metavar="FILE",
    help="The record book.  [default: the one that the course names, else record.book in the "
    "folder your system has for data]",
)  # fmt: skip


@click.command("class", cls=Lenient, short_help="Show a class before its lesson.")
@click.argument("course", required=False, metavar="[COURSE]")
@options(class_book_option, to_page_option, page_out_option, replace_option, json_option)
def class_command(
    course: str | None, book: str | None, to: str | None, out: str | None, replace: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Show a class before its lesson: who practised, who is stuck where, what to print.

    \b
    reedmill class
    reedmill class course.toml
    reedmill class course.toml --book class.book
    reedmill class course.toml --to page

    With a course, its students, and where each stands: the furthest lesson of which more than half
    of the exercises was played in place, and the one after it.  An exercise was, where nine of ten
    notes of one take were, and eight at least, on a harp and in a position that the course gives
    it.  Without a course, or with one that has no students, everyone in the book is shown.

    A place, which is a rung from another note on a register of harps, is stuck where it is likely
    to be more than 25 cents out, after 8 tries or more.  Newer tries count for more.

    A page has the names of your students and how they play; only you may read the file.
    """
    from datetime import UTC, datetime

    from reedmill.coaching.class_overview import book_overview
    from reedmill.make.page_of_record import PageSubject, check_page_place
    from reedmill.record import open_book

    goes_to = page_place(to, out)
    found = _course(course)
    place = _place(book, found)
    subject = PageSubject(_CLASS, found.course.title if found else place.stem, place)
    if goes_to:  # before anything is shown
        check_page_place(goes_to, subject, replace=replace)
    with open_book(place) as opened:
        asked = (found.outline, found.contents) if found else ()
        overview = book_overview(opened, datetime.now(UTC), *asked)
    placed = _placed(overview, goes_to, subject, replace=replace) if goes_to else None
    if as_json:
        say_json({"book": str(place), **_data(overview), **page_row(placed)})
        return
    _show(overview, place)
    say_page(placed)


_CLASS = "class"  # with which the names of its pages begin


def _placed(
    found: ClassOverview, goes_to: str, subject: PageSubject, *, replace: bool
) -> PlacedFile:
    from reedmill.make.page_of_record import place_record_page
    from reedmill.record_pages.class_page import class_page

    page = class_page(found, make_line)
    return place_record_page(goes_to, subject, page, replace=replace)


def _course(wanted: str | None) -> OutlinedCourse | None:
    if wanted is None:
        return None
    if wanted.lower().endswith(".book"):
        from reedmill.base.errors import InputError
        from reedmill.cli.meant import shell_quoted

        raise InputError(
            f'"{wanted:.200}" is a record book, and a course comes first. Write: reedmill class '
            f"--book {shell_quoted(wanted)}"
        )
    from reedmill.cli.outlining import outlined_course

    return outlined_course(wanted)


def _place(book: str | None, course: OutlinedCourse | None) -> Path:
    named = course.book() if course and book is None else None
    return named or book_place(book)


# --- for programs ---------------------------------------------------------------------------


def _data(found: ClassOverview) -> dict[str, object]:
    return {
        "course": found.course,
        "day": found.day,
        "students": [_student_row(each) for each in found.students],
        "stuck": [_stuck_row(each) for each in found.stuck],
        "compared": [
            {**_place_row(each.place), "out_cents": [_rounded(cents) for cents in each.cents]}
            for each in found.compared
        ],
        "not_in_course": [
            {"name": each.name, "takes": each.takes, "nearest": each.nearest or None}
            for each in found.strangers
        ],
    }


def _student_row(each: StudentOverview) -> dict[str, object]:
    return {
        "name": each.name,
        "takes": each.takes,
        "days": each.days,
        "last": each.last,
        "days_ago": each.days_ago,
        "reached": _lesson_row(each.reached),
        "next": _lesson_row(each.next),
        "lessons": each.lessons,
        "stuck": [_weak_row(one) for one in each.stuck],
        "weakest": _weak_row(each.weakest) if each.weakest else None,
        "registers": [
            {"register": need.register, "harp": need.harp,
             "further_cents": _rounded(need.further_cents), "than": need.than}
            for need in each.register_needs
        ],
        "print": _drill_row(each.to_print) if each.to_print else None,
    }  # fmt: skip


def _lesson_row(mark: LessonMark | None) -> dict[str, object] | None:
    if mark is None:
        return None
    return {
        "lesson": mark.number,
        "title": mark.title,
        "in_place": mark.in_place,
        "exercises": mark.exercises,
    }


def _place_row(place: LearnedRung) -> dict[str, object]:
    return {"tab": place.tab, "from": place.came_from, "register": place.register}


def _weak_row(weak: StudentPlace) -> dict[str, object]:
    return _place_row(weak.place) | {
        "out_cents": _rounded(weak.cents),
        "count": weak.tries,
        "on": weak.in_place,
    }


def _stuck_row(each: StuckPlace) -> dict[str, object]:
    return _place_row(each.place) | {
        "out_cents": _rounded(each.cents),
        "students": list(each.students),
        "tried": each.tried,
    }


def _drill_row(drill: DrillToPrint) -> dict[str, object]:
    return {
        "drill": drill.title,
        "harp": drill.harp,
        "position": drill.position,
        "times": drill.times,
        "from_that_note": drill.exact,
        "command": make_line(drill),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


# --- for people -----------------------------------------------------------------------------


def _show(found: ClassOverview, place: Path) -> None:
    count = counted(len(found.students), "student")
    say_heading(f"{found.course}: {count}" if found.course else f"{place}: {count}")
    if not found.students:
        say(f"Add takes first: reedmill record add takes.json --student Ada{_of_book(place)}")
    practised = [each for each in found.students if each.takes]
    if practised:
        _say_stuck(found.stuck)
    _say_practised(practised)
    idle = [each.name for each in found.students if not each.takes]
    if idle:
        say("")
        _say_folded(f"No take yet: {', '.join(idle)}")
    _say_registers(practised)
    _say_prints(practised)
    if found.strangers:
        say("")
        _say_folded(
            f"In the book, but not in the course: {', '.join(map(_stranger, found.strangers))}"
        )


def _of_book(place: Path) -> str:
    from reedmill.cli.meant import shell_quoted
    from reedmill.record import usual_place

    return "" if place == usual_place() else f" --book {shell_quoted(str(place))}"


def _say_folded(text: str, first: str = "") -> None:
    from reedmill.cli.folding import folded

    say(*folded(text, columns_shown(), f"{first}{_INDENT}", first))


def _stranger(each: ClassStranger) -> str:
    takes = counted(each.takes, "take")
    near = f'; did you mean "{each.nearest}"?' if each.nearest else ""
    return f'"{each.name}" ({takes}{near})'


# --- what is stuck


def _say_stuck(found: Sequence[StuckPlace]) -> None:
    from reedmill.coaching.class_overview import ENOUGH_TRIES, STUCK_CENTS
    from reedmill.coaching.class_words import place_words

    say("")
    say_heading("Where most are stuck")
    if not found:
        _say_folded(
            f"Nobody is stuck: no place that was tried {ENOUGH_TRIES} times or more is likely to "
            f"be more than {STUCK_CENTS:.0f} cents out.", _INDENT,
        )  # fmt: skip
        return
    _say_folded(
        f"Stuck: likely to be more than {STUCK_CENTS:.0f} cents out, after {ENOUGH_TRIES} tries "
        "or more.", _INDENT,
    )  # fmt: skip
    for each in found:
        count = f"{len(each.students)} of {counted(each.tried, 'student')}"
        who = f"{count} who tried it so often: {_named(each.students)}"
        _say_folded(f"{place_words(each.place)}, about {each.cents:.0f} cents out", _INDENT)
        _say_folded(who, 2 * _INDENT)


def _named(names: Sequence[str]) -> str:
    more = len(names) - _MOST_NAMES
    shown = names if more <= 1 else names[:_MOST_NAMES]
    return ", ".join(shown) + (f" and {more} more" if more > 1 else "")


# --- who practised


def _say_practised(students: Sequence[StudentOverview]) -> None:
    from reedmill.base.text import columns
    from reedmill.cli.picture import text_columns

    if not students:
        return
    say("")
    say_heading("Who practised")
    lessons = any(each.reached or each.next for each in students)
    heads = ("student", "last", "takes", "days", *(("reached", "next") if lessons else ()))
    rows = [_cells(each)[: len(heads)] for each in students]
    table = text_columns(heads, rows).split("\n")
    if max(map(columns, table)) + len(_INDENT) <= columns_shown():
        say_block("\n".join(f"{_INDENT}{line}" for line in table))
    else:
        for name, last, takes, days, *stands in rows:
            _say_folded(name, _INDENT)
            _say_folded(f"{last}; takes: {takes}, days: {days}", 2 * _INDENT)
            if stands:
                _say_folded(f"reached: {stands[0]}; next: {stands[1]}", 2 * _INDENT)
    _say_lessons(students)


def _cells(each: StudentOverview) -> tuple[str, ...]:
    from reedmill.coaching.class_words import days_words

    return (
        each.name,
        days_words(each.days_ago or 0),
        str(each.takes),
        str(each.days),
        _lesson(each.reached) or "none yet",
        _lesson(each.next) or "all reached",
    )


def _lesson(mark: LessonMark | None) -> str:
    return f"{mark.number} ({mark.in_place} of {mark.exercises})" if mark else ""


def _say_lessons(students: Sequence[StudentOverview]) -> None:
    """Print the titles of the lessons that the table names by number."""
    marks = {
        mark.number: mark.title for each in students for mark in (each.reached, each.next) if mark
    }
    if not marks:
        return
    _say_folded("In brackets: exercises of the lesson played in place.", _INDENT)
    for number in sorted(marks):
        _say_folded(f"Lesson {number}: {marks[number]}", _INDENT)


# --- what to do


def _say_registers(students: Sequence[StudentOverview]) -> None:
    from reedmill.coaching.class_words import need_words

    wanting = [each for each in students if each.register_needs]
    if not wanting:
        return
    say("")
    say_heading("Who needs another harp")
    for each in wanting:
        _say_folded(f"{each.name}: {'; '.join(need_words(each.register_needs))}", _INDENT)


def _say_prints(students: Sequence[StudentOverview]) -> None:
    from reedmill.coaching.class_overview import ENOUGH_TRIES, IN_TUNE_CENTS
    from reedmill.coaching.class_words import place_words

    if not students:
        return
    say("")
    say_heading("What to print for the weakest places")
    for each in students:
        if each.weakest:
            place = place_words(each.weakest.place)
            _say_folded(f"{each.name}: {place}, about {each.weakest.cents:.0f} cents out", _INDENT)
            say(2 * _INDENT + _print_line(each.to_print))
    rest = ", ".join(each.name for each in students if not each.weakest)
    if rest:
        _say_folded(
            f"No place more than {IN_TUNE_CENTS:.0f} cents out after {ENOUGH_TRIES} tries or more: "
            f"{rest}", _INDENT,
        )  # fmt: skip


def _print_line(drill: DrillToPrint | None) -> str:
    if drill is None:
        return "no drill comes to this note"
    return make_line(drill) + ("" if drill.exact else "  (from other notes)")


def make_line(drill: DrillToPrint) -> str:
    """Return the command line that makes the sheet of *drill*."""
    from reedmill.cli.meant import shell_quoted

    named = f"./{drill.named}" if drill.named.startswith("-") else drill.named  # not an option
    return (
        f"reedmill make {shell_quoted(named)} --harp {shell_quoted(drill.harp)} "
        f"--position {drill.position}"
    )
