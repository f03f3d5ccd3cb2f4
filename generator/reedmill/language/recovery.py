"""Reading on after a mistake: every drill by itself, and in a broken one every line by itself.

A line of the language never goes on in the next, so that a line alone is right exactly where
it is right in its drill.  What is missing of a drill then is marked, and nothing is said of
what follows from that: one slip makes one message.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from lark import Lark
from lark.exceptions import UnexpectedInput

from reedmill.base.errors import PatternError
from reedmill.base.gathering import apart, enough
from reedmill.base.source import Span
from reedmill.language.builder import ABOVE, READING
from reedmill.language.drill import Drill
from reedmill.language.messages import explain
from reedmill.language.mistakes import mistake
from reedmill.language.words import MAX_DRILLS

_HEADING = re.compile(r"\s*drill\b")
_EMPTY = re.compile(r"\s*(#.*)?")
_STAND_IN = 'drill "-"'  # a heading for a line that is read alone


def read(parser: Lark, text: str, name: str, above: int = 0) -> list[Drill]:
    """The drills of *text*, which begins *above* lines down in the file called *name*.

    ``PatternError``, without its line, for the first mistake.
    """
    reading, start = READING.set(name), ABOVE.set(above)
    try:
        found: list[Drill] = parser.parse(text + "\n")  # type: ignore[assignment]
        return found
    except UnexpectedInput as error:
        raise explain(error, text, name).lower(above) from None
    finally:
        READING.reset(reading)
        ABOVE.reset(start)


def recovered(parser: Lark, text: str, name: str) -> list[Drill]:
    """What can be read of *text*; its mistakes are gathered, and drills that lack a line marked.

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
                raise mistake("too-many-drills", Span(name, start + 1, 1), count=len(starts),
                              most=MAX_DRILLS)  # fmt: skip
            break
        found.append(_drill(parser, lines[start:end], name, start))
    return found


def _read_above(parser: Lark, lines: Sequence[str], name: str) -> None:
    """What stands above the first drill: the first mistake there is the one that is told."""
    with apart():
        read(parser, "\n".join(lines), name)


def _drill(parser: Lark, lines: list[str], name: str, above: int) -> Drill:
    """One drill of the *lines* that begin with its heading."""
    try:
        [drill] = read(parser, "\n".join(lines), name, above)
    except PatternError:
        return _broken(parser, lines, name, above)
    return drill


def _broken(parser: Lark, lines: list[str], name: str, above: int) -> Drill:
    """What is right of a drill, once every line of it that is wrong is told and put aside."""
    right = [_right_alone(parser, line, name, above + at) for at, line in enumerate(lines)]
    span = Span(name, above + 1, 1)
    if not right[0]:
        return Drill(span, "", broken=True)
    kept = [line if fine else "" for line, fine in zip(lines, right, strict=True)]
    while not enough():
        try:
            [drill] = read(parser, "\n".join(kept), name, above)
        except PatternError as error:
            with apart():
                raise
            if not kept[error.span.line - above - 1].strip():
                break  # not a line's own: nothing would change
            kept[error.span.line - above - 1] = ""
        else:
            return replace(drill, broken=True)
    return Drill(span, "", broken=True)


def _right_alone(parser: Lark, line: str, name: str, above: int) -> bool:
    """True for a line that can be read; else its mistake is gathered."""
    if _EMPTY.fullmatch(line) or enough():
        return True
    heading = _HEADING.match(line)
    text, start = (line, above) if heading else (f"{_STAND_IN}\n{line}", above - 1)
    with apart():
        read(parser, text, name, start)
        return True
    return False
