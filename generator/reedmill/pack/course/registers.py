"""The harps of an exercise: those named, all a player has, or one register at a time.

Every set of reeds bends differently: high harps are stiff and quick, low ones heavy and
slow.  Whoever practises bends on one harp alone learns that harp.  A rotation therefore
hands each exercise to the next register.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import Harp
from reedmill.harp.harp_registers import REGISTERS, register

TURNS = ("exercise", "lesson")
"""What moves a rotation on: each exercise of the course, or each lesson."""


@dataclass(frozen=True, slots=True)
class Named:
    """The choice of exactly these harps."""

    harps: tuple[Harp, ...]  # at least one


@dataclass(frozen=True, slots=True)
class Every:
    """The choice of every harp the player has."""


@dataclass(frozen=True, slots=True)
class Rotation:
    """The choice of one harp at a time, of the next register each time."""

    registers: tuple[str, ...] = REGISTERS  # at least one, in the order they come
    turn: str = TURNS[0]

    def harp(self, owned: Sequence[Harp], turn: int) -> Harp | None:
        """Return the harp of the *turn*-th turn (from 0); ``None`` when no register is owned.

        Registers that are not owned are passed over; of several harps in one register the
        next one comes with each round.

        >>> owned = [Harp.parse(name) for name in ("C", "A", "G")]
        >>> [Rotation().harp(owned, turn).name for turn in range(5)]
        ['C', 'A', 'C', 'G', 'C']
        """
        shelves = [[each for each in owned if register(each) == name] for name in self.registers]
        filled = [shelf for shelf in shelves if shelf]
        if not filled:
            return None
        rounds, place = divmod(turn, len(filled))
        return filled[place][rounds % len(filled[place])]


HarpChoice = Named | Every | Rotation
