"""A dry check of a course: what building the pack would refuse, without making a file.

Every row of every edition is expanded, as planning does; what the renderers would refuse is
asked too.  A mistake is shown in the curriculum, at the exercise that leads to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from reedmill.base.articles import with_article
from reedmill.base.errors import PatternError
from reedmill.base.gathering import apart
from reedmill.base.source import Span
from reedmill.pack.course.course import Course, Edition, editions
from reedmill.pack.course.course_reading import parse_course
from reedmill.pack.course.course_text import file_text
from reedmill.pack.course.tasks import Failed, LessonRow, Writable, charts, expanded, planned


def inspected(path: Path) -> tuple[Course, str]:
    """Return the course in the course file at *path*, and its text.

    Raises as ``read_course``, and ``PatternError`` for a row that could not be made; where
    mistakes are gathered, each of them is.
    """
    text = file_text(path)
    course = parse_course(text, str(path), path.parent)
    told: set[object] = set()
    for failed in _failed(course):
        error = _pointing(failed)
        same = (error.span, error.led_to.span if error.led_to else error.fact)
        if same not in told:  # on one harp or on twelve, it is one mistake
            told.add(same)
            with apart():
                raise error.with_source(text)
    return course, text


def _failed(course: Course) -> Iterator[Failed]:
    """Yield every row that could not be made; equal rows of several students are tried once."""
    writable = Writable()
    tried: set[object] = set()
    for edition in editions(course):
        for row in (*planned(edition), *charts(edition)):
            if isinstance(row, Failed):
                yield row
            elif isinstance(row, LessonRow) and not row.entry.drill.broken:
                same = _same(row, edition)
                if same not in tried:
                    tried.add(same)
                    task = expanded(row, writable)
                    if isinstance(task, Failed):
                        yield task


def _same(row: LessonRow, edition: Edition) -> object:
    return id(row.entry), row.harp, row.position, row.version, edition.pace_percent


def _played_on(row: LessonRow) -> str:
    harp = with_article(row.harp.label)
    return f'"{row.entry.drill.title}" on {harp} in {row.position.label}'


def _pointing(failed: Failed) -> PatternError:
    """Return the mistake at its exercise, with the error it led to."""
    place = failed.place or Span("", 1, 1)
    error = failed.error
    row = failed.row
    on = _played_on(row) if row else ""
    if isinstance(error, PatternError):
        return PatternError(
            f"{on} cannot be played: {error.fact}",
            f"That is in line {error.span.line} of {error.span.file}.\n  {error.remedy}",
            place,
            key="row-cannot-be-made",
            led_to=error,
            way_out=error.way_out,
            values=error.values,
        )
    fact, _, remedy = failed.message.partition(". ")
    return PatternError(
        ": ".join(filter(None, (on, fact))), remedy, place, key="row-cannot-be-made"
    )
