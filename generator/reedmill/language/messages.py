"""Why a line could not be read, told to a musician.

The parser only knows which sign it did not expect.  Here that is turned into what the
line takes and an example, from the table in ``words``.
"""

from __future__ import annotations

import re

from lark.exceptions import UnexpectedInput

from reedmill.errors import PatternError, close_match
from reedmill.language.words import LINES, MUSIC_LINES
from reedmill.source import Span

_CURLY = "\u201c\u201d\u201e\u00ab\u00bb"


def explain(error: UnexpectedInput, text: str, file: str) -> PatternError:
    """The ``PatternError`` for what Lark could not read in *text*."""
    lines = text.split("\n")
    number = min(max(error.line, 1), len(lines))
    line = lines[number - 1].rstrip("\r")
    at = min(max(error.column, 1), len(line) + 1)
    word, start = _word_at(line, at)
    fact, remedy, at = _reason(line, word, start, at)
    width = len(word) if at == start else 1
    return PatternError(fact, remedy, Span(file, number, at, max(1, width)))


def _word_at(line: str, column: int) -> tuple[str, int]:
    """The word that starts at or holds *column*, and its first column."""
    for match in re.finditer(r"[A-Za-z]+|[-+]?\d+['^]*|\S", line):
        if match.start() < column <= match.end():
            return match[0], match.start() + 1
    return "", column


def _reason(line: str, word: str, start: int, at: int) -> tuple[str, str, int]:
    """Fact, remedy and column for the trouble at *at*, the first fitting case of the list."""
    first = re.match(r"\s*([A-Za-z]+)", line)
    keyword = first[1] if first else ""
    curly = next((c for c in line if c in _CURLY), "")
    if curly:
        return (
            f"this is a curly quote: {curly}",
            'Write straight quotes, such as drill "Home from every rung".',
            line.index(curly) + 1,
        )
    if line[at - 1 : at] == '"' and _unclosed(line[at - 1 :]):
        return "this quote is never closed", 'Put a " at the end of the text, on this line.', at
    if keyword not in LINES:
        return _unknown_line(line, keyword)
    if first and start == first.start(1) + 1:
        return (
            f"this {keyword} line stands before any drill",
            'Start with a line such as: drill "Home from every rung"',
            start,
        )
    return _misplaced(line, keyword, word, start)


def _misplaced(line: str, keyword: str, word: str, start: int) -> tuple[str, str, int]:
    """What is wrong inside a line that starts with a known word."""
    usage = LINES[keyword]
    bracket = _lonely_bracket(line)
    if keyword in MUSIC_LINES and bracket and (not word or word == ")"):
        return *_BRACKETS[line[bracket - 1]], bracket
    if keyword in MUSIC_LINES and word in _SIGNS:
        return *_SIGNS[word], start
    if not word:
        fact = f"this {keyword} line stops too early"
    elif word.isprintable():
        fact = f'"{word:.40}" does not fit here'
    else:
        fact = f"the invisible character U+{ord(word):04X} does not belong here"
    return fact, f"After {keyword} comes {usage.takes}: {usage.example}", start


_BRACKETS = {
    "(": ("this bracket is never closed", "Put a ) after the notes that belong together."),
    ")": ("this bracket was never opened", "Put a ( before the notes that belong together."),
}
_SIGNS = {
    ":": ("there is no length after this :", "Write beats: -3:2 for two, -3:1/2 for half of one."),
    ",": ("notes need no commas", "Put spaces between them: play -2 -3' -2:2"),
}


def _lonely_bracket(line: str) -> int:
    """The column of the first bracket of *line* without a partner, 0 when there is none."""
    opened: list[int] = []
    for column, sign in enumerate(line.partition("#")[0], start=1):
        if sign == "(":
            opened.append(column)
        elif sign == ")" and not opened:
            return column
        elif sign == ")":
            opened.pop()
    return opened[-1] if opened else 0


def _unclosed(rest: str) -> bool:
    return re.match(r'"(\\.|[^"\\])*"', rest) is None


def _unknown_line(line: str, keyword: str) -> tuple[str, str, int]:
    start = len(line) - len(line.lstrip()) + 1
    shown = keyword or line.strip()[:1]
    return (
        f'no line of a drill starts with "{shown:.40}".{close_match(shown, LINES)}',
        f"Lines start with {', '.join(LINES)}, or # for a comment.",
        start,
    )
