"""Recordings that are answered by ear: what is to be written down, and questions about rungs."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from reedmill.base.text import printable
from reedmill.practice.practice import (
    Click,
    ClickLevel,
    Pass,
    Practice,
    Recording,
    RecordingPlan,
    plan_recording,
)
from reedmill.score.rung_questions import CLICKS, RungQuestions, dictation_title
from reedmill.score.score import Score


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


def dictated_plan(score: Score) -> RecordingPlan:
    """Return the plan of the tones to write down: *score* under its number, counted in."""
    numbered = replace(score, title=printable(dictation_title(score)))
    return plan_recording(numbered, Practice(count_in_bars=1))


def answered_recording(types: tuple[str, ...] = ("wav",), *, pure: bool = False) -> Recording:
    """Return what sounds in recordings that are answered by ear, in files of these *types*.

    In tones that keep still where they are *pure*.
    """
    return Recording(click=Click.COUNT_IN, click_level=ClickLevel.QUIET, types=types, pure=pure)
