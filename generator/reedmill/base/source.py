"""Places in pattern text: the span that every note can point back to."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one line of a pattern file.

    ``line`` and ``column`` count from 1; ``width`` is in characters, at least 1.

    >>> Span("warmups.drill", 7, 18, 3).place
    'warmups.drill:7:18'
    """

    file: str
    line: int
    column: int
    width: int = 1

    @property
    def place(self) -> str:
        """The start as ``file:line:column``, as editors and compilers write it."""
        return f"{self.file}:{self.line}:{self.column}"

    def until(self, other: Span) -> Span:
        """Return the span from the start of this one to the end of *other*, on this line."""
        if other.line != self.line:
            return self
        return Span(self.file, self.line, self.column, other.column + other.width - self.column)
