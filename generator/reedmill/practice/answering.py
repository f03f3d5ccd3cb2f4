"""The answers of a player to a drill with an echo, as a score of their own."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction

from reedmill.practice.practice import Practice, plan_recording
from reedmill.score.score import Score


def answered(score: Score, echo_bars: int) -> Score:
    """Return the answers to *score* in echoes of *echo_bars* bars, silent during each call.

    0 bars are the whole drill, whose answer is the drill itself.  ``InputError`` for a number of
    bars that no echo has.
    """
    stretches = [
        (each.first, each.last)
        for each in plan_recording(score, Practice(echo_bars=echo_bars)).passes
        if not each.guide
    ]
    starts = [first for first, _ in stretches]
    before = Fraction(0)
    late: list[Fraction] = []
    for number, (first, last) in enumerate(stretches):
        before += last - first if number else 0  # what was played, and not yet answered, before it
        late.append(before)
    notes = tuple(
        replace(note, start=note.start + late[bisect_right(starts, note.start) - 1])
        for note in score.notes
    )
    return replace(
        score, notes=notes, length=score.length + late[-1], repeats=(), echoes=(), breaths=()
    )
