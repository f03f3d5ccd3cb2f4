"""Questions about rungs as a recording: clicks before each, and silence to answer in."""

from __future__ import annotations

from fractions import Fraction

from reedmill.practice.practice import Click, Pass, Recording, RecordingPlan
from reedmill.score.rung_questions import CLICKS, RungQuestions


def question_plan(asked: RungQuestions) -> RecordingPlan:
    """Return the plan of a recording of *asked*, each question a pass with its clicks before it."""
    score = asked.played()
    each = Fraction(asked.lasting_s - CLICKS)  # a beat is a second, and a bar
    return RecordingPlan(
        tuple(
            Pass(
                score, question.start_s + CLICKS, each * number, each * (number + 1),
                count_in_bars=CLICKS,
            )
            for number, question in enumerate(asked.questions)
        )
    )  # fmt: skip


def question_recording(types: tuple[str, ...] = ("wav",)) -> Recording:
    """Return what sounds in a recording of questions, in files of these *types*."""
    return Recording(click=Click.COUNT_IN, types=types)
