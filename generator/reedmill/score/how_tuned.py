"""The tuning of a score in words: A4, intonation, and the player's own harp."""

from __future__ import annotations

from reedmill.score.score import Score
from reedmill.theory.intonation import EQUAL

USUAL_A4_HZ = 440.0
"""ISO 16:1975."""


def how_tuned(score: Score) -> tuple[str, ...]:
    """Return all that the pitches of *score* are measured from, the usual too."""
    return (_a4(score), score.intonation.words, *_own(score))


def unusual_tuning(score: Score) -> tuple[str, ...]:
    """Return what differs from equal temperament, A4 = 440 Hz and a harp as it was made."""
    intonation = () if score.intonation == EQUAL else (score.intonation.words,)
    a4 = () if score.reference_hz == USUAL_A4_HZ else (_a4(score),)
    return (*intonation, *a4, *_own(score))


def _a4(score: Score) -> str:
    return f"A = {score.reference_hz:g} Hz"


def _own(score: Score) -> tuple[str, ...]:
    return (f"tuned as {score.harp.own.name}",) if score.harp.own else ()
