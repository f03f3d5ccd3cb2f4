"""TOML text to plain data with the places of its values, or an error that explains.

What a text means, tomllib says; where it stops being TOML, the grammar does, and here that
becomes words for teachers.  tomllib's own words differ from one Python to the next and are not
looked at.  It also trusts a text: a name of very many parts fills the memory, and brackets
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
from reedmill.base.toml_grammar import NotTomlError, TomlMistake
from reedmill.base.toml_places import Places, plain, range_span
from reedmill.base.toml_tables import found_in

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

_CLOSE = 'Close it with the quote it began with; text over several lines goes between """.'
_UNDER_ONE = "Put its lines together under one heading."
# What each mistake means to someone who writes a lesson plan: the fact, and what to write.
_MEANINGS: dict[TomlMistake, tuple[str, str]] = {
    TomlMistake.NO_EQUALS: (
        "there is a word here without an equals sign",
        'Write a name, an equals sign and a value: title = "Clean bends". Longer text needs '
        "quotes around it.",
    ),
    TomlMistake.NO_VALUE: (
        "no value can be read here",
        'Text needs quotes around it: harps = "C". Numbers, true and false have none.',
    ),
    TomlMistake.OPEN_TEXT: ("a text begins here and its closing quote is missing", _CLOSE),
    TomlMistake.HIDDEN_SIGN: (
        "a sign stands here that cannot be seen",
        "Delete it, or write the line again: it came with the text from another program.",
    ),
    TomlMistake.OPEN_LIST: (
        "a list is not closed, or a comma is missing in it",
        'Write commas between the values and ] at the end: harps = ["F", "C"]',
    ),
    TomlMistake.OPEN_TABLE: (
        "curly brackets are not closed, or a comma is missing in them",
        'Write them on one line: backing = { form = "Twelve bars", feel = "Medium shuffle" }',
    ),
    TomlMistake.MORE_ON_LINE: (
        "something follows where the line should end",
        "Write one key a line. Several values need square brackets: "
        'harps = ["F", "C"]. A # begins a comment.',
    ),
    TomlMistake.TABLE_AGAIN: (
        "this table was already written further up",
        f"{_UNDER_ONE} Lessons, exercises, charts and students have double brackets each time: "
        "[[lessons]]",
    ),
    TomlMistake.KEY_AGAIN: (
        "this key was already written in the same table",
        "Leave one of the two out. A new lesson begins with [[lessons]], a new exercise with "
        "[[lessons.exercises]].",
    ),
    TomlMistake.KEY_AGAIN_INSIDE: (
        "this key is written twice in the same curly brackets",
        "Leave one of the two out.",
    ),
    TomlMistake.CLOSED: (
        "a table in brackets cannot be added to further down",
        "Write all of it in one place.",
    ),
    TomlMistake.OPEN_HEADING: (
        "a heading in square brackets is not closed",
        "Write as many brackets at its end as at its beginning: [defaults] or [[lessons]]",
    ),
    TomlMistake.NO_NAME: (
        "a name cannot begin like this",
        "Names of keys have letters, digits, _ and - only: count_in = 1",
    ),
    TomlMistake.NO_STATEMENT: (
        "a line cannot begin like this",
        "Write a name, an equals sign and a value, or a heading in square brackets.",
    ),
    TomlMistake.NO_ESCAPE: (
        "a backslash in a text means the next sign is special, and this one is not known",
        "Write two of them for one backslash, or put the text between single quotes.",
    ),
    TomlMistake.SHORT_ESCAPE: (
        "a backslash with u needs four hexadecimal digits after it, with U eight",
        "Write the sign itself instead: this file may hold any letter.",
    ),
    TomlMistake.NO_SIGN: (
        "a backslash with u names a sign that does not exist",
        "Write the sign itself instead: this file may hold any letter.",
    ),
    TomlMistake.NO_DAY: ("this date does not exist", 'Put a date into quotes: "1 May"'),
    TomlMistake.MANY_DIGITS: (
        "this number has too many digits",
        "The longest a key takes has four.",
    ),
}
# Of these, a word processor's quotes may be the cause.
_OF_QUOTES = {
    TomlMistake.NO_EQUALS, TomlMistake.NO_VALUE, TomlMistake.OPEN_TEXT, TomlMistake.OPEN_LIST,
    TomlMistake.OPEN_TABLE, TomlMistake.MORE_ON_LINE, TomlMistake.OPEN_HEADING, TomlMistake.NO_NAME,
    TomlMistake.NO_STATEMENT,
}  # fmt: skip


def toml_table(text: str, file: str) -> dict[str, Any]:
    """Return the data in the TOML *text*; ``PatternError`` if malformed, or too large.

    *file* stands in messages.

    >>> toml_table("blow = [0, 4, 7]", "mine.toml")
    {'blow': [0, 4, 7]}
    """
    with _told(text, file):
        _check_shape(text, file)
        return tomllib.loads(text)


def toml_data(text: str, file: str) -> tuple[dict[str, Any], Places]:
    """Return the data in the TOML *text*, and its places; errors as ``toml_table``."""
    return toml_table(text, file), Places(text, file)


@contextmanager
def _told(text: str, file: str) -> Iterator[None]:
    try:
        yield
    except PatternError as error:
        raise error.with_source(text) from None
    except RecursionError:
        raise PatternError(*_TOO_DEEP, Span(file, 1, 1)) from None
    except ValueError:  # no TOML, or a number of more digits than Python reads
        raise _explained(plain(text), file).with_source(text) from None


_TOO_DEEP = (
    "brackets stand inside brackets too many times",
    "Write lists of plain values: no key takes more.",
)


def _check_shape(text: str, file: str) -> None:
    """Refuse a name with too many dots, and too many brackets open at once."""
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
    return range_span((at, at + 1), text, file)


def _explained(text: str, file: str) -> PatternError:
    """Explain the first mistake in *text*, which tomllib refuses."""
    try:
        found_in(text)
    except NotTomlError as found:
        span = range_span((found.start, found.end), text, file)
        return _curly(found.mistake, text, span) or PatternError(*_MEANINGS[found.mistake], span)
    return PatternError(
        "this file is not TOML", "Compare it with the examples in courses/README.md.",
        Span(file, 1, 1),
    )  # fmt: skip


def _curly(mistake: TomlMistake, text: str, span: Span) -> PatternError | None:
    """Return the error for a curly quote that causes *mistake*, if there is one."""
    line = text.split("\n")[span.line - 1]
    column = curly_quote(line) if mistake in _OF_QUOTES else 0
    if not column or line.startswith(_LONG, span.column - 1):  # there it may well belong
        return None
    return PatternError(
        f"this is a curly quote: {line[column - 1]}",
        'Write straight quotes around text: title = "Clean bends". A word processor turns '
        "them: write the file in a plain text editor, or switch smart quotes off.",
        Span(span.file, span.line, column),
    )


_LONG = ('"""', "'''")


def toml_quoted(text: str) -> str:
    r"""Return *text*, which is printable, as a TOML basic string (TOML 1.0, "String").

    >>> print(toml_quoted('say "so"'))
    "say \"so\""
    """
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
