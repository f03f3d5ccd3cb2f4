"""Harps whose natural third is not that of the song: what is told, and what to take instead."""

from __future__ import annotations

from typing import NamedTuple

from reedmill.harp.harp_choices import choices_for
from reedmill.harp.harp_places import HarpPlace
from reedmill.theory.modes import MINOR_THIRD
from reedmill.theory.song_keys import SongKey


class ThirdApart(NamedTuple):
    """A harp in a position whose natural third is another than its key is said to have."""

    fact: str  # a sentence
    better: HarpPlace | None  # the usual place whose third is right

    def told(self, how: str) -> str:
        """Return the fact with the better place, and *how* to ask for it: ``positions = 3``."""
        if self.better is None:
            return self.fact
        harp, position = self.better.harp, self.better.position
        return (
            f"{self.fact} {harp.spoken[:1].upper()}{harp.spoken[1:]} in {position.ordinal} "
            f"position has a {self.better.third} third: {how.format(position.number)}"
        )


def third_apart(key: SongKey, place: HarpPlace) -> ThirdApart | None:
    """Return what is to be told of *key* at *place*; ``None`` where its third is right or open.

    >>> from reedmill.harp import Harp
    >>> from reedmill.theory.positions import Position
    >>> apart = third_apart(SongKey.parse("Em"), HarpPlace(Harp("A"), Position(2)))
    >>> apart.fact if apart else ""
    'E minor: the natural third of an A harp in 2nd position is major.'
    """
    if key.third is None or not place.third:
        return None
    wanted, other = ("minor", "major") if key.third == MINOR_THIRD else ("major", "minor")
    if place.third != other:
        return None
    fitting = (each for each in choices_for(key, place.harp.layout) if each.third == wanted)
    where = f"{place.harp.spoken} in {place.position.ordinal} position"
    return ThirdApart(f"{key.label}: the natural third of {where} is {other}.", next(fitting, None))
