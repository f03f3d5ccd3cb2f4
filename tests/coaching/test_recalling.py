"""Reviews are scheduled as the published library and its algorithm schedule them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from fsrs import Card, Rating, Scheduler

from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.recalling import rating, recalls

RUNG = LearnedRung("-3''", "-2", "low")
START = date(2027, 1, 4)
CENTS = {1: 50.0, 2: 20.0, 3: 8.0, 4: 2.0}  # a try that is rated so


def test_the_library_gives_the_intervals_it_publishes() -> None:
    """The source package fsrs 6.3.2 on the package index: tests/test_basic.py, test_review_card."""
    scheduler, card = Scheduler(enable_fuzzing=False), Card()
    at = datetime(2022, 11, 29, 12, 30, tzinfo=UTC)
    found = []
    for rated in (3, 3, 3, 3, 3, 3, 1, 1, 3, 3, 3, 3, 3):
        card, _ = scheduler.review_card(card, Rating(rated), at)
        assert card.last_review is not None
        found.append((card.due - card.last_review).days)
        at = card.due
    assert found == [0, 2, 11, 46, 163, 498, 0, 0, 2, 4, 7, 12, 21]


@pytest.mark.parametrize("ratings", [[3] * 6, [4, 4, 4], [1, 3, 3, 2, 3], [2, 2, 4, 1, 3]])
def test_a_rung_is_due_when_the_library_says(ratings: list[int]) -> None:
    scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    card, day, tries = Card(), START, []
    for rated in ratings:
        tries.append((RUNG, day, CENTS[rated]))
        at = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
        card, _ = scheduler.review_card(card, Rating(rated), at)
        day = card.due.date()
    found = recalls(reversed(tries))[RUNG]
    assert (found.due, found.reviews, found.last) == (card.due.date(), len(ratings), tries[-1][1])


def test_the_first_intervals_are_those_of_the_algorithms_own_parameters() -> None:
    """The first interval is the initial stability, w0 to w3 of FSRS-6's published parameters.

    0.212, 1.2931, 2.3065 and 8.2956 days, rounded, one day at least (open-spaced-repetition,
    "The Algorithm", FSRS-6).
    """
    due = {rated: recalls([(RUNG, START, CENTS[rated])])[RUNG].due for rated in CENTS}
    assert [(due[each] - START).days for each in (1, 2, 3, 4)] == [1, 1, 2, 8]


def test_the_chance_falls_along_the_published_curve() -> None:
    """R(t, S) = (1 + F t / S)^-w20, F = 0.9^(-1 / w20) - 1, w20 = 0.1542 (FSRS-6)."""
    found = recalls([(RUNG, START, CENTS[4])])[RUNG]
    factor = 0.9 ** (-1 / 0.1542) - 1
    for days, (day, chance) in enumerate(found.curve(40)):
        assert day == START + timedelta(days=days)
        assert chance == pytest.approx((1 + factor * days / 8.2956) ** -0.1542)
    assert found.likely(found.due) == pytest.approx(0.9, abs=0.01)  # what it is scheduled for


def test_days_are_rated_by_their_middle_try() -> None:
    one_slip = [(RUNG, START, cents) for cents in (3.0, 4.0, 60.0)]
    assert recalls(one_slip)[RUNG].due == recalls([(RUNG, START, 4.0)])[RUNG].due
    assert recalls(one_slip)[RUNG].reviews == 1


def test_the_usual_tolerance_divides_the_ratings() -> None:
    assert [rating(each) for each in (5.0, 5.1, 10.0, 10.1, 25.0, 25.1)] == [4, 3, 3, 2, 2, 1]


def test_rungs_are_scheduled_apart() -> None:
    other = LearnedRung("-4'", "4", "low")
    found = recalls([(RUNG, START, 2.0), (other, START, 50.0)])
    assert found[RUNG].due > found[other].due
