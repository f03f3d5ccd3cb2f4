"""Errors that point into a course file."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import printable
from reedmill.base.toml_places import Places, TablePath
from reedmill.pack.course.course_remedies import in_course


@dataclass(frozen=True, slots=True)
class Pointer:
    """The text of a course file, and the places of its keys and values."""

    text: str
    places: Places

    def error(self, path: TablePath, fact: str, *remedy: str) -> PatternError:
        """Return an error that shows the value at *path*; each part of the remedy is one line."""
        return self._error(path, fact, "\n  ".join(map(printable, remedy)))

    def _error(self, path: TablePath, fact: str, remedy: str) -> PatternError:
        span = self.places.value(path)
        return PatternError(fact, remedy, span).with_source(self.text)

    @contextmanager
    def at(self, path: TablePath) -> Iterator[None]:
        """Make every ``InputError`` in the block point at *path*, unless it points already."""
        try:
            yield
        except PatternError:
            raise
        except InputError as error:
            fact, _, remedy = in_course(error).partition(". ")
            raise self._error(path, fact.rstrip("."), remedy) from None
