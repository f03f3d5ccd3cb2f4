"""The level a player is likely to have, from how many notes of each task were in place.

A logistic ladder, as item response theory has it (Rasch, "Probabilistic Models for Some
Intelligence and Attainment Tests", 1960): a player of ability a plays a note of a task of level t
in place with the chance 0.92 / (1 + exp(-(a - t) / 0.3 - 1.16)).  So ability 3.0 is where seven
notes of ten of level 3 are in place, and level 3 is an ability from 3 up to 4; the more difficult a
task is, the less is expected of it, and of the easiest one note in twelve still goes wrong.  One
take in ten is taken to be a bad one, whose share of notes in place tells nothing.  Notes of one
take are alike, so two of them count as one.  Before anything is heard each level is equally likely.
The four figures are common practice, no published source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

LEVELS = range(1, 6)
"""The levels of the library."""

PASSED_SHARE = 0.7
"""The share of a task's notes in place from which it is passed."""

ENOUGH_CLEAR = 4
"""Fewer notes that could be told say nothing of a task."""

_SLOPE = 0.3  # of a level, for each step of the logistic curve
_AT_BEST = 0.92  # of the easiest notes are in place
_BAD_TAKE = 0.1
_ALIKE = 0.5  # of a note that one of a take counts
_STEPS = 20  # abilities to a level
_LIKELY = 0.2  # a level that is at least so likely is not left out
_Z95 = 1.96  # of the standard normal distribution: 95 of 100 lie within


class TaskCount(NamedTuple):
    """A task's level, how many of its notes were told, and how many of these were in place."""

    level: int
    tries: int
    in_place: int


@dataclass(frozen=True, slots=True)
class LevelFound:
    """The level that is most likely, and how likely each is."""

    level: int
    likely: tuple[float, ...]  # of level 1 to 5: together 1
    between: tuple[int, int]  # the lowest and highest level that is likely enough; the same if sure

    @property
    def is_sure(self) -> bool:
        """True when one level alone is likely."""
        return self.between[0] == self.between[1]


def chance_in_place(ability: float, level: int) -> float:
    """Return the chance that a note of a task of *level* is in place.

    >>> round(chance_in_place(3.0, 3), 3), round(chance_in_place(2.5, 4), 3)
    (0.7, 0.019)
    """
    logit = math.log(PASSED_SHARE / (_AT_BEST - PASSED_SHARE)) + (ability - level) / _SLOPE
    return _AT_BEST / (1 + math.exp(-logit))


def find_level(counts: Iterable[TaskCount]) -> LevelFound:
    """Return the level most likely by *counts*, the lower of two alike.

    A level above all that was heard is never named: what is likely of it belongs to the highest
    one heard.  Tasks with fewer than ``ENOUGH_CLEAR`` tries say nothing; ``ValueError`` for none.
    """
    told = [each for each in counts if each.tries >= ENOUGH_CLEAR]
    if not told:
        raise ValueError("no task was told")
    likely = _likely_levels(told)
    highest = max(each.level for each in told)
    likely = [*likely[: highest - 1], sum(likely[highest - 1 :]), *(0.0 for _ in LEVELS[highest:])]
    level = max(LEVELS, key=lambda each: likely[each - 1])
    enough = [each for each in LEVELS if likely[each - 1] >= _LIKELY or each == level]
    return LevelFound(level, tuple(likely), (min(enough), max(enough)))


def _likely_levels(told: Sequence[TaskCount]) -> list[float]:
    """Return how likely each level is, by the mean likelihood of the abilities in it."""
    weights = [
        sum(math.exp(_log_likelihood(ability, told)) for ability in _abilities(level))
        / len(_abilities(level))
        for level in LEVELS
    ]
    return [each / sum(weights) for each in weights]


def _abilities(level: int) -> list[float]:
    """Return the abilities of a level; who plays less than the first one has it all the same."""
    lowest = 0 if level == LEVELS[0] else level
    steps = (level + 1 - lowest) * _STEPS
    return [lowest + (number + 0.5) / _STEPS for number in range(steps)]


def _log_likelihood(ability: float, told: Iterable[TaskCount]) -> float:
    return sum(math.log(_likelihood(ability, each)) for each in told)


def _likelihood(ability: float, count: TaskCount) -> float:
    """Return the likelihood of a count: of a good take, or of a bad one with any share alike."""
    hits = _ALIKE * count.in_place
    misses = _ALIKE * count.tries - hits
    chance = chance_in_place(ability, count.level)
    good = math.exp(hits * math.log(chance) + misses * math.log(1 - chance))
    bad = math.gamma(hits + 1) * math.gamma(misses + 1) / math.gamma(hits + misses + 2)
    return (1 - _BAD_TAKE) * good + _BAD_TAKE * bad


def share_bounds(in_place: int, tries: int) -> tuple[float, float]:
    """Return between which shares the true one lies 95 times in 100.

    Wilson's score interval (Journal of the American Statistical Association 22, 209-212, 1927).

    >>> [round(each, 2) for each in share_bounds(7, 8)]
    [0.53, 0.98]
    """
    share, z2 = in_place / tries, _Z95**2
    middle = share + z2 / (2 * tries)
    half = _Z95 * math.sqrt(share * (1 - share) / tries + z2 / (4 * tries**2))
    whole = 1 + z2 / tries
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)
