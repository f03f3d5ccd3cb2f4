"""The order in which bends are learned, hole by hole: common practice, no published source.

Draw 4 and draw 1 come first, with one bend each, and draw 6 after them; then draw 3 by a semitone,
by a whole tone, the bends of draw 2, and draw 3 to the bottom; then the blow bends, and last the
overbends.  The ten tasks go by the same order.
"""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

from reedmill.harp import Breath, Reed, ReedKind


class Stage(IntEnum):
    """A stage of learning to bend."""

    FIRST_BENDS = 1
    FIRST_RUNG = 2  # of draw 3
    SECOND_RUNG = 3
    DRAW_TWO = 4
    QUARTER_TONES = 5
    DEEPEST = 6  # of draw 3
    BLOW_BENDS = 7
    BLOW_TEN = 8
    OVERBLOWS = 9
    OVERDRAWS = 10


STAGE_LEVELS = {
    Stage.FIRST_BENDS: 2, Stage.FIRST_RUNG: 2, Stage.SECOND_RUNG: 3, Stage.DRAW_TWO: 3,
    Stage.QUARTER_TONES: 3, Stage.DEEPEST: 4, Stage.BLOW_BENDS: 4, Stage.BLOW_TEN: 5,
    Stage.OVERBLOWS: 5, Stage.OVERDRAWS: 5,
}  # fmt: skip
"""The level at which each stage is asked for: who is above it has it behind him."""

_FIRST_HOLES = (4, 1, 6)
_OF_DEPTH = {1: Stage.FIRST_RUNG, 2: Stage.SECOND_RUNG, 3: Stage.DEEPEST}


class BendToLearn(NamedTuple):
    """One thing to learn: the bends of a hole that belong to one stage, in their order."""

    stage: Stage
    place: int  # among those of its stage
    hole: int
    breath: str


def bend_to_learn(reed: Reed) -> BendToLearn | None:
    """Return what *reed* belongs to, ``None`` for a natural note.

    >>> bend_to_learn(Reed.parse("-2'")) == bend_to_learn(Reed.parse("-2''"))
    True
    >>> sorted(bend_to_learn(Reed.parse(tab)) for tab in ("-1'", "-4'"))[0].hole
    4
    """
    stage = _stage(reed)
    if stage is None:
        return None
    return BendToLearn(stage, _place(stage, reed.hole), reed.hole, reed.breath.value)


def _stage(reed: Reed) -> Stage | None:
    if reed.over:
        return Stage.OVERBLOWS if reed.kind is ReedKind.OVERBLOW else Stage.OVERDRAWS
    if reed.quarter:
        return Stage.QUARTER_TONES
    if not reed.bend:
        return None
    if reed.breath is Breath.BLOW:
        return Stage.BLOW_TEN if reed.hole == 10 else Stage.BLOW_BENDS
    if reed.hole == 2:
        return Stage.DRAW_TWO
    if reed.hole == 3 or reed.bend > 1:
        return _OF_DEPTH.get(reed.bend, Stage.DEEPEST)
    return Stage.FIRST_BENDS


def _place(stage: Stage, hole: int) -> int:
    """Return a number by which holes of a stage are taken in turn: overblows from 6 down."""
    if stage is Stage.FIRST_BENDS and hole in _FIRST_HOLES:
        return _FIRST_HOLES.index(hole)
    return -hole if stage is Stage.OVERBLOWS else hole
