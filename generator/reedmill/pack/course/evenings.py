"""Lessons that each student's own record decides: what is to be practised next.

The evening is planned as of the student's newest take, never of today, so that the same course and
the same book make the same pack.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from reedmill.base.errors import InputError
from reedmill.base.gathering import apart
from reedmill.base.text import printable
from reedmill.base.toml_places import TablePath
from reedmill.harp import Harp
from reedmill.language import Drill, parse
from reedmill.pack.course.course import Entry
from reedmill.pack.course.exercises import Exercises, has_sound
from reedmill.pack.course.pointing import Pointer
from reedmill.pack.course.settling import Layer, Settled

if TYPE_CHECKING:
    from reedmill.coaching.planning import PracticeBlock
    from reedmill.pack.course.models import CourseTable, ExerciseTable
    from reedmill.record.record_book import PlayedTake

_RESTS = "Put the harp down for half a minute after each."
_MOST_NAMED = 12  # students in one sentence
_BEFORE_ALL = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Evenings:
    """Plans the lessons of a course that say ``next = true``."""

    pointer: Pointer
    exercises: Exercises
    tables: CourseTable
    book: Path | None  # of the class; ``None``: the course names none

    def check(self) -> None:
        """Raise ``PatternError`` where a lesson asks for what the course cannot know."""
        for at, table in enumerate(self.tables.lessons):
            path: TablePath = ("lessons", at, "next")
            if table.next and not self.tables.students:
                raise self.pointer.error(
                    path,
                    "next is about the takes of each student, and this course has no students",
                    "Add a table [[students]] for each, or leave next out.",
                )
            if table.next and self.book is None:
                raise self.pointer.error(
                    path,
                    "next is about takes in a record book, and this course names none",
                    'Write at the top of the course: book = "class.book"',
                )

    def of(self, name: str, harps: tuple[Harp, ...]) -> Iterator[tuple[int, tuple[Entry, ...]]]:
        """Yield the number of each such lesson, and what it has for the student *name*."""
        for at, table in enumerate(self.tables.lessons):
            if table.next:
                with apart(), self.pointer.at(("lessons", at, "next")):
                    entries = self._entries(at, name, harps, table.minutes)
                    yield at + 1, tuple(entries)

    def notices(self) -> Iterator[str]:
        """Yield what a teacher should know of the book and its students, a sentence each."""
        if self.book is None or not any(table.next for table in self.tables.lessons):
            return
        missing = [each.name for each in self.tables.students if each.name not in self._takes]
        if not missing:
            return
        where = f'the book "{self.book.name}" is not there yet'
        if self.book.exists():
            more = f" and {len(missing) - _MOST_NAMED} more" if len(missing) > _MOST_NAMED else ""
            named = ", ".join(missing[:_MOST_NAMED])
            where = f'not in the book "{self.book.name}": {named}{more}'
        yield printable(
            f"{where}. Who is not in it gets something to begin with; check how names are spelt."
        )

    def _entries(
        self, at: int, name: str, harps: tuple[Harp, ...], minutes: int
    ) -> Iterator[Entry]:
        from reedmill.coaching.evening import evening  # NumPy is behind it: few courses ask for it
        from reedmill.coaching.evening_course import note  # as above
        from reedmill.coaching.practice_history import PracticeHistory  # as above

        takes = self._takes.get(name, ())
        now = datetime.fromisoformat(takes[-1].played) if takes else _BEFORE_ALL
        found = evening(PracticeHistory.of(takes, now), minutes, harps)
        path: TablePath = ("lessons", at)
        layers: tuple[Layer, ...] = (
            (("defaults",), self.tables.defaults), (path, self.tables.lessons[at])
        )  # fmt: skip
        for number, block in enumerate(
            found.blocks, start=len(self.tables.lessons[at].exercises) + 1
        ):
            table = _exercise(block, sound=has_sound(Settled(layers)))
            settled = Settled((*layers, (path, table)))
            practised = self.exercises.practised(settled, table, path)
            place = self.pointer.places.value((*path, "next"))
            said = note(found, block)
            if block is found.blocks[0]:
                said = f"{_RESTS} {said}"
            yield practised.entry(self._drill(block), said, number, place)

    def _drill(self, block: PracticeBlock) -> Drill:
        if block.offer.pattern:
            [drill] = parse(block.offer.pattern, block.offer.title)
            return drill
        return self.exercises.bookshelf.titled(block.offer.title)

    @cached_property
    def _takes(self) -> Mapping[str, list[PlayedTake]]:
        """The takes of each student; none where there is no book yet."""
        from reedmill.record import open_book  # as above
        from reedmill.record.record_book import is_book  # as above

        names = [each.name for each in self.tables.students]
        found: dict[str, list[PlayedTake]] = {}
        if self.book is not None:
            with self.pointer.at(("book",)):
                if is_book(self.book):
                    with open_book(self.book) as opened:
                        for name in names:
                            with suppress(InputError):  # who is not in it yet
                                found[name] = list(opened.played(opened.student(name).name))
        return found


def _exercise(block: PracticeBlock, *, sound: bool) -> ExerciseTable:
    """Return the table that a teacher would write for *block*."""
    from reedmill.pack.course.models import ExerciseTable  # pydantic's: it is there by now

    return ExerciseTable.model_validate({
        "harps": [block.offer.harp],
        "positions": [block.offer.position],
        "tempo": block.offer.tempo,
        **({"repeat": block.passes} if sound else {}),
    })  # fmt: skip
