"""The contents of a book, each line linked to its page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.pack.pages.lesson_pages import NO_FOOT, book_body, one_line, title_block
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    at,
    coloured,
    lilypond_string,
    overlay,
    resized,
    rule,
)
from reedmill.theory.pitch import with_signs

_LINE_HEIGHT, _OVER_LESSON, _UNDER_LESSON = 3.1, 1.6, 0.9
_CONTENTS_HEAD, _CONTENTS_SLACK, _LABEL = 17.0, 6.0, 5.2
_CONTINUED = 6.0  # height of the heading of a later page
_MOUTH_HEIGHT = 2.1  # of the second line of a detail
ROW_LINK = "row:"
"""Begins the address of each line of the contents; who joins the book sets the page."""


@dataclass(frozen=True, slots=True)
class ContentsLine:
    """One line of the contents."""

    text: str  # printable
    page: int
    label: str = ""  # printable: the number of a lesson or an exercise
    detail: str = ""  # printable: which harp
    deep: bool = False  # an exercise, under its lesson
    mouth: str = ""  # printable: the plan for the mouth, which tells two versions apart


def contents_pages(lines: Sequence[ContentsLine], look: Look) -> int:
    """Return how many pages the contents take, whatever the page numbers are."""
    return len(list(contents_runs(lines, look)))


def contents_body(lines: Sequence[ContentsLine], look: Look) -> str:
    """Return the contents: each line a link to ``row:N``, its number from 0."""
    pages, number = [], 0
    for run in contents_runs(lines, look):
        rows, y = [], 0.0
        for line in run:
            y -= _line_height(line)
            under = (_MOUTH_HEIGHT if line.mouth else 0) if line.deep else _UNDER_LESSON
            rows.append(at(0, y + under, _contents_line(line, number, look)))
            number += 1
        pages.append(f"\\markup {overlay(at(0, 1, chr(92) + 'null'), *rows)}")
    head = title_block("", "Contents", "", look)
    going_on = f"\n\\pageBreak\n{_continued(look)}\n"
    return book_body("Contents", NO_FOOT, head, going_on.join(pages))


def _continued(look: Look) -> str:
    """Return the heading of every page of contents but the first."""
    words = coloured(FAINT, f"\\sans {resized(-1, lilypond_string('Contents, continued'))}")
    return f"\\markup \\left-column {{ {words} {rule(look.width)} }}"


def _line_height(line: ContentsLine) -> float:
    more = _MOUTH_HEIGHT if line.mouth else 0
    return _LINE_HEIGHT + more + (0 if line.deep else _OVER_LESSON + _UNDER_LESSON)


def contents_runs(lines: Sequence[ContentsLine], look: Look) -> Iterator[list[ContentsLine]]:
    """Yield *lines* page by page; no lesson is last on a page."""
    most = look.height - _CONTENTS_SLACK
    run: list[ContentsLine] = []
    room = most - _CONTENTS_HEAD
    for place, line in enumerate(lines):
        needed = _line_height(line)
        if not line.deep and place + 1 < len(lines) and lines[place + 1].deep:
            needed += _LINE_HEIGHT
        if run and room < needed:
            yield run
            run, room = [], most - _CONTINUED
        run.append(line)
        room -= _line_height(line)
    yield run


def _contents_line(line: ContentsLine, number: int, look: Look) -> str:
    width = look.width
    row = overlay(
        _clickable(width),
        *(_exercise_cells(line, width) if line.deep else _lesson_cells(line, width)),
    )
    under = [] if line.deep else [at(0, -1.0, rule(width))]
    return overlay(*under, f'\\with-url #"{ROW_LINK}{number}" {row}')


def _exercise_cells(line: ContentsLine, width: float) -> list[str]:
    text = coloured(INK, resized(-0.5, one_line(line.text, width * 0.52)))
    detail = one_line(with_signs(line.detail), width * 0.3)
    # Whole, because it tells versions apart.
    mouth = f"\\fitted #{width * 0.35:g} {lilypond_string(line.mouth)}"
    details = [_small(detail), *([_small(mouth)] if line.mouth else [])]
    page = coloured(INK, f"\\sans {resized(-1.5, lilypond_string(str(line.page)))}")
    return [
        at(0, 0, coloured(FAINT, f"\\sans {resized(-2, lilypond_string(line.label))}")),
        at(_LABEL, 0, text),
        *(
            at(width * 0.6, y, text)
            for y, text in zip((0.0, -_MOUTH_HEIGHT), details, strict=False)
        ),
        at(width, 0, f"\\right-align {page}"),
    ]


def _small(words: str) -> str:
    return coloured(FAINT, f"\\sans {resized(-2.5, words)}")


def _lesson_cells(line: ContentsLine, width: float) -> list[str]:
    text = coloured(INK, resized(1, one_line(line.text, width * 0.85)))
    label = coloured(ACCENT, resized(1, lilypond_string(line.label)))
    page = coloured(INK, f"\\sans {resized(-0.5, lilypond_string(str(line.page)))}")
    return [
        at(0, 0, f"\\bold {label}"),
        at(_LABEL, 0, f"\\bold {text}"),
        at(width, 0, f"\\right-align \\bold {page}"),
    ]


def _clickable(width: float) -> str:
    """Return an invisible box as large as a line, which makes all of it a link."""
    return f"\\with-dimensions #'(0 . {width:g}) #'(-0.9 . {_LINE_HEIGHT - 0.9:g}) \\null"
