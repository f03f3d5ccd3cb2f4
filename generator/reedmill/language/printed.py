"""Printed tab pasted into a play line: its signs, and bar lines meant only for the eye.

Plain tab says which reeds in which order and not how long.  So each note lasts the usual
length, ``.`` is a rest as long, ``_`` holds the note before for as long again (and slides on
where a ``~`` follows it at once), and ``,``, ``,out`` or ``,in`` is where to breathe, which a
play line does not need to be told.  A bar line cannot be counted where no length is written; as
soon as one is, bars are counted as in any play line.

Music is taken for printed tab where it has one of these signs or stands on lines of its own
below the word ``play``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from reedmill.base.source import Span
from reedmill.language.drill import BarCheck, Event, Group, Item
from reedmill.language.mistakes import drill_mistake
from reedmill.score.style import PLAIN

HELD, BREATHE, BELOW = "held", "breathe", "below"


@dataclass(frozen=True, slots=True)
class PrintedSign:
    """A sign of printed tab, or music on the lines below its word; gone once resolved."""

    span: Span
    kind: str  # HELD, BREATHE or BELOW


Pasted = Item | PrintedSign


def as_music(items: Sequence[Pasted]) -> tuple[Item, ...]:
    """Return *items* with the signs of printed tab resolved; other music is unchanged.

    Raises ``PatternError`` for a ``_`` with no note before it.
    """
    plain = tuple(item for item in items if not isinstance(item, PrintedSign))
    if len(plain) == len(items):
        return plain
    played = tuple(_held(items))
    if any(_lengths(played)):
        return played
    return tuple(item for item in played if not isinstance(item, BarCheck))


def _held(items: Iterable[Pasted]) -> Iterator[Item]:
    before: Event | None = None
    for item in items:
        if isinstance(item, PrintedSign):
            if item.kind == HELD:
                if before is None or before.rest:
                    raise drill_mistake("nothing-to-hold", item.span)
                yield replace(
                    before, span=item.span, length=None, joined=True, accent=False, style=PLAIN,
                    slide_beats=None,
                )  # fmt: skip
            continue
        if not isinstance(item, BarCheck):
            before = item if isinstance(item, Event) else None
        yield item


def _lengths(items: Iterable[Item]) -> Iterator[bool]:
    """Yield for each note and group whether its length is written."""
    for item in items:
        if isinstance(item, Event):
            yield item.length is not None
        elif isinstance(item, Group):
            yield item.triplet
            yield from _lengths((*item.items, *(each for part in item.endings for each in part)))
