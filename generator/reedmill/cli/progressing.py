"""The command that shows a student's progress; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted
from reedmill.cli.keeping import book_option, book_place
from reedmill.cli.options import Lenient, json_option, options, replace_option
from reedmill.cli.paging import page_out_option, page_place, page_row, say_page, to_page_option
from reedmill.cli.saying import can_show, columns_shown, say, say_block, say_heading, say_json

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reedmill.record import CellProgress, RecordBook, StudentProgress, StudentRow
    from reedmill.record.record_book import PlayedTake
    from reedmill.record.rung_progress import TriesSummary, Week

_MOST_ROWS = 20
_WEEKS = 10  # that a chart shows, the newest
_BARS, _TYPED_BARS = "▁▂▃▄▅▆▇█", ".:-=+*#@"


@click.command("progress", cls=Lenient, short_help="Show how a student's rungs go over time.")
@click.argument("name", required=False, metavar="[STUDENT]")
@options(book_option, to_page_option, page_out_option, replace_option, json_option)
def progress_command(
    name: str | None, book: str | None, to: str | None, out: str | None, replace: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Show how a student's rungs go over the weeks, those furthest out first.

    \b
    reedmill progress
    reedmill progress Ada --book class.book
    reedmill progress Ada --to page

    Every rung is counted by itself, by the note it was played from, the harp and the position:
    how often it was in place, how far it was out in the middle of all tries (a try that was missed
    or another note counts as 60 cents), and how that went week by week.  Whether it moves is only
    said where the days that were practised leave little doubt.

    A page has the student's name and progress in it; only you may read the file.
    """
    from reedmill.make.page_of_record import PageSubject, check_page_place, place_record_page
    from reedmill.record import open_book, progress_of

    goes_to = page_place(to, out)
    place = book_place(book)
    with open_book(place) as opened:
        student = student_of(opened, name)
        subject = PageSubject(_PROGRESS, student.name, place)
        if goes_to:  # before anything is shown
            check_page_place(goes_to, subject, replace=replace)
        takes = list(opened.played(student.name))
    found = progress_of(takes)
    placed = None
    if goes_to:
        page = _page(student, found, takes)
        placed = place_record_page(goes_to, subject, page, replace=replace)
    if as_json:
        say_json(_data(student, found) | page_row(placed))
        return
    _show(student, found)
    say_page(placed)


def _page(student: StudentRow, found: StudentProgress, takes: Sequence[PlayedTake]) -> bytes:
    from datetime import UTC, datetime

    from reedmill.coaching.practice_history import PracticeHistory
    from reedmill.record_pages.progress_page import progress_page
    from reedmill.record_pages.recalled import retention_of

    history = PracticeHistory.of(takes, datetime.now(UTC))
    return progress_page(student.name, found, retention_of(history))


_PROGRESS = "progress"  # with which the names of its pages begin


def student_of(book: RecordBook, name: str | None) -> StudentRow:
    """Return the student called *name*, or the only one there is."""
    from reedmill.base.errors import InputError

    if name is not None:
        return book.student(name)
    there = book.students()
    if len(there) == 1:
        return there[0]
    listed = ", ".join(f'"{row.name}"' for row in there[:10])
    raise InputError(
        f"the record book has {counted(len(there), 'student')}. Name one of them: {listed}"
        if there
        else "the record book has no student yet. Add takes to it first: reedmill record add"
    )


# --- for programs ---------------------------------------------------------------------------


def _data(student: StudentRow, found: StudentProgress) -> dict[str, object]:
    return {
        "student": student.name,
        "takes": found.takes,
        "days": found.days,
        "first": found.first,
        "last": found.last,
        "by_rung": [_row(each) for each in found.cells],
        "by_register": _sums(found.by_register, "register"),
        "by_position": _sums(found.by_position, "position"),
        "by_from": _sums(found.by_came_from, "from"),
        "practised": [{"day": each.day, "takes": each.takes} for each in found.practised],
        "tempi": [{"drill": drill, "tempo": tempo} for drill, tempo in found.fastest],
    }


