"""The moods of a set, and the ways each player has for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from random import Random
from typing import Generic, TypeVar

Way = TypeVar("Way")


class Mood(Enum):
    """The strength of a band in a chorus; the value is the word for it."""

    QUIET = "quiet"
    EVEN = "even"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class Ways(Generic[Way]):
    """The ways in which a player plays a stretch, by mood; those of an even mood are the usual."""

    even: tuple[Way, ...] = ()
    quiet: tuple[Way, ...] = ()
    full: tuple[Way, ...] = ()

    def in_mood(self, mood: Mood) -> tuple[Way, ...]:
        """Return the ways for *mood*; those that are usual where it has none of its own."""
        return self.of(mood) or self.even or self.quiet or self.full

    def of(self, mood: Mood) -> tuple[Way, ...]:
        """Return the ways written for *mood* itself."""
        return {Mood.QUIET: self.quiet, Mood.EVEN: self.even, Mood.FULL: self.full}[mood]

    def __iter__(self) -> Iterator[Way]:
        yield from (*self.even, *self.quiet, *self.full)

    def __bool__(self) -> bool:
        return bool(self.even or self.quiet or self.full)


def chance(seed: int, *what: object) -> Random:
    """Return what decides for the band at one place: equal for an equal *seed* and place."""
    return Random(" ".join(map(str, (seed, *what))))  # noqa: S311  a musician's fancy, no secret
