"""The curves of the rungs that are due soonest, from a student's takes."""

from __future__ import annotations

from datetime import timedelta

from reedmill.coaching.needs import learned_words
from reedmill.coaching.practice_history import PracticeHistory
from reedmill.record_pages.retention_chart import RetentionCurve

MOST_CURVES = 6
_LEAST_REVIEWS = 2  # days on which a rung was played: one says little of the next
_AFTER_DUE_DAYS = 14  # that a curve goes on


def retention_of(history: PracticeHistory) -> list[RetentionCurve]:
    """Return a curve for each of the rungs that are due soonest, the first of them first."""
    several = [(rung, each) for rung, each in history.recalls.items()
               if each.reviews >= _LEAST_REVIEWS]  # fmt: skip
    several.sort(key=lambda found: (found[1].due, str(found[0])))
    return [
        RetentionCurve(
            f"{learned_words(rung)}, {rung.register} harp".capitalize(),
            each.curve((each.due - each.last + timedelta(days=_AFTER_DUE_DAYS)).days),
            each.due,
        )
        for rung, each in several[:MOST_CURVES]
    ]
