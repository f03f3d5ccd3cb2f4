"""The plan of a set: what the band does in each chorus, from its first to its last."""

from __future__ import annotations

import re
from enum import Enum
from typing import TYPE_CHECKING

from reedmill.band.moods import Mood
from reedmill.base.choosing import known_word
from reedmill.base.errors import InputError, close_match

if TYPE_CHECKING:
    from collections.abc import Sequence


class ChorusKind(Enum):
    """The kind of a chorus; the value is the word of a plan."""

    QUIET = "quiet"
    EVEN = "even"
    FULL = "full"
    STOPS = "stops"
    BREAKS = "breaks"
    TRADE = "trade"

    @property
    def mood(self) -> Mood:
        """The strength with which the band plays it."""
        return _MOODS.get(self, Mood.EVEN)


_MOODS = {ChorusKind.QUIET: Mood.QUIET, ChorusKind.FULL: Mood.FULL, ChorusKind.BREAKS: Mood.FULL}

PLAN_WORDS = {
    ChorusKind.QUIET: "the band stays under you",
    ChorusKind.EVEN: "the band plays as usual",
    ChorusKind.FULL: "the band gives all it has",
    ChorusKind.STOPS: "it strikes one beat and leaves the bar to you, for a third of the chorus",
    ChorusKind.BREAKS: "it is silent for the last two bars before the next chorus",
    ChorusKind.TRADE: "you play four bars, the drums play four",
}
"""What each word of a plan asks for, in a player's words."""

_ENTRY = re.compile(r"([a-z]+)(?:\s*x\s*([0-9]{1,3}))?", re.ASCII)
_NUMBER_FIRST = re.compile(r"([0-9]{1,3})\s*x?\s+([a-z]+)", re.ASCII)

# After the first chorus and before the last: two that build, one that is full, one to rest on.
# Common practice, no published source.
_MIDDLE = (ChorusKind.EVEN, ChorusKind.EVEN, ChorusKind.FULL, ChorusKind.QUIET)


def usual_plan(choruses: int) -> tuple[ChorusKind, ...]:
    """Return the plan of a set that builds, relaxes and ends full.

    >>> [kind.value for kind in usual_plan(4)]
    ['quiet', 'even', 'even', 'full']
    """
    if choruses == 1:
        return (ChorusKind.EVEN,)
    first = ChorusKind.QUIET if choruses > 2 else ChorusKind.EVEN
    middle = [_MIDDLE[at % len(_MIDDLE)] for at in range(choruses - 2)]
    if middle and middle[-1] is ChorusKind.QUIET:
        middle[-1] = ChorusKind.EVEN  # into the last one it builds
    return (first, *middle, ChorusKind.FULL)


def plan_named(text: str) -> tuple[ChorusKind, ...]:
    """Return the plan that *text* writes, such as ``quiet x2, stops, full x2``.

    Raises ``InputError`` for another word, or a number of times that cannot be.
    """
    found: list[ChorusKind] = []
    for entry in filter(None, (each.strip() for each in text.split(","))):
        found += _entry(entry)
    if not found:
        raise InputError(f"the plan names no chorus. {_EXAMPLE}")
    return tuple(found)


_EXAMPLE = "Write a word for each chorus, such as: quiet x2, stops, full x2"


def _entry(entry: str) -> list[ChorusKind]:
    match = _ENTRY.fullmatch(entry.lower())
    words = [kind.value for kind in ChorusKind]
    word = known_word(match[1], words) if match else None
    if match is None or word is None:
        hint = _turned_round(entry, words) or close_match(entry.split()[0], words)
        raise InputError(
            f'the plan has "{entry:.40}".{hint} A chorus of a plan is one of: {", ".join(words)}. '
            f"{_EXAMPLE}"
        )
    times = int(match[2] or 1)
    if not 1 <= times <= 50:
        raise InputError(f'the plan has "{entry:.40}"; write x2 to x50, or the word alone for one.')
    return [ChorusKind(word)] * times


def _turned_round(entry: str, words: Sequence[str]) -> str:
    """Ask about ``2x quiet`` or ``2 quiet``, which puts the number first."""
    match = _NUMBER_FIRST.fullmatch(entry.lower())
    word = known_word(match[2], words) if match else None
    return f' Did you mean "{word} x{match[1]}"?' if match and word else ""


def plan_text(plan: tuple[ChorusKind, ...]) -> str:
    """Return *plan* as it is written, equal neighbours together.

    >>> plan_text(plan_named("quiet,quiet, stops x1,full x2"))
    'quiet x2, stops, full x2'
    """
    groups: list[list[ChorusKind]] = []
    for kind in plan:
        if groups and groups[-1][0] is kind:
            groups[-1].append(kind)
        else:
            groups.append([kind])
    return ", ".join(each[0].value + (f" x{len(each)}" if len(each) > 1 else "") for each in groups)
