"""Playability: rules for what is hard to play, with their violators and how often each applied.

The limits are common practice, no published source.  They are advice: a drill that breaks
one is not wrong, but its writer should mean it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from reedmill.base.source import Span
from reedmill.harp import Reed, ReedKind
from reedmill.score.score import Note, Score

SETTLE_S = 0.25  # a bend needs this long to be heard as a note
TURN_S = 0.12  # a note before a change of breath
LEAP_HOLES = 4  # an octave is three or four holes away, and wider leaps miss their hole
ATTACK_S = 0.1  # ten attacks a second, which is faster than most tongues

Violators = tuple[list[Span], int]
"""The notes that break a rule, and how many notes it was asked of."""


@dataclass(frozen=True, slots=True)
class Finding:
    """The violators of one rule in one drill."""

    rule: str
    violators: tuple[Span, ...]
    total: int


def _seconds(score: Score, note: Note) -> float:
    return float(score.performed_s(note.end) - score.performed_s(note.start))


def _settled_bends(score: Score) -> Violators:
    bent = [note for note in score.notes if any(map(_is_bent, note.reeds))]
    return [note.span for note in bent if _seconds(score, note) < SETTLE_S], len(bent)


def _is_bent(reed: Reed) -> bool:
    return reed.kind is not ReedKind.NATURAL


def _leaps(score: Score) -> Violators:
    moves = [(a, b) for a, b in pairwise(score.notes) if _mouth(a) != _mouth(b)]
    far = [b.span for a, b in moves if _holes_apart(a, b) > LEAP_HOLES]
    return far, len(moves)


def _mouth(note: Note) -> tuple[int, int]:
    """Return the lowest and the highest hole the mouth is on."""
    return note.reeds[0].hole, note.reeds[-1].hole


def _holes_apart(before: Note, after: Note) -> int:
    """Return how far the mouth goes to reach all holes of *after*; 0 where it is on them."""
    (low, high), (lowest, highest) = _mouth(before), _mouth(after)
    return max(0, low - lowest, highest - high)


def _turns(score: Score) -> Violators:
    turns = [(a, b) for a, b in pairwise(score.notes) if a.reed.breath is not b.reed.breath]
    return [b.span for a, b in turns if _seconds(score, a) < TURN_S], len(turns)


def _attacks(score: Score) -> Violators:
    first = [group[0] for group in score.attacks()]
    return [note.span for note in first if _seconds(score, note) < ATTACK_S], len(first)


def _air(score: Score) -> Violators:
    return [each.span for each in score.warnings], len(score.attacks())


def _overbends(score: Score) -> Violators:
    return [note.span for note in score.notes if note.reed.over], len(score.notes)


RULES: dict[str, Callable[[Score], Violators]] = {
    f"bends last {SETTLE_S:g} s or more": _settled_bends,
    f"leaps of {LEAP_HOLES} holes or fewer": _leaps,
    f"breath turns after {TURN_S:g} s or more": _turns,
    f"attacks {ATTACK_S:g} s apart or more": _attacks,
    "time for every breath": _air,
    "no overbends": _overbends,
}


def playability(score: Score) -> list[Finding]:
    """Ask every rule of *score*, in the order of ``RULES``."""
    found = []
    for rule, ask in RULES.items():
        violators, total = ask(score)
        found.append(Finding(rule, tuple(dict.fromkeys(violators)), total))
    return found
