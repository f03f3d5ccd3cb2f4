"""Limits on the total work of one command: generous for teaching, small for a computer.

A drill has its own limits (``language/words.py``), a course too (``pack/course/limits.py``); here
stands what a list of drills, harps and plans for the mouth may multiply to.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedmill.base.errors import InputError
from reedmill.practice.practice import Recording
from reedmill.score.score import Score

MOST_SCORES = 4_000  # the whole library on twelve harps, and some
MOST_NOTES = 100_000  # of all these together
MOST_SOUND_HOURS = 100  # in all sound files together


def check_scores(count: int, notes: int) -> None:
    """Raise ``InputError`` for more scores, or more notes, than can be made at once."""
    if count > MOST_SCORES:
        raise InputError(
            f"this comes to {count:,} pieces, counted over drills, harps and embouchures; "
            f"{MOST_SCORES:,} is the most. Name fewer drills or harps in one command."
        )
    if notes > MOST_NOTES:
        raise InputError(
            f"this comes to {notes:,} notes, counted over drills, harps and embouchures; "
            f"{MOST_NOTES:,} is the most. Name fewer drills or harps in one command."
        )


def check_sound_length(scores: Iterable[Score], recording: Recording) -> None:
    """Raise ``InputError`` when one sound file of *scores*, or all, would last too long."""
    recordings = [each for _, each in recording.one_by_one()]
    hours = 0.0
    for score in scores:
        for each in recordings:
            each.check_length(score)
            hours += float(each.sound_s(score)) / 3600
        check_hours(hours)


def check_hours(hours: float) -> None:
    """Raise ``InputError`` for more *hours* of sound, in all files together, than are made."""
    if hours > MOST_SOUND_HOURS:
        raise InputError(
            f"these recordings would last more than {MOST_SOUND_HOURS} hours in all files "
            "together. Name fewer drills or harps, or write fewer repeats, a shorter ladder "
            "or fewer types of sound file."
        )
