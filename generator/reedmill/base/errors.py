"""Every error as data; the text of messages is formed here and nowhere else.

A message has four parts: the place, the fact (with the value received), the
reason, and the way out.  ``PatternError`` shows the place as file, line, column
and a caret.  ``exit_code`` is 2 for bad input and 1 for a failed render.

A way out that is written differently on the command line, in a course file and in Python is a
``Remedy``; ``worded`` gives the same error with it in the words of one of them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Self

from reedmill.base.remedies import Remedy, Words, said
from reedmill.base.source import Span
from reedmill.base.text import columns, printable

_WIDEST_LINE = 100


class ReedmillError(Exception):
    """The root of every exception Reedmill raises on purpose.

    Each argument is one line of its text: a line feed inside it came from a file name, an
    option or a file, and begins no line.  ``way_out`` is what helps and ``values`` are what its
    words are filled with; the text alone does not say it.
    """

    exit_code = 2

    def __init__(self, *lines: str, way_out: Remedy | None = None, **values: str) -> None:
        super().__init__(*lines)
        self.way_out = way_out
        self.values = values

    def worded(self, words: Words) -> Self:
        """Return the same error with its remedy in *words*."""
        if self.way_out is None:
            return self
        *before, fact = self.args
        first, *more = said(words, self.way_out, fact, self.values)
        return type(self)(*before, first, *(f"  {line}" for line in more))

    @property
    def lines(self) -> tuple[str, ...]:
        """The message line by line, free of anything a terminal would obey."""
        return tuple(printable(line) for line in self.args)

    def __str__(self) -> str:
        return "\n".join(self.lines)


class InputError(ReedmillError):
    """A harp, position, option, drill or file that cannot be used (exit code 2)."""


class RenderError(ReedmillError):
    """A file that could not be made although the input was good (exit code 1)."""

    exit_code = 1


class PatternError(InputError):
    """A mistake in pattern text, shown with the line and a caret under the spot.

    ``fact`` says what is wrong in the reader's words and shows the value;
    ``remedy`` gives the reason and what to write instead, and its line breaks are ours: a
    stranger's text in it was made printable by whoever put it there; ``key`` names the row of the
    table of mistakes it was made from, if it was.  ``led_to`` is what this mistake led to, in
    lines that were taken over from elsewhere and are right there.
    """

    def __init__(
        self,
        fact: str,
        remedy: str,
        span: Span,
        source_line: str = "",
        key: str = "",
        led_to: PatternError | None = None,
        *,
        way_out: Remedy | None = None,
        values: Mapping[str, str] | None = None,
    ) -> None:
        self.fact = fact
        self.remedy = remedy
        self.span = span
        self.source_line = source_line
        self.key = key
        self.led_to = led_to
        super().__init__(fact, way_out=way_out, **(values or {}))

    def worded(self, words: Words) -> PatternError:
        """Return the same error, and the error it led to, with their remedies in *words*."""
        remedy = self.remedy
        if self.way_out:
            remedy = "\n  ".join(said(words, self.way_out, remedy, self.values))
        led_to = self.led_to.worded(words) if self.led_to else None
        return PatternError(self.fact, remedy, self.span, self.source_line, self.key, led_to)

    def with_source(self, text: str) -> PatternError:
        """Return the same error with its line taken from *text*, the whole file."""
        lines = text.split("\n")  # as the parser counts them: a form feed ends no line
        inside = 0 < self.span.line <= len(lines)
        line = lines[self.span.line - 1] if inside else ""
        return self._at(self.span, line, self.led_to)

    def lower(self, lines: int) -> PatternError:
        """Return the same error *lines* further down, for text read from there on."""
        return self._at(replace(self.span, line=self.span.line + lines), "", self.led_to)

    def leading_to(self, other: PatternError) -> PatternError:
        """Return the same error as the cause of the error *other*."""
        return self._at(self.span, self.source_line, other)

    def _at(self, span: Span, line: str, led_to: PatternError | None) -> PatternError:
        return PatternError(
            self.fact, self.remedy, span, line, self.key, led_to,
            way_out=self.way_out, values=self.values,
        )  # fmt: skip

    @property
    def lines(self) -> tuple[str, ...]:
        """The place and fact, the line with its caret, and the remedy."""
        head = printable(f"{self.span.place}: {self.fact}")
        remedy = map(printable, f"  {self.remedy}".split("\n")) if self.remedy else ()
        return (head, *_pointer(self.span, self.source_line), *remedy)


def pointing(error: InputError, span: Span) -> PatternError:
    """Return *error*, about something written at *span*, with that place shown."""
    fact, _, remedy = str(error).partition(". ")
    fact = fact.removesuffix(".") if error.way_out else fact
    return PatternError(fact, remedy, span, way_out=error.way_out, values=error.values)


def _pointer(span: Span, source_line: str) -> list[str]:
    """Return the source line and a caret line below it; empty when there is no line to show."""
    line = _all_shown(source_line)
    if not line.strip():
        return []
    start = span.column - 1
    shown_from = max(0, start - 60) if len(line) > _WIDEST_LINE else 0
    shown = line[shown_from : shown_from + _WIDEST_LINE]
    number = f"{span.line:5d} | "
    before, after = shown[: start - shown_from], shown[start - shown_from :]
    carets = "^" * max(1, columns(after[: span.width]))
    margin = " " * (len(number) - 2) + "| "
    return [number + shown, margin + " " * columns(before) + carets]


def _all_shown(line: str) -> str:
    """Return *line* with each character that would shift or hide the caret made visible."""
    return "".join(_shown(c) for c in line)


def _shown(c: str) -> str:
    if c.isspace():
        return " "
    combining = unicodedata.category(c) in {"Mn", "Me"}
    return c if c.isprintable() and not combining else "\N{MIDDLE DOT}"


# What is said of an error that says nothing itself.
_WORDLESS: tuple[tuple[type[BaseException], str], ...] = (
    (MemoryError, "this machine does not have enough memory for it"),
    (RecursionError, "it is nested too deeply"),
    (EOFError, "it ends too early"),
    (TimeoutError, "it took too long"),
    (OSError, "the system gave no reason"),
)


def reason_of(error: BaseException) -> str:
    """Return the reason for *error* on one line without a full stop; never empty.

    The reason of the system if it gave one, else what the error says, else words for its
    kind.

    >>> reason_of(OSError(28, "No space left on device")), reason_of(OSError("the disk is gone."))
    ('No space left on device', 'the disk is gone')
    >>> reason_of(OSError()), reason_of(MemoryError())
    ('the system gave no reason', 'this machine does not have enough memory for it')
    """
    said = printable(str(getattr(error, "strerror", None) or error)).strip().rstrip(".:")
    if said not in ("", "None", "[Errno None] None"):
        return said
    words = (words for kind, words in _WORDLESS if isinstance(error, kind))
    return next(words, f"of an error called {type(error).__name__}")


def close_match(value: str, known: Iterable[str]) -> str:
    """Suggest the nearest known name (`` Did you mean "..."?``), or an empty string.

    >>> close_match("rnug", ["anchor", "rung"])
    ' Did you mean "rung"?'
    """
    near = nearest_name(value, known)
    return f' Did you mean "{near}"?' if near else ""


def nearest_name(value: str, known: Iterable[str]) -> str:
    """Return the known name most like *value*, in any case; an empty string when none is.

    >>> nearest_name("Rnug", ["anchor", "rung"])
    'rung'
    """
    from difflib import get_close_matches  # a mistake alone asks

    names = {name.lower(): name for name in known}
    near = get_close_matches(value.lower(), names, n=1, cutoff=0.6)
    return names[near[0]] if near else ""
