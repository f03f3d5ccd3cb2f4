"""Reviews that are due: spaced repetition of each rung, scheduled by the library ``fsrs``.

A day on which a rung was tried is one review of it, and how far out the middle try of that day
was is its rating.  The schedule and the chance that a rung is still where it was are those of the
Free Spaced Repetition Scheduler with its own parameters; they were fitted to the recall of
facts, and nothing is published on the notes of a reed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from statistics import median
from typing import TYPE_CHECKING

from reedmill.coaching.estimating import LearnedRung

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

EASY_CENTS, GOOD_CENTS, HARD_CENTS = 5.0, 10.0, 25.0
"""The middle try of a day was nearer than this: easy, good or hard; else the rung has to be learned
again.  The second and third are the usual tolerances of a verdict."""

_NOON = 12  # days are reviewed at noon, so that they are whole days apart
_CURVE_DAYS = 60


@dataclass(frozen=True)
class Recall:
    """The state of a rung in its schedule: when it is due, how likely it is where it was."""

    reviews: int
    last: date
    due: date
    card: Card

    def likely(self, day: date) -> float:
        """Return how likely it still is on *day* where it was, from 0 to 1."""
        return _scheduler().get_card_retrievability(self.card, _moment(day))

    def curve(self, days: int = _CURVE_DAYS) -> tuple[tuple[date, float], ...]:
        """Return how likely it still is where it was: on the last day and *days* after it."""
        along = (self.last + timedelta(days=number) for number in range(days + 1))
        return tuple((day, self.likely(day)) for day in along)


def rating(out_cents: float) -> int:
    """Return the rating of a day by how far out its middle try was: 1 (again) to 4 (easy).

    >>> [rating(cents) for cents in (3.0, 8.0, 20.0, 40.0)]
    [4, 3, 2, 1]
    """
    limits = (EASY_CENTS, GOOD_CENTS, HARD_CENTS)
    return 4 - sum(out_cents > limit for limit in limits)


def recalls(tries: Iterable[tuple[LearnedRung, date, float]]) -> Mapping[LearnedRung, Recall]:
    """Return the recall of each rung from *tries* in any order: rung, day, cents out."""
    by_day: dict[LearnedRung, dict[date, list[float]]] = defaultdict(lambda: defaultdict(list))
    for rung, day, out_cents in tries:
        by_day[rung][day].append(out_cents)
    return {rung: _recall(days) for rung, days in by_day.items()}


def _recall(days: Mapping[date, list[float]]) -> Recall:
    from fsrs import Card, Rating  # 40 ms that most commands do without

    card = Card(card_id=1, due=_moment(min(days)))  # a number of its own would cost a millisecond
    for day in sorted(days):
        rated = Rating(rating(median(days[day])))
        card, _ = _scheduler().review_card(card, rated, _moment(day))
    return Recall(len(days), max(days), card.due.date(), card)


@cache
def _scheduler() -> Scheduler:
    """Return the scheduler: days apart from the first, and the same for the same takes."""
    from fsrs import Scheduler  # as above

    return Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def _moment(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, _NOON, tzinfo=UTC)
