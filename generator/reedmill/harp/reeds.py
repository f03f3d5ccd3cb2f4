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


_TAB = re.compile(r"([-+]?)(\d{1,2})('*)(q?)(\^?)")


@dataclass(frozen=True, slots=True)
class Reed:
    """One way to sound one hole: breath, bend or overbend.

    In tab a draw has a minus sign, each tick bends one semitone, ``q`` a quarter tone more,
    and ``^`` overbends.

    >>> Reed.parse("-3''")
    Reed(hole=3, breath=<Breath.DRAW: 'draw'>, bend=2, over=False, quarter=False)
    >>> Reed.parse("6^").tab
    '6^'
    """

    hole: int  # 1 to 10, low to high; no harp has others
    breath: Breath
    bend: int = 0  # semitones below the natural note
    over: bool = False  # an overblow or overdraw
    quarter: bool = False  # bent a quarter tone further, between two rungs

    @property
    def tab(self) -> str:
        """The reed in plain tab; ``Reed.parse`` reads it back."""
        sign = "-" if self.breath is Breath.DRAW else ""
        return f"{sign}{self.bare_tab}"

    @property
    def bare_tab(self) -> str:
        """The tab without the sign of its breath: ``3''``."""
        quarter, over = "q" if self.quarter else "", "^" if self.over else ""
        return f"{self.hole}{chr(39) * self.bend}{quarter}{over}"

    @property
    def kind(self) -> ReedKind:
        """Natural, bend, overblow or overdraw."""
        if self.over:
            return ReedKind.OVERBLOW if self.breath is Breath.BLOW else ReedKind.OVERDRAW
        return ReedKind.BEND if self.bend or self.quarter else ReedKind.NATURAL

    @property
    def natural(self) -> Reed:
        """The same hole and breath without bend or overbend."""
        return Reed(self.hole, self.breath)

    @property
    def words(self) -> str:
        """The reed as a teacher says it: ``draw 3 bent two semitones``."""
        said = self.kind.value if self.over else self.breath.value
        return f"{said} {self.bare_words}"

    @property
    def bare_words(self) -> str:
        """The words without those of its breath: ``3 bent two semitones``."""
        names = {1: "a semitone", 2: "two semitones", 3: "three semitones", 4: "four semitones"}
        ways = [names.get(self.bend, f"{self.bend} semitones")] if self.bend else []
        ways += ["a quarter tone"] if self.quarter else []
        return f"{self.hole} bent {' and '.join(ways)}" if ways else str(self.hole)

    @classmethod
    def parse(cls, tab: str) -> Reed:
        """Parse *tab*; raise ``ValueError`` when it is not tab at all.

        Holes and bends that no harp has are accepted here; the harp says so.
        """
        match = _TAB.fullmatch(tab)
        if match is None:
            raise ValueError(f"not tab: {tab!r}")
        sign, hole, ticks, quarter, over = match.groups()
        breath = Breath.DRAW if sign == "-" else Breath.BLOW
        return cls(int(hole), breath, len(ticks), bool(over), bool(quarter))


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


def room_below(layout: Layout, reed: Reed) -> int:
    """Return the cents that *reed* can still be bent: at most 100, and 50 to shade it.

    Nothing is left under the deepest bend, and an overbend goes up and not down.  Where the
    reeds of a hole are neighbours the higher one shades by about a quarter tone; common
    practice, no published source.

    >>> from reedmill.harp.layouts import RICHTER
    >>> [room_below(RICHTER, Reed.parse(tab)) for tab in ("-3''", "-3''q", "-3'''", "-5", "5")]
    [100, 50, 0, 50, 0]
    """
    if reed.over or reed.breath is not bending_breath(layout, reed.hole):
        return 0
    gap = 100 * abs(layout.blow[reed.hole - 1] - layout.draw[reed.hole - 1])
    deepest = 50 if gap == 100 else 100 * bend_depth(layout, reed.hole)
    return max(0, min(100, deepest - 100 * reed.bend - 50 * reed.quarter))


def sounded_semitones(layout: Layout, reed: Reed) -> int:
    """Return the semitones above hole 1 blow of any reed, bent or overbent; whole ones.

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
