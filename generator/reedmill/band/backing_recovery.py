"""Recovery from mistakes in a form or feel: each wrong line is set aside, the rest is read."""

from __future__ import annotations

import re
from collections.abc import Callable

from reedmill.band.backing_builder import check_backing_titles
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.base.errors import PatternError
from reedmill.base.gathering import apart, enough

Read = Callable[[str, str, int], list[Form | BandFeel]]
"""Reads a text of a named file that begins so many lines down in it."""

_HEADING = re.compile(r"\s*(form|feel)\b")
# What may be wrong only because a line of the form or feel was put aside.
_OF_THE_WHOLE = frozenset(
    ["no-bars", "nobody-plays", "ends-away", "tail-too-long", "nothing-to-repeat",
     "swing-in-threes", "no-such-bars"]
)  # fmt: skip
_MOST_TRIES = 50  # of one form or feel


def recovered_backings(read: Read, text: str, name: str) -> list[Form | BandFeel]:
    """Return the parts of *text* that can be read; gather its mistakes."""
    lines = text.split("\n")
    starts = [at for at, line in enumerate(lines) if _HEADING.match(line)]
    with apart():
        read("\n".join(lines[: min(starts, default=len(lines))]), name, 0)
    found: list[Form | BandFeel] = []
    for start, end in zip(starts, [*starts, len(lines)][1:], strict=True):
        if not enough():
            found += _block(read, lines[start:end], name, start)
    with apart():
        check_backing_titles(found)
    return found


def _block(read: Read, lines: list[str], name: str, above: int) -> list[Form | BandFeel]:
    """Return the form or feel of *lines* where it is right; else gather its mistakes."""
    broken = False
    for _ in range(_MOST_TRIES):
        try:
            found = read("\n".join(lines), name, above)
        except PatternError as error:
            if not (broken and error.key in _OF_THE_WHOLE):
                with apart():
                    raise
            at = error.span.line - above - 1
            if at <= 0 or not lines[at].strip():
                return []
            lines[at], broken = "", True
        else:
            return [] if broken else found
    return []
