"""A text as TOML: plain data and its places, or what is wrong with it.

tomllib says where a text stops being TOML, in words for programmers; here they become words
for teachers.  It also trusts a text: a name of very many parts fills the memory, and brackets
inside brackets the stack, so both are counted before it sees any.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from reedmill.base.errors import PatternError
from reedmill.base.quotes import curly_quote
from reedmill.base.source import Span
from reedmill.base.toml_places import Places, toml_places

_PLACE = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")

# tomllib keeps every beginning of a dotted name, so that a name of many parts fills the
# memory; no name in a curriculum has more than three.
_MOST_DOTS = 16
# Brackets open at once, at which tomllib is still far from the end of Python's stack.
_MOST_OPEN = 64
# Every sign belongs to one token and an unclosed text ends at its line or the file, so that
# no text is looked at twice.
_TOKEN = re.compile(
    r'''
      (?P<long> """ (?: \\. | (?!""") [^\\] )*+ (?:""")? | \'{3} (?: (?!\'{3}) . )*+ (?:\'{3})? )
    | (?P<part> [\w-]++ | " (?: \\. | [^"\\\n] )*+ "? | ' [^'\n]*+ '? )
    | (?P<dot> \. )
    | (?P<blank> [ \t]++ )
    | (?P<other> \#[^\n]*+ | . )
    ''',
    re.DOTALL | re.VERBOSE,
)

_UNCLOSED = ("Unterminated", "Expected \"'")
# How tomllib's messages begin, and what each means to someone who writes a lesson plan.
_MEANINGS = (
    (
        "Expected '=' after a key",
        "there is a word here without an equals sign",
        'Write a name, an equals sign and a value: title = "Clean bends". Longer text needs '
        "quotes around it.",
    ),
    (
        "Invalid value",
        "no value can be read here",
        'Text needs quotes around it: harps = "C". Numbers, true and false have none.',
    ),
    (
        "Unterminated string",
        "a text begins here or before and its closing quote is missing",
        'Close it with the quote it began with; text over several lines goes between """.',
    ),
    (
        "Expected \"'",
        "a text begins here or before and its closing quote is missing",
        'Close it with the quote it began with; text over several lines goes between """.',
    ),
    (
        "Illegal character",
        "a text is not closed before the end of its line, or holds a sign that cannot be read",
        'Close the quote, or put text of several lines between """.',
    ),
    (
        "Found invalid character",
        "a text is not closed before the end of its line, or holds a sign that cannot be read",
        'Close the quote, or put text of several lines between """.',
    ),
    (
        "Unclosed array",
        "a list is not closed, or a comma is missing in it",
        'Write commas between the values and ] at the end: harps = ["F", "C"]',
    ),
    (
        "Unclosed inline table",
        "curly brackets are not closed, or a comma is missing in them",
        'Write them on one line: backing = { form = "Twelve bars", feel = "Medium shuffle" }',
    ),
    (
        "Expected newline or end of document",
        "something follows where the line should end",
        "Write one key a line. Several values need square brackets: "
        'harps = ["F", "C"]. A # begins a comment.',
    ),
    (
        "Cannot declare",
        "this table was already written further up",
        "Put its lines together under one heading. Lessons, exercises, charts and students "
        "have double brackets each time: [[lessons]]",
    ),
    (
        "Cannot overwrite",
        "this key was already written in the same table",
        "Leave one of the two out. A new lesson begins with [[lessons]], a new exercise with "
        "[[lessons.exercises]].",
    ),
    (
        "Duplicate inline table key",
        "this key is written twice in the same curly brackets",
        "Leave one of the two out.",
    ),
    (
        "Cannot mutate",
        "a table in brackets cannot be added to further down",
        "Write all of it in one place.",
    ),
    (
        "Cannot redefine",
        "this table was already written further up",
        "Put its lines together under one heading.",
    ),
    (
        "Expected ']",
        "a heading in square brackets is not closed",
        "Write as many brackets at its end as at its beginning: [defaults] or [[lessons]]",
    ),
    (
        "Invalid initial character for a key part",
        "a name cannot begin like this",
        "Names of keys have letters, digits, _ and - only: count_in = 1",
    ),
    (
        "Invalid statement",
        "a line cannot begin like this",
        "Write a name, an equals sign and a value, or a heading in square brackets.",
    ),
    (
        "Unescaped '\\'",
        "a backslash in a text means the next sign is special, and this one is not known",
        "Write two of them for one backslash, or put the text between single quotes.",
    ),
    (
        "Invalid hex value",
        "a backslash with u needs four hexadecimal digits after it, with U eight",
        "Write the sign itself instead: this file may hold any letter.",
    ),
    (
        "Escaped character is not a Unicode scalar value",
        "a backslash with u names a sign that does not exist",
        "Write the sign itself instead: this file may hold any letter.",
    ),
    (
        "Invalid date or datetime",
        "this date does not exist",
        'Put a date into quotes: "1 May"',
    ),
)


def toml_table(text: str, file: str) -> dict[str, Any]:
    """What the TOML *text* holds; ``PatternError`` when it is no TOML, or asks for too much.

    *file* stands in messages.

    >>> toml_table("blow = [0, 4, 7]", "mine.toml")
    {'blow': [0, 4, 7]}
    """
    with _told(text, file):
        _check_shape(text, file)
        return tomllib.loads(text)


def toml_data(text: str, file: str) -> tuple[dict[str, Any], Places]:
    """What the TOML *text* holds, and where; errors as ``toml_table``."""
    table = toml_table(text, file)
    with _told(text, file):
        return table, toml_places(text, file)


@contextmanager
def _told(text: str, file: str) -> Iterator[None]:
    try:
        yield
    except PatternError as error:
        raise error.with_source(text) from None
    except tomllib.TOMLDecodeError as error:
        raise _explained(str(error), text, file).with_source(text) from None
    except RecursionError:
        raise PatternError(*_TOO_DEEP, Span(file, 1, 1)) from None
    except ValueError:  # a number of more digits than Python reads
        raise PatternError(
            "a number in this file has too many digits",
            "The longest a key takes has four.",
            Span(file, 1, 1),
        ) from None


_TOO_DEEP = (
    "brackets stand inside brackets too many times",
    "Write lists of plain values: no key takes more.",
)


def _check_shape(text: str, file: str) -> None:
    """Refuse a name of too many dots, and too many brackets open at once."""
    dots = depth = 0
    for token in _TOKEN.finditer(text):
        match token.lastgroup:
            case "dot":
                dots += 1
            case "long":
                dots = 0
            case "other":
                dots = 0
                depth = max(0, depth + _OPENED.get(token[0], 0))
        if dots > _MOST_DOTS:
            raise PatternError(
                f"a name here has more than {_MOST_DOTS} dots in it",
                "No key takes that: defaults.tempo is as deep as they go.",
                _span_at(text, token.start(), file),
            )
        if depth > _MOST_OPEN:
            raise PatternError(*_TOO_DEEP, _span_at(text, token.start(), file))


_OPENED = {"[": 1, "{": 1, "]": -1, "}": -1}


def _span_at(text: str, at: int, file: str) -> Span:
    before = text[:at]
    return Span(file, before.count("\n") + 1, len(before) - before.rfind("\n"))


def _explained(message: str, text: str, file: str) -> PatternError:
    place = _PLACE.search(message)
    said = message[: place.start()] if place else message
    if place and place[1]:
        span = Span(file, int(place[1]), int(place[2]))
    else:
        whole = text.rstrip()
        line = whole[whole.rfind("\n") + 1 :]
        span = Span(file, whole.count("\n") + 1, max(1, len(line)))
    line = text.split("\n")[span.line - 1]
    column = curly_quote(line)
    if column and not said.startswith(_UNCLOSED):  # that line is the last, wherever it began
        return PatternError(
            f"this is a curly quote: {line[column - 1]}",
            'Write straight quotes around text: title = "Clean bends". A word processor turns '
            "them: write the file in a plain text editor, or switch smart quotes off.",
            Span(file, span.line, column),
        )
    for begins, fact, remedy in _MEANINGS:
        if said.startswith(begins):
            return PatternError(fact, remedy, span)
    return PatternError(
        "this line is not TOML", "Compare it with the examples in courses/README.md.", span
    )