def _row(each: CellProgress) -> dict[str, object]:
    cell, trend = each.cell, each.trend
    return {
        "tab": cell.tab,
        "from": cell.came_from,
        "harp": cell.harp,
        "tuning": cell.tuning,
        "register": cell.register,
        "position": cell.position,
        "count": each.count,
        "on": each.in_place,
        "out_cents": round(each.out_cents, 1),
        "median_cents": _rounded(each.median_cents),
        "spread_cents": _rounded(each.spread_cents),
        "days": each.days,
        "last": each.last,
        "weeks": [
            {
                "monday": week.monday,
                "out_cents": round(week.out_cents, 1),
                "count": week.count,
                "on": week.in_place,
            }
            for week in each.weeks
        ],
        "trend_cents_a_week": None if trend is None else round(trend.cents_a_week, 2),
        "interval": None if trend is None else [round(trend.low, 2), round(trend.high, 2)],
    }


def _sums(several: Sequence[TriesSummary], name: str) -> list[dict[str, object]]:
    return [
        {name: each.shared, "count": each.count, "on": each.in_place,
         "out_cents": round(each.out_cents, 1), "days": each.days}
        for each in several
    ]  # fmt: skip


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


# --- for people -----------------------------------------------------------------------------


def _show(student: StudentRow, found: StudentProgress) -> None:
    from reedmill.cli.picture import text_columns

    between = f", {found.first[:10]} to {found.last[:10]}" if found.first and found.last else ""
    taken = f"{counted(found.takes, 'take')} on {counted(found.days, 'day')}"
    say_heading(f"{student.name}: {taken}{between}")
    if not found.cells:
        say("No note of a take was heard clearly yet.")
        return
    shown = found.cells[:_MOST_ROWS]
    bars = _BARS if can_show(_BARS) else _TYPED_BARS
    say("")
    if columns_shown() >= _WIDE:
        heads = ("rung", "from", "harp", "pos", "in place", "out", "mostly", "by week", "a week")
        say_block(text_columns(heads, [_cells(each, bars) for each in shown]))
    else:
        for each in shown:
            rung, before, harp, position, good, out, mostly, weeks, trend = _cells(each, bars)
            say(f"{rung} from {before}, {harp} harp, {position}",
                f"  {good} in place, {out} cents out, mostly {mostly}  {weeks}",
                f"  {trend}")  # fmt: skip
    _end(found, len(shown))


_WIDE = 78


def _end(found: StudentProgress, shown: int) -> None:
    from reedmill.score.verdicts import Tolerance

    say("")
    more = len(found.cells) - shown
    if more == 1:
        say("1 rung nearer to its place is not shown; --json has it.")
    elif more > 1:
        say(f"{counted(more, 'rung')} nearer to their places are not shown; --json has them.")
    near = Tolerance().near_cents
    say(f"in place: within {near:.0f} cents, or as the take's tolerance said.")
    say("out: how far it was out, in cents, whichever way; week by week, higher is further out.")
    say("a week: how many cents it comes nearer; in brackets, the 90% range.")
    for drill, tempo in found.fastest:
        say(f"{drill}: most of it in place at {tempo}")


def _cells(each: CellProgress, bars: str) -> tuple[str, ...]:
    from reedmill.theory.positions import Position

    cell = each.cell
    return (
        cell.tab,
        cell.came_from or "a start",
        cell.harp_words,
        Position(cell.position).ordinal,
        f"{each.in_place} of {each.count}",
        f"{each.out_cents:.0f}",
        _mostly(each),
        chart(each.weeks, bars),
        moving_words(each),
    )


def _mostly(each: CellProgress) -> str:
    """Return which way a rung lies: ``+14 sharp``."""
    if each.median_cents is None:
        return "not heard"
    cents = round(each.median_cents)
    return f"{cents:+d} {'sharp' if cents > 0 else 'flat'}" if cents else "0"


def chart(weeks: Sequence[Week], bars: str) -> str:
    """Return a letter for each of the newest weeks, higher where tries were further out.

    >>> from reedmill.record.rung_progress import Week
    >>> chart([Week("2027-01-04", 55.0, 4, 0, ()), Week("2027-01-11", 8.0, 6, 4, ())], ".:-=+*#@")
    '#.'
    """
    from reedmill.record.rung_progress import NOT_THERE_CENTS

    top = len(bars) - 1
    return "".join(
        bars[min(top, int(each.out_cents / NOT_THERE_CENTS * top))] for each in weeks[-_WEEKS:]
    )


def moving_words(each: CellProgress) -> str:
    """Return in the words of the page how a rung moves, or why nothing is said of that."""
    from reedmill.record_pages.progress_words import interval_words, trend_words

    within = interval_words(each.trend)
    if not can_show(within):
        within = within.replace("\N{MINUS SIGN}", "-")
    return f"{trend_words(each)} ({within})" if within else trend_words(each)
