"""Reeds: the ways one hole can be sounded, and their tab."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache

from reedmill.harp.layouts import HOLES, Layout


class Breath(Enum):
    """The direction of the air."""

    BLOW = "blow"
    DRAW = "draw"

    @property
    def other(self) -> Breath:
        """The opposite direction."""
        return Breath.DRAW if self is Breath.BLOW else Breath.BLOW


class ReedKind(Enum):
    """The technique of a note: natural, bend, overblow or overdraw."""

    NATURAL = "natural"
    BEND = "bend"
    OVERBLOW = "overblow"
    OVERDRAW = "overdraw"


_TAB = re.compile(r"([-+]?)(\d{1,2})('*)(\^?)")


@dataclass(frozen=True, slots=True)
class Reed:
    """One way to sound one hole: breath, bend or overbend.

    In tab a draw has a minus sign, each tick bends one semitone, and ``^`` overbends.

    >>> Reed.parse("-3''")
    Reed(hole=3, breath=<Breath.DRAW: 'draw'>, bend=2, over=False)
    >>> Reed.parse("6^").tab
    '6^'
    """

    hole: int  # 1 to 10, low to high; no harp has others
    breath: Breath
    bend: int = 0  # semitones below the natural note
    over: bool = False  # an overblow or overdraw

    @property
    def tab(self) -> str:
        """The reed in plain tab; ``Reed.parse`` reads it back."""
        sign = "-" if self.breath is Breath.DRAW else ""
        return f"{sign}{self.hole}{chr(39) * self.bend}{'^' if self.over else ''}"

    @property
    def kind(self) -> ReedKind:
        """Natural, bend, overblow or overdraw."""
        if self.over:
            return ReedKind.OVERBLOW if self.breath is Breath.BLOW else ReedKind.OVERDRAW
        return ReedKind.BEND if self.bend else ReedKind.NATURAL

    @property
    def natural(self) -> Reed:
        """The same hole and breath without bend or overbend."""
        return Reed(self.hole, self.breath)

    @property
    def words(self) -> str:
        """The reed as a teacher says it: ``draw 3 bent two semitones``."""
        said = f"{self.breath.value} {self.hole}"
        if self.over:
            return f"{self.kind.value} {self.hole}"
        if not self.bend:
            return said
        names = {1: "a semitone", 2: "two semitones", 3: "three semitones", 4: "four semitones"}
        return f"{said} bent {names.get(self.bend, f'{self.bend} semitones')}"

    @classmethod
    def parse(cls, tab: str) -> Reed:
        """Parse *tab*; raise ``ValueError`` when it is not tab at all.

        Holes and bends that no harp has are accepted here; the harp says so.
        """
        match = _TAB.fullmatch(tab)
        if match is None:
            raise ValueError(f"not tab: {tab!r}")
        sign, hole, ticks, over = match.groups()
        breath = Breath.DRAW if sign == "-" else Breath.BLOW
        return cls(int(hole), breath, len(ticks), bool(over))


def hole_rungs(layout: Layout, natural: Reed) -> tuple[Reed, ...]:
    """Return *natural* with its bends, or its overbend with both notes of the hole under it.

    >>> from reedmill.harp.layouts import RICHTER
    >>> [reed.tab for reed in hole_rungs(RICHTER, Reed.parse("-2"))]
    ['-2', "-2'", "-2''"]
    >>> [reed.tab for reed in hole_rungs(RICHTER, Reed.parse("6"))]
    ['6^', '-6', '6']
    """
    hole, breath = natural.hole, natural.breath
    if bending_breath(layout, hole) is breath:
        return tuple(Reed(hole, breath, bend) for bend in range(bend_depth(layout, hole) + 1))
    return (Reed(hole, breath, over=True), Reed(hole, breath.other), natural)


def natural_semitones(layout: Layout, hole: int, breath: Breath) -> int:
    """Return the natural note's semitones above hole 1 blow."""
    return (layout.blow if breath is Breath.BLOW else layout.draw)[hole - 1]


def bending_breath(layout: Layout, hole: int) -> Breath:
    """Return the breath of the hole's higher reed, which bends; draw when both are equal."""
    higher_blow = layout.blow[hole - 1] > layout.draw[hole - 1]
    return Breath.BLOW if higher_blow else Breath.DRAW


def bend_depth(layout: Layout, hole: int) -> int:
    """Return how many semitones the hole's higher reed bends, 0 where the reeds are neighbours.

    The bend stops one semitone above the hole's other reed: between the two notes as
    measured by Bahnson, Antaki and Beery (J. Acoust. Soc. Am. 103(4), 1998); the exact
    floor is common practice, no published source.

    >>> from reedmill.harp.layouts import RICHTER
    >>> [bend_depth(RICHTER, hole) for hole in range(1, 11)]
    [1, 2, 3, 1, 0, 1, 0, 1, 1, 2]
    """
    return max(0, abs(layout.blow[hole - 1] - layout.draw[hole - 1]) - 1)


def sounded_semitones(layout: Layout, reed: Reed) -> int:
    """Return the semitones above hole 1 blow of any reed, bent or overbent.

    An overbend sounds one semitone above the hole's higher reed (outside the interval of
    the two notes: Bahnson, Antaki and Beery 1998; the semitone is common practice).
    """
    if reed.over:
        return natural_semitones(layout, reed.hole, reed.breath.other) + 1
    return natural_semitones(layout, reed.hole, reed.breath) - reed.bend


def overbend(layout: Layout, hole: int) -> Reed | None:
    """Return the hole's overblow or overdraw; ``None`` where it has no note of its own.

    It is played with the breath of the lower reed.  Where it would only repeat the
    note of the next hole (holes 2, 3 and 8 of a Richter harp) nobody plays it.
    """
    if layout.blow[hole - 1] == layout.draw[hole - 1]:
        return None
    reed = Reed(hole, bending_breath(layout, hole).other, over=True)
    return None if sounded_semitones(layout, reed) in _easier_notes(layout) else reed


@lru_cache(maxsize=32)  # asked for at every hole of every harp
def _easier_notes(layout: Layout) -> frozenset[int]:
    """Return every pitch of natural notes and bends, in semitones above hole 1 blow."""
    return frozenset(
        sounded_semitones(layout, reed) for hole in HOLES for reed in plain_reeds(layout, hole)
    )


def plain_reeds(layout: Layout, hole: int) -> list[Reed]:
    """Return blow, draw, then the bends from the shallowest down."""
    bending = bending_breath(layout, hole)
    bends = [Reed(hole, bending, bend) for bend in range(1, bend_depth(layout, hole) + 1)]
    return [Reed(hole, Breath.BLOW), Reed(hole, Breath.DRAW), *bends]
