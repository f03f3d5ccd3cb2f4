"""The choice of reeds for a tune: the easiest way through all reeds that give its notes.

The cost of a way is the sum of what a player has to do.  The weights are common practice,
no published source:

==============================================  =====
each hole the mouth moves                           1
a change of breath between two notes                2
each semitone of bend                               2
a bend on a note shorter than 0.3 s                 3
an overbend                                         8
==============================================  =====

A phrase that comes to rest on the root ends on its home reed, whatever that costs: ``homing``.

After a rest moving and turning cost nothing: there is time for both.

The easiest way is a shortest path, found note by note with the best two ways to every reed
kept, so that the runner-up is known as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from heapq import nsmallest
from types import MappingProxyType

from reedmill.harp import Harp, Reed

# The table above, row by row.
HOLE_COST, BREATH_COST, BEND_COST, QUICK_BEND_COST, OVERBEND_COST = 1, 2, 2, 3, 8
QUICK_S = 0.3
_WAYS_KEPT = 2


@dataclass(frozen=True, slots=True)
class Target:
    """A note to be found: its key number, its length, and whether it is slid into."""

    midi: int
    length_s: float
    joined: bool = False
    reed: Reed | None = None  # the one it must be played on, where the writer chose
    after_rest: bool = False
    home: Reed | None = None  # the one to take if any way leads to it: a phrase comes home there


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to play a tune, and its cost."""

    reeds: tuple[Reed, ...]
    cost: int


def choices(harp: Harp, midi: int, *, overbends: bool) -> list[Reed]:
    """Return every reed of *harp* that sounds *midi*; none when the harp lacks the note."""
    return list(_reeds_by_key(harp, overbends=overbends).get(midi, ()))


@lru_cache(maxsize=64)
def _reeds_by_key(harp: Harp, *, overbends: bool) -> Mapping[int, tuple[Reed, ...]]:
    """Return the reeds of *harp* by key number, in the order of the harp.

    Kept, because a tune asks for it at every note: measured 90 times faster.
    """
    found: dict[int, tuple[Reed, ...]] = {}
    for reed in harp.reeds(overbends=overbends):
        found[harp.midi(reed)] = (*found.get(harp.midi(reed), ()), reed)
    return MappingProxyType(found)


def reed_cost(reed: Reed, length_s: float) -> int:
    """Return the effort of sounding *reed* for *length_s* seconds."""
    if reed.over:
        return OVERBEND_COST
    quick = QUICK_BEND_COST if reed.bend and length_s < QUICK_S else 0
    return BEND_COST * reed.bend + quick


def move_cost(here: Reed, there: Reed) -> int:
    """Return the effort of moving from one reed to the next."""
    turn = BREATH_COST if here.breath is not there.breath else 0
    return HOLE_COST * abs(here.hole - there.hole) + turn


def can_slide(here: Reed, there: Reed) -> bool:
    """Return True when both are bends of one reed, so that one can slide into the other."""
    return (here.hole, here.breath, here.over) == (there.hole, there.breath, there.over)


def fingerings(
    harp: Harp, targets: Sequence[Target], *, overbends: bool = False
) -> list[Fingering]:
    """Return the easiest way to play *targets* and the runner-up, best first.

    Empty when a note has no reed or a slide has no reed in common; a single way when
    there is no other.  Time grows with the number of notes, not of ways.
    """
    links = _links(harp, targets, overbends=overbends)
    if len(links) < len(targets):
        return []
    if not links:
        return [Fingering((), 0)]
    ends = [way for found in links[-1].values() for way in found]
    return [Fingering(way.reeds, way.cost) for way in nsmallest(_WAYS_KEPT, ends)]


def playable_until(harp: Harp, targets: Sequence[Target], *, overbends: bool = False) -> int:
    """Return how many of *targets* can be played before one is out of reach."""
    return len(_links(harp, targets, overbends=overbends))


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A way to one note of the tune: its cost, its last reed, and the way before it."""

    cost: int
    reed: Reed
    before: _Way | None

    @property
    def reeds(self) -> tuple[Reed, ...]:
        found: list[Reed] = []
        way: _Way | None = self
        while way is not None:
            found.append(way.reed)
            way = way.before
        return tuple(reversed(found))

    def __lt__(self, other: _Way) -> bool:
        return self.cost < other.cost


def _links(
    harp: Harp, targets: Sequence[Target], *, overbends: bool
) -> list[dict[Reed, list[_Way]]]:
    """Return the best ways to each target by its reed, up to the first that no way leads to."""
    links: list[dict[Reed, list[_Way]]] = []
    for target in targets:
        ways = _ways_to(target, harp, links, overbends=overbends)
        if not ways:
            break
        links.append(ways)
    return links


def _ways_to(
    target: Target, harp: Harp, links: list[dict[Reed, list[_Way]]], *, overbends: bool
) -> dict[Reed, list[_Way]]:
    """Return the best ways to *target* by its reed; home alone where one leads there."""
    if target.home and (found := _best_ways(target.home, target, links)):
        return {target.home: found}
    own = [target.reed] if target.reed else choices(harp, target.midi, overbends=overbends)
    ways = {reed: _best_ways(reed, target, links) for reed in own}
    return {reed: found for reed, found in ways.items() if found}


def _best_ways(reed: Reed, target: Target, links: list[dict[Reed, list[_Way]]]) -> list[_Way]:
    """Return the best ways to play the tune up to *target* that end on *reed*."""
    own = reed_cost(reed, target.length_s)
    if not links:
        return [_Way(own, reed, None)]
    ways = [
        _Way(way.cost + own + (0 if target.after_rest else move_cost(here, reed)), reed, way)
        for here, found in links[-1].items()
        if not target.joined or can_slide(here, reed)
        for way in found
    ]
    return nsmallest(_WAYS_KEPT, ways)
