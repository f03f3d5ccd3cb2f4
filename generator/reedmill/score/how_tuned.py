"""How a score is tuned, in words: A4, intonation, and the player's own harp."""

from __future__ import annotations

from reedmill.score.score import Score
from reedmill.theory.intonation import EQUAL

USUAL_A4_HZ = 440.0


def how_tuned(score: Score) -> tuple[str, ...]:
    """Return all that the pitches of *score* are measured from, the usual too."""
    return (f"A = {score.reference_hz:g} Hz", score.intonation.words, *_own(score))


def unusual_tuning(score: Score) -> tuple[str, ...]:
    """Return what differs from equal temperament, A4 = 440 Hz and a harp as it was made."""
    usual = {f"A = {USUAL_A4_HZ:g} Hz", EQUAL.words}
    a4, intonation, *own = how_tuned(score)
    return tuple(each for each in (intonation, a4, *own) if each not in usual)


def _own(score: Score) -> tuple[str, ...]:
    return (f"tuned as {score.harp.own.name}",) if score.harp.own else ()
