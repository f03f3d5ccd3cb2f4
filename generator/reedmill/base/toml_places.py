r"""The places of all keys and values in a TOML text, which tomllib does not give.

>>> places = Places('title = "Bends"\n[[lessons]]\ntempo = 60\n', "a.toml")
>>> places.value(("lessons", 0, "tempo")).place
'a.toml:3:9'
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate

from reedmill.base.source import Span
from reedmill.base.toml_tables import Found, TablePath, TextRange, found_in

__all__ = ["Places", "TablePath", "range_span"]


@dataclass(frozen=True)
class Places:
    """The spans of the keys and values of a TOML text that tomllib can read.

    They are looked for when the first is asked for: a text without mistakes needs none.
    """

    text: str
    file: str

    def key(self, path: TablePath) -> Span:
        """Return the span of the last key of *path*, or of the nearest thing around it."""
        found = self._found.keys.get(path)
        return self._span(found) if found else self.value(path)

    def value(self, path: TablePath) -> Span:
        """Return the span of the value at *path*, or of the nearest thing around it."""
        for end in range(len(path), 0, -1):
            found = self._found.values.get(path[:end]) or self._found.keys.get(path[:end])
            if found:
                return self._span(found)
        return Span(self.file, 1, 1)

    @property
    def keys(self) -> dict[TablePath, Span]:
        """The span of every key that is not nested too deep to have a meaning."""
        return {path: self._span(found) for path, found in self._found.keys.items()}

    @property
    def values(self) -> dict[TablePath, Span]:
        """The span of every value that is not nested too deep to have a meaning."""
        return {path: self._span(found) for path, found in self._found.values.items()}

    @cached_property
    def _plain(self) -> str:
        return plain(self.text)

    @cached_property
    def _found(self) -> Found:
        return found_in(self._plain)

    @cached_property
    def _starts(self) -> list[int]:
        lines = self._plain.split("\n")
        return [0, *accumulate(len(line) + 1 for line in lines)]

    def _span(self, stretch: TextRange) -> Span:
        """Return the span from the stretch's start to its end or the end of that line."""
        start, end = stretch
        line = bisect_right(self._starts, start)
        width = min(end, self._starts[line] - 1) - start
        return Span(self.file, line, start - self._starts[line - 1] + 1, max(1, width))


def plain(text: str) -> str:
    r"""Return *text* with every line ending as ``\n``, as tomllib reads it."""
    return text.replace("\r\n", "\n")


def range_span(stretch: TextRange, text: str, file: str) -> Span:
    """Return the span of one *stretch* of *text*."""
    start, end = stretch
    line_end = text.find("\n", start)
    width = (end if line_end < 0 else min(end, line_end)) - start
    before = text[:start]
    return Span(file, before.count("\n") + 1, start - before.rfind("\n"), max(1, width))
