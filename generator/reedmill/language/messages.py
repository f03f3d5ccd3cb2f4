"""Explain to a musician why a line of a drill could not be read.

The parser only knows which sign it did not expect.  Here that is turned into what the
line takes and an example, from the table in ``words``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from lark.exceptions import UnexpectedInput

from reedmill.base.errors import PatternError, nearest_name
from reedmill.base.quotes import curly_quote
from reedmill.base.source import Span
from reedmill.language.mistakes import drill_mistake
from reedmill.language.words import LINES, MUSIC_LINES, STYLES


class Reason(NamedTuple):
    """The mistake that keeps a line of a drill from being read."""

    key: str  # of the row in ``mistakes``
    column: int  # of the spot, from 1
    values: dict[str, object]  # for the templates of that row


class PrintedSection(NamedTuple):
    """The name of a section in front of a line of printed tab."""

    line: int  # from 1
    column: int  # from 1
    name: str


def explain_pattern(error: UnexpectedInput, text: str, file: str) -> PatternError:
    """Return a ``PatternError`` that explains what Lark could not read in *text*."""
    lines = text.split("\n")
    number = min(max(error.line, 1), len(lines))
    line = lines[number - 1].rstrip("\r")
    at = min(max(error.column, 1), len(line) + 1)
    named = section_name(lines, number)
    if named:
        span = Span(file, named.line, named.column, len(named.name) + 1)
        return drill_mistake("section-of-printed-tab", span, name=named.name)
    word, start = _word_at(line, at)
    why = _reason(line, word, start, at, _goes_on(lines[:number]))
    width = len(word) if why.column == start else 1
    return drill_mistake(why.key, Span(file, number, why.column, max(1, width)), **why.values)


# A line of printed tab that begins with the name of its section.
_NAMED = re.compile(r"""\s*([^\s"|#:][^"|#:]*):[ \t]+[-+~(\d.][^|]*\|.*$""")


def section_name(lines: Sequence[str], number: int) -> PrintedSection | None:
    """Return the section of printed tab that line *number*, or the line after play, begins."""
    below = number + 1 if re.fullmatch(r"\s*play\s*", lines[number - 1]) else number
    line = lines[min(below, len(lines)) - 1]
    named = _NAMED.match(line)
    if named is None or named[1].split()[0] in LINES:
        return None
    return PrintedSection(below, named.start(1) + 1, named[1])


def _word_at(line: str, column: int) -> tuple[str, int]:
    """Return the word that starts at or covers *column*, and its first column."""
    for match in re.finditer(r"[A-Za-z]+|[-+]?\d+['^]*|\S", line):
        if match.start() < column <= match.end():
            return match[0], match.start() + 1
    return "", column


def _goes_on(lines: list[str]) -> str:
    """Return the word whose music the last of *lines* continues; empty where it has its own."""
    if re.match(r"\s*[A-Za-z]", lines[-1]):
        return ""
    for line in reversed(lines[:-1]):
        first = re.match(r"\s*([A-Za-z]+)", line)
        if first:
            return first[1] if first[1] in MUSIC_LINES else ""
    return ""


def _reason(line: str, word: str, start: int, at: int, above: str) -> Reason:
    """Explain the mistake at column *at*: the first case of the list that fits.

    *above* is the word whose music goes on here, if it does.
    """
    first = re.match(r"\s*([A-Za-z]+)", line)
    keyword = first[1] if first else above
    column = curly_quote(line)
    if column:
        return Reason("curly-quote", column, {"quote": line[column - 1]})
    if line[at - 1 : at] == '"' and _unclosed(line[at - 1 :]):
        return Reason("unclosed-quote", at, {})
    if keyword not in LINES:
        return _unknown_line(line, keyword)
    if first and start == first.start(1) + 1:
        return Reason("line-before-drill", start, {"word": keyword})
    return _misplaced(line, keyword, word, start)


def _misplaced(line: str, keyword: str, word: str, start: int) -> Reason:
    """Explain a mistake inside a line that starts with a known word."""
    if keyword in MUSIC_LINES and (found := _in_music(line, keyword, word, start)):
        return found
    if word == "&" and keyword in ("anchor", "rungs"):
        run = _RUN.search(line[: start - 1])
        key = "several-in-a-run" if run and _HOLE.match(line[start:]) else "and-without-holes"
        return Reason(key, start, {})
    takes: dict[str, object] = {
        "word": keyword,
        "takes": LINES[keyword].takes,
        "example": LINES[keyword].example,
    }
    if not word:
        return Reason("line-too-short", start, takes)
    if word.isprintable():
        return Reason("does-not-fit", start, takes | {"found": word})
    return Reason("invisible-character", start, takes | {"code": ord(word)})


_RUN = re.compile(r"\b(of|to)\s+\S+\s*$")  # of a rungs line: all of -3, down to -3'
_HOLE = re.compile(r"\s*[-+\u2212\u2013\u2014]?\d")
_BRACKETS = {"(": "unclosed-bracket", ")": "unopened-bracket"}
_SIGNS = {":": "missing-length", ",": "comma-between-notes", "&": "and-without-holes"}
# A sign, what it comes after there, and the key of that mistake.
_AFTER = (
    ("|", re.compile(r"~[ \t]*(:[\d/.]+)?[ \t]*$"), "bar-inside-slide"),
    ("!", re.compile(r":[\d/.]+[ \t]*$"), "accent-after-length"),
)
_MARK = re.compile(rf"((?<![A-Za-z])({'|'.join(STYLES)})\d*)[ \t]*$")


def _in_music(line: str, keyword: str, word: str, start: int) -> Reason | None:
    """Explain what is wrong among notes, where it can be told."""
    bracket = _lonely_bracket(line, keyword)
    if bracket and word in ("", ")"):
        return Reason(_BRACKETS[line[bracket - 1]], bracket, {})
    if keyword == "tune" and re.fullmatch(r"[-+]\d+['^]*", word):
        return Reason("reed-among-degrees", start, {"reed": word})
    before = line[: start - 1]
    mark = None if "#" in before else _MARK.search(before)
    if mark is not None:
        return Reason("mark-without-note", mark.start(1) + 1, {"mark": mark[2]})
    for sign, after, key in _AFTER:
        if word == sign and after.search(before):
            return Reason(key, start, {})
    return Reason(_SIGNS[word], start, {}) if word in _SIGNS else None


def _lonely_bracket(line: str, keyword: str) -> int:
    """Return the column of the first unpaired bracket of *line*, 0 when there is none."""
    opened: list[int] = []
    comment = r"#(?!\d)" if keyword == "tune" else "#"  # #4 is a degree there
    music = re.split(comment, line, maxsplit=1)[0]
    for column, sign in enumerate(music, start=1):
        if sign == "(":
            opened.append(column)
        elif sign == ")" and not opened:
            return column
        elif sign == ")":
            opened.pop()
    return opened[-1] if opened else 0


def _unclosed(rest: str) -> bool:
    return re.match(r'"(\\.|[^"\\])*"', rest) is None


def _unknown_line(line: str, keyword: str) -> Reason:
    start = len(line) - len(line.lstrip()) + 1
    word = keyword or line.strip()[:1]
    near = nearest_name(word, LINES)
    if not near:
        return Reason("unknown-line", start, {"word": word})
    return Reason(
        "mistyped-line", start, {"word": word, "near": near, "example": LINES[near].example}
    )
