"""Twice the notes are twice the work, at every stage between a text and its files.

Work is counted, not timed: calls of functions, which a busy machine does not change.
"""

from __future__ import annotations

from collections.abc import Callable
from cProfile import Profile

import pytest

from growing import BAND, SHAPES, STAGES, Grown, grown

NOTES = 48
MOST = 1.2  # times the work a note, where there are twice the notes; it would be near 2
MOST_OF_A_SHEET = 1.3  # which is also set in another way as it grows


def work(stage: Callable[[Grown], object], it: Grown) -> int:
    """Calls of functions, ours and Python's own, that *stage* makes for a drill."""
    counter = Profile(builtins=True)  # counts in C: a counter in Python takes ten times as long
    counter.runcall(stage, it)
    return sum(each.callcount for each in counter.getstats())


def growth(stage: str, shape: str, notes: int) -> float:
    """How much more work a note makes in a drill of twice the notes."""
    once, twice = grown(shape, notes), grown(shape, 2 * notes)
    STAGES[stage](once)  # what is made on first use is not counted
    more = work(STAGES[stage], twice) / max(1000, work(STAGES[stage], once))
    return more * len(once.score.notes) / len(twice.score.notes)


@pytest.mark.parametrize("shape", SHAPES)
def test_twice_the_notes_are_twice_the_work(shape: str) -> None:
    notes = 96 if shape == BAND else NOTES  # a chorus has 48
    # The first choruses of a set are played otherwise than those that follow.
    counts = {stage: notes * (3 if stage == "over" else 1) for stage in STAGES if stage != "sheet"}
    grew = {stage: growth(stage, shape, count) for stage, count in counts.items()}
    assert {stage: ratio for stage, ratio in grew.items() if ratio > MOST} == {}


@pytest.mark.parametrize("shape", ["plain", "slides"])
def test_twice_the_notes_are_twice_the_work_of_a_sheet(shape: str) -> None:
    assert growth("sheet", shape, 120) < MOST_OF_A_SHEET
