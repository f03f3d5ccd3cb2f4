"""Everything that can go wrong, as data; the text is formed here and nowhere else.

A message has four parts: the place, the fact (with the value received), the
reason, and the way out.  ``PatternError`` shows the place as file, line, column
and a caret.  ``exit_code`` is 2 for bad input and 1 for a failed render.
"""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from reedmill.source import Span

_WIDEST_LINE = 100


class ReedmillError(Exception):
    """The root of every exception Reedmill raises on purpose."""

    exit_code = 2


class InputError(ReedmillError):
    """A harp, position, option, drill or file that cannot be used (exit code 2)."""


class RenderError(ReedmillError):
    """A file that could not be made although the input was good (exit code 1)."""

    exit_code = 1


class PatternError(InputError):
    """A mistake in pattern text, shown with the line and a caret under the spot.

    ``fact`` says what is wrong in the reader's words and shows the value;
    ``remedy`` gives the reason and what to write instead.
    """

    def __init__(self, fact: str, remedy: str, span: Span, source_line: str = "") -> None:
        self.fact = fact
        self.remedy = remedy
        self.span = span
        self.source_line = source_line
        super().__init__(fact)

    def with_source(self, text: str) -> PatternError:
        """The same error with its line taken from *text*, the whole file."""
        lines = text.splitlines()
        inside = 0 < self.span.line <= len(lines)
        return PatternError(
            self.fact, self.remedy, self.span, lines[self.span.line - 1] if inside else ""
        )

    def __str__(self) -> str:
        head = f"{self.span.place}: {self.fact}"
        return "\n".join([head, *_pointer(self.span, self.source_line), f"  {self.remedy}"])


def _pointer(span: Span, source_line: str) -> list[str]:
    """The source line and a caret line below it; empty when there is no line to show."""
    line = _one_column_each(source_line)
    if not line.strip():
        return []
    start = span.column - 1
    shown_from = max(0, start - 60) if len(line) > _WIDEST_LINE else 0
    shown = line[shown_from : shown_from + _WIDEST_LINE]
    number = f"{span.line:5d} | "
    carets = "^" * max(1, min(span.width, len(shown) - (start - shown_from)))
    margin = " " * (len(number) - 2) + "| "
    return [number + shown, margin + " " * (start - shown_from) + carets]


def _one_column_each(line: str) -> str:
    """*line* with every character that would shift or hide the caret made one visible column."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "\N{MIDDLE DOT}" for c in line)


def close_match(value: str, known: Iterable[str]) -> str:
    """`` Did you mean "..."?`` for the nearest known name, or an empty string.

    >>> close_match("rnug", ["anchor", "rung"])
    ' Did you mean "rung"?'
    """
    names = {name.lower(): name for name in known}
    near = get_close_matches(value.lower(), names, n=1, cutoff=0.6)
    return f' Did you mean "{names[near[0]]}"?' if near else ""
