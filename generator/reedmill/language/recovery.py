"""Recovery from mistakes: every drill alone, and in a broken one every line alone.

A line is read with the lines of music that go on with it, and no other line goes on in the next:
it is right alone exactly where it is right in its drill.  What is missing of a drill then is
marked, and nothing is said of what follows from that: one slip makes one message.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from lark import Lark
from lark.exceptions import UnexpectedInput

from reedmill.base.errors import PatternError
from reedmill.base.gathering import apart, enough
from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT
from reedmill.language.builder import ABOVE, READING
from reedmill.language.drill import Drill
from reedmill.language.messages import explain_pattern, section_name
from reedmill.language.mistakes import drill_mistake
from reedmill.language.words import MAX_DRILLS

_HEADING = re.compile(r"\s*drill\b")
_TITLE = re.compile(r'\s*drill\s*("(?:\\.|[^"\\])*")')
_EMPTY = re.compile(r"\s*(#.*)?")
_STAND_IN = 'drill "-"'  # a heading for a line that is read alone
_MUSIC = "|"  # what stands for a line of music that is told
_MOST_TOLD = 20  # of the lines of one piece of music


def read_drills(parser: Lark, text: str, name: str, above: int = 0) -> list[Drill]:
    """Parse the drills of *text*, which begins *above* lines down in the file *name*.

    ``PatternError``, without its line, for the first mistake.
    """
    reading, start = READING.set(name), ABOVE.set(above)
    try:
        found: list[Drill] = parser.parse(text + "\n")  # type: ignore[assignment]
        return found
    except UnexpectedInput as error:
        raise explain_pattern(error, text, name).lower(above) from None
    finally:
        READING.reset(reading)
        ABOVE.reset(start)


def recovered_drills(parser: Lark, text: str, name: str) -> list[Drill]:
    """Parse what is right of *text*; gather its mistakes and mark incomplete drills.

    A drill whose heading cannot be read has no title, and stands for one that others may name.
    """
    lines = text.split("\n")
    starts = [at for at, line in enumerate(lines) if _HEADING.match(line)]
    _read_above(parser, lines[: min(starts, default=len(lines))], name)
    found: list[Drill] = []
    for start, end in zip(starts, [*starts, len(lines)][1:], strict=True):
        if enough():
            break
        if len(found) == MAX_DRILLS:
            with apart():
                raise drill_mistake("too-many-drills", _title(lines[start], name, start + 1),
                              count=len(starts), most=MAX_DRILLS)  # fmt: skip
            break
        found.append(_drill(parser, lines[start:end], name, start))
    return found


def _title(line: str, name: str, number: int) -> Span:
    """Return the title in a heading, or its first sign where there is none."""
    title = _TITLE.match(line)
    if title is None:
        return Span(name, number, 1)
    return Span(name, number, title.start(1) + 1, len(title[1]))


def _read_above(parser: Lark, lines: Sequence[str], name: str) -> None:
    """Report the first mistake in the lines above the first drill."""
    with apart():
        read_drills(parser, "\n".join(lines), name)


def _drill(parser: Lark, lines: list[str], name: str, above: int) -> Drill:
    """Parse one drill from the *lines* that begin with its heading."""
    try:
        [drill] = read_drills(parser, "\n".join(lines), name, above)
    except PatternError:
        return _broken(parser, lines, name, above)
    return drill


def _broken(parser: Lark, lines: list[str], name: str, above: int) -> Drill:
    """Parse what is right of a drill, with every wrong line reported and set aside."""
    span = Span(name, above + 1, 1)
    kept = list(lines)
    parts = _together(parser, lines)
    for part in parts:
        if not _right_alone(parser, [lines[at] for at in part], name, above + part.start):
            _put_aside(kept, part)
    if not kept[0]:
        return Drill(span, NO_TEXT, broken=True)
    while not enough():
        try:
            [drill] = read_drills(parser, "\n".join(kept), name, above)
        except PatternError as error:
            with apart():
                raise
            at = error.span.line - above - 1
            if not kept[at].strip():
                break  # not a line's own: nothing would change
            _put_aside(kept, next(part for part in parts if at in part))
        else:
            return replace(drill, broken=True)
    return Drill(span, NO_TEXT, broken=True)


def _put_aside(lines: list[str], part: range) -> None:
    for at in part:
        lines[at] = ""


def _together(parser: Lark, lines: Sequence[str]) -> list[range]:
    """Return the lines of a drill, each joined with those below that continue its music."""
    more = re.compile(parser.get_terminal("MORE").pattern.to_regexp())
    starts = [0]
    last = 0  # the last line that is not blank
    for at, line in enumerate(lines[1:], start=1):
        if not line.strip():
            continue
        if last == 0 or not (more.match("\n" * (at - last) + line) or _named(lines, at)):
            starts.append(at)
        last = at
    return [range(*each) for each in pairwise([*starts, len(lines)])]


def _named(lines: Sequence[str], at: int) -> bool:
    """Return True for a line of printed tab below the word ``play`` that begins with a name."""
    named = section_name(lines, at)  # counted from 1: the line above
    return named is not None and named.line == at + 1


def _right_alone(parser: Lark, lines: list[str], name: str, above: int) -> bool:
    """Return True for a line that, with the music continued below it, can be read.

    Else its mistakes are gathered, one for each line.
    """
    if _EMPTY.fullmatch(lines[0]) or enough():
        return True
    heading = _HEADING.match(lines[0])
    head, start = ([], above) if heading else ([_STAND_IN], above - 1)
    left = list(lines)
    for _ in range(_MOST_TOLD):
        try:
            read_drills(parser, "\n".join([*head, *left]), name, start)
        except PatternError as error:
            with apart():
                raise
            at = error.span.line - above - 1
            if not 0 < at < len(left) or left[at] == _MUSIC or re.search("[()]", lines[at]):
                break  # what else there is may follow from that
            left[at] = _MUSIC
        else:
            return left == lines
    return False
