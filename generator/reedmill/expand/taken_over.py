"""Mistakes in lines taken over from another drill, shown at the ``from`` or ``move`` line.

The lines are right in the drill they were written for.  What is wrong is to take them over
as this drill does, and only there can it be put right.
"""

from __future__ import annotations

import re
from contextlib import AbstractContextManager
from functools import partial

from reedmill.base.errors import PatternError
from reedmill.base.gathering import retold
from reedmill.base.source import Span
from reedmill.language.drill import Drill
from reedmill.language.mistakes import drill_mistake

_HEADING = re.compile(r"\s*drill\b")
# What a move alone leads to: the reeds there are different ones.
_OF_REEDS = frozenset(
    ["no-overbend", "no-note-to-bend-to", "bend-too-deep", "bend-of-the-other-reed", "no-bends",
     "bends-above-themselves"]
)  # fmt: skip


def mistakes_placed_in(drill: Drill) -> AbstractContextManager[None]:
    """Place every mistake in the block as one of *drill*, see ``placed``."""
    return retold(partial(placed, drill=drill))


def placed(error: PatternError, drill: Drill) -> PatternError:
    """Return *error* of *drill* with its line, shown where the drill's author can correct it."""
    error = error.with_source(drill.texts.get(error.span.file, ""))
    of_reeds = error.key in _OF_REEDS
    if drill.parent is None or _own(error.span, drill) or (of_reeds and not drill.moved):
        return error  # a reed that is not there is not there in either drill
    values = {"fact": error.fact, "line": error.span.line, "file": error.span.file}
    if drill.moved and of_reeds:
        why = error.remedy.split("\n")[0]  # the rest would have the other drill changed
        found = drill_mistake(
            "moved-to-no-note", drill.moved.span, **values, remedy=why, reed=_written(error),
            holes=drill.moved.holes,
        )  # fmt: skip
    else:
        found = drill_mistake(
            "does-not-go-with-from", drill.parent.span, **values, remedy=error.remedy
        )
    return found.leading_to(error).with_source(drill.texts.get(found.span.file, ""))


def _own(span: Span, drill: Drill) -> bool:
    """Return True for a place in the lines of *drill* itself, which end at the next drill."""
    if span.file != drill.span.file or span.line < drill.span.line:
        return False
    lines = drill.texts.get(span.file, "").split("\n")
    return not any(map(_HEADING.match, lines[drill.span.line : span.line]))


def _written(error: PatternError) -> str:
    """Return the text at the place of *error*."""
    start = error.span.column - 1
    return error.source_line[start : start + error.span.width]
