"""The exercises a student does not get, by the words a course names them with."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.base.errors import close_match
from reedmill.base.toml_places import TablePath
from reedmill.pack.course.course import LeftOut, Lesson
from reedmill.pack.course.pointing import Pointer


class LeftOutWords:
    """Finds exercises of *lessons* as ``2.3``, and single drills of them by title.

    ``PatternError`` with the place in the file for a word that names none.
    """

    def __init__(self, pointer: Pointer, lessons: Sequence[Lesson]) -> None:
        self._pointer = pointer
        self._by_word: dict[str, dict[LeftOut, None]] = {}
        self._titles: dict[str, None] = {}
        for lesson in lessons:
            for entry in lesson.entries:
                place = LeftOut(lesson.number, entry.exercise, entry.drill.title)
                self._titles[entry.drill.title] = None
                for word in (_folded(entry.drill.title), f"{place.lesson}.{place.exercise}"):
                    self._by_word.setdefault(word, {})[place] = None

    def named(self, words: Sequence[str], path: TablePath) -> tuple[LeftOut, ...]:
        """Return the exercises that *words*, the list at *path*, name."""
        found: dict[LeftOut, None] = {}
        for at, word in enumerate(words):
            places = self._by_word.get(_folded(word))
            if not places:
                raise self._pointer.error(
                    (*path, at),
                    f'no exercise of this course is called "{word}"',
                    f"{close_match(word, self._titles).strip()} Write the title of its drill, or "
                    'lesson and exercise as numbers: "2.3" is the third exercise of lesson 2.',
                )
            found |= places
        return tuple(found)


def _folded(title: str) -> str:
    """Return *title* without regard to case and spaces."""
    return " ".join(title.casefold().split())
