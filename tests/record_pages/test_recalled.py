"""The curves of a progress page are those of the schedule, the rung that is due first first."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from reedmill.coaching.estimating import LearnedRung
from reedmill.coaching.practice_history import PastTake, PracticeHistory
from reedmill.harp import Harp
from reedmill.record_pages.recalled import MOST_CURVES, retention_of

START = datetime(2027, 1, 4, 18, tzinfo=UTC)
TABS = ("-3'", "-3''", "-3'''", "-2'", "-2''", "-4'", "-1'", "-6'")


def history(days: dict[str, list[float]]) -> PracticeHistory:
    """Of each tab a try every second day, so many cents out."""
    takes = [
        PastTake("Any", Harp("A"), 2, START + timedelta(days=2 * number), 60.0, 1.0,
                 ((LearnedRung(tab, "-2", "low"), cents),))
        for tab, several in days.items()
        for number, cents in enumerate(several)
    ]  # fmt: skip
    return PracticeHistory(tuple(sorted(takes, key=lambda each: each.at)), START)


def test_what_is_out_is_due_before_what_is_in_place() -> None:
    found = retention_of(history({"-3'": [2.0, 2.0, 2.0], "-3''": [40.0, 40.0, 40.0]}))
    assert [curve.label for curve in found] == [
        "Draw 3 bent two semitones, from draw 2, low harp",
        "Draw 3 bent a semitone, from draw 2, low harp",
    ]
    assert found[0].due is not None
    assert found[1].due is not None
    assert found[0].due < found[1].due


def test_a_curve_falls_from_certainty_to_nine_in_ten_on_the_day_it_is_due() -> None:
    """FSRS schedules for a retention of 0.9, the default that its documentation names."""
    [curve] = retention_of(history({"-3'": [2.0, 2.0, 2.0]}))
    points = dict(curve.points)
    assert points[date(2027, 1, 8)] == 1.0  # the day of the last try
    assert curve.due is not None
    assert points[curve.due] == pytest.approx(0.9, abs=0.01)
    shares = [share for _, share in curve.points]
    assert shares == sorted(shares, reverse=True)


def test_one_day_alone_makes_no_curve_and_there_are_never_many() -> None:
    assert retention_of(history({"-3'": [2.0]})) == []
    assert len(retention_of(history({tab: [2.0, 2.0] for tab in TABS}))) == MOST_CURVES
