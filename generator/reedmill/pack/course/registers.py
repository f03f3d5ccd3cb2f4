"""The harps of an exercise: named, by the key of a song, all there are, or by register in turn.

Every set of reeds bends differently: high harps are stiff and quick, low ones heavy and
slow.  Whoever practises bends on one harp alone learns that harp.  A rotation therefore
hands each exercise to the next register.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import Harp, Layout
from reedmill.harp.harp_choices import harp_for
from reedmill.harp.harp_registers import REGISTERS, register
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey

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
class InKeys:
    """The choice of the harp that plays in each of these keys, in whatever position comes."""

    keys: tuple[SongKey, ...]  # at least one

    def harps(
        self, owned: Sequence[Harp], positions: Sequence[Position], layout: Layout
    ) -> dict[Harp, list[Position]]:
        """Return the harps for the keys, each with those of *positions* in which it is taken.

        A harp that is *owned* comes before any other, and of two of one key that of the usual
        register.  Where none is owned it is the one that would be needed, with *layout*.

        >>> owned = [Harp.parse(name) for name in ("C", "low A")]
        >>> keys = InKeys((SongKey.parse("E"), SongKey.parse("F")))
        >>> [each.full_name for each in keys.harps(owned, [Position(2)], owned[0].layout)]
        ['low A', 'Bb']
        """
        found: dict[Harp, list[Position]] = {}
        for key in self.keys:
            for each in positions:
                found.setdefault(_owned_or_usual(harp_for(key, each, layout), owned), []).append(
                    each
                )
        return found


def _owned_or_usual(usual: Harp, owned: Sequence[Harp]) -> Harp:
    """Return the harp among *owned* that is *usual*, or at least of its key; else *usual*."""
    there = [each for each in owned if each.key == usual.key]
    return usual if usual in there or not there else there[0]


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


HarpChoice = Named | InKeys | Every | Rotation
