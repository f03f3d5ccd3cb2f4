"""The practice log of a lesson: a row for each exercise, a column for each day."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.pack.pages.chapter import Chapter, Exercise
from reedmill.pack.pages.lesson_pages import (
    book_body,
    caution_foot,
    harp_in_words,
    one_line,
    title_block,
)
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    FAINT,
    INK,
    LINE,
    at,
    box,
    circle,
    coloured,
    lilypond_string,
    overlay,
    resized,
    rule,
    small,
)
from reedmill.theory.positions import Position

_DAYS = 6
_LOG_ROW, _LOG_HEAD, _LOG_TITLE = 6.4, 4.4, 28.0


def log_body(chapter: Chapter, look: Look) -> str:
    """Return a practice log: a row for each exercise, a column for each day, boxes to tick.

    What is left of the last page holds empty rows.
    """
    rows: list[Exercise | None] = [*chapter.exercises]
    most = int((look.height - _LOG_TITLE - _LOG_HEAD) / _LOG_ROW)
    rows += [None] * (-len(rows) % most)
    tables = [_log_table(rows[at : at + most], look) for at in range(0, len(rows), most)]
    head = title_block(f"{chapter.label} · {chapter.title}", "Practice log", _HOW_TO_LOG, look)
    pages = [f"{head}\n\\markup {table}" for table in tables]
    return book_body("Practice log", caution_foot(look), "\n\\pageBreak\n".join(pages))


_HOW_TO_LOG = "Write the day over a column and the tempo into its box; tick each clean pass."


def _log_table(rows: Sequence[Exercise | None], look: Look) -> str:
    left = look.width * 0.36
    step = (look.width - left) / _DAYS
    days = [at(left + n * step, 0, _day(step)) for n in range(_DAYS)]
    lines = [
        at(0, -_LOG_HEAD - (n + 1) * _LOG_ROW, _log_row(each, left, step, look))
        for n, each in enumerate(rows)
    ]
    labels = at(0, 0, small("drill, harp, tempo"))
    return overlay(at(0, 2, "\\null"), labels, *days, *lines)


def _day(step: float) -> str:
    return overlay(small("date"), at(0, -2.2, rule(step - 1.2)))


def _log_row(each: Exercise | None, left: float, step: float, look: Look) -> str:
    cells = [at(left + n * step, 1.1, _log_cell(step - 1.2)) for n in range(_DAYS)]
    return overlay(at(0, 0, rule(look.width)), *_log_label(each, left - 2), *cells)


def _log_label(each: Exercise | None, width: float) -> list[str]:
    if each is None:
        return []
    title = coloured(
        INK,
        f"\\sans \\bold {resized(-1.5, one_line(f'{each.number} {each.title}'.strip(), width))}",
    )
    facts = f"\\concat {{ {harp_in_words(each.harp)} {lilypond_string(_log_facts(each))} }}"
    words = coloured(FAINT, f"\\sans \\fitted #{width:g} {resized(-3, facts)}")
    if not each.embouchure:
        return [at(0, 3.4, title), at(0, 1.3, words)]
    mouth = f"\\sans \\fitted #{width:g} {resized(-3, lilypond_string(each.embouchure))}"
    return [at(0, 4.4, title), at(0, 2.4, words), at(0, 0.5, coloured(FAINT, mouth))]


def _log_facts(each: Exercise) -> str:
    return f" harp, {Position(each.position).ordinal} position, tempo {each.tempo}"


def _log_cell(width: float) -> str:
    """Return a box for the tempo, and three passes to tick in it."""
    frame = coloured(LINE, box(0, 0, width, 4.2, filled=False, line=0.12))
    ticks = (circle(width / 2 + (n - 1) * 2, 1.1, 0.55) for n in range(3))
    return overlay(frame, *(coloured(FAINT, tick) for tick in ticks))
