"""The choice of reeds for a tune: the easiest way through all reeds that give its notes.

The cost of a way is the sum of what a player has to do.  The weights are common practice,
no published source:

==============================================  =====
each hole the mouth moves                           1
a change of breath between two notes                2
each semitone of bend                               2
a quarter tone of bend                              1
a bend on a note shorter than 0.3 s                 3
an overbend                                         8
==============================================  =====

A phrase that comes to rest on the root ends on its home reed, whatever that costs: ``homing``.

After a rest moving and turning cost nothing: there is time for both.

The easiest way is a shortest path, found note by note with the best two ways to every reed
kept, so that the runner-up is known as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from heapq import nsmallest
from itertools import product
from types import MappingProxyType
from typing import NamedTuple

from reedmill.harp import Harp, Reed
from reedmill.harp.together import held_holes, low_to_high, together_refusal

# The table above, row by row.
HOLE_COST, BREATH_COST, BEND_COST, QUICK_BEND_COST, OVERBEND_COST = 1, 2, 2, 3, 8
QUARTER_COST = 1
QUICK_S = 0.3
_WAYS_KEPT = 2


class SungKey(NamedTuple):
    """A note that a degree asks for: its key number, and whether a quarter tone lower."""

    midi: int
    quarter: bool = False


@dataclass(frozen=True, slots=True)
class Target:
    """A note to be found: its key number, its length, and whether it is slid into."""

    midi: int
    length_s: float
    joined: bool = False
    reed: Reed | None = None  # the one it must be played on, where the writer chose
    after_rest: bool = False
    home: Reed | None = None  # the one to take if any way leads to it: a phrase comes home there
    quarter: bool = False  # a quarter tone lower than its key number
    beside: tuple[SungKey, ...] = ()  # the other notes of its breath, on other holes


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to play a tune, and its cost."""

    reeds: tuple[Reed, ...]
    cost: int


def choices(harp: Harp, midi: int, *, overbends: bool) -> list[Reed]:
    """Return every reed of *harp* that sounds *midi*; none when the harp lacks the note."""
    return list(_reeds_by_key(harp, overbends=overbends).get(midi, ()))


def reeds_for(
    harp: Harp, wanted: SungKey, beside: tuple[SungKey, ...] = (), *, overbends: bool
) -> list[Reed]:
    """Return every reed of *harp* that sounds *wanted*, and allows the notes *beside* it."""
    found = choices(harp, wanted.midi, overbends=overbends)
    if wanted.quarter:
        lower = [replace(reed, quarter=True) for reed in found]
        found = [reed for reed in lower if harp.refusal(reed) is None]
    if not beside:
        return found
    return [reed for reed in found if beside_reeds(harp, reed, beside) is not None]


def target_reeds(harp: Harp, target: Target, *, overbends: bool) -> list[Reed]:
    """Return every reed that *target* may be played on: the writer's, or all that sound it."""
    if target.reed:
        return [target.reed]
    wanted = SungKey(target.midi, target.quarter)
    return reeds_for(harp, wanted, target.beside, overbends=overbends)


@lru_cache(maxsize=1024)  # asked for in every way to a note, and again for the one that is taken
def beside_reeds(harp: Harp, reed: Reed, beside: tuple[SungKey, ...]) -> tuple[Reed, ...] | None:
    """Return the reeds that sound the notes *beside* in one breath with *reed*, its highest.

    Of several ways the one with fewest bends and the nearest holes; ``None`` when there is none.
    """
    each_on = [reeds_for(harp, key, overbends=False) for key in beside]
    ways = (way for way in product(*each_on) if together_refusal((*way, reed)) is None)
    lower = [way for way in ways if all(each.hole < reed.hole for each in way)]
    best = min(lower, key=lambda way: (_bends(way), _reach(way, reed)), default=None)
    return low_to_high(best) if best is not None else None


def _bends(way: Sequence[Reed]) -> int:
    return sum(2 * reed.bend + reed.quarter for reed in way)


def _reach(way: Sequence[Reed], reed: Reed) -> int:
    return sum(reed.hole - each.hole for each in way)


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
    quick = QUICK_BEND_COST if (reed.bend or reed.quarter) and length_s < QUICK_S else 0
    return BEND_COST * reed.bend + QUARTER_COST * reed.quarter + quick


def move_cost(here: Reed, there: Reed) -> int:
    """Return the effort of moving from one reed to the next."""
    turn = BREATH_COST if here.breath is not there.breath else 0
    return HOLE_COST * abs(here.hole - there.hole) + turn


def can_slide(here: Reed, there: Reed) -> bool:
    """Return True when both are bends of one reed, so that one can slide into the other."""
    return (here.hole, here.breath, here.over) == (there.hole, there.breath, there.over)


def can_join(here: Sequence[Reed], there: Sequence[Reed]) -> bool:
    """Return True when *there* needs no new attack: each hole slides or stays, or it is a lift."""
    if len(here) == len(there) and all(map(can_slide, here, there)):
        return True
    return bool(held_holes(here, there))


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
        before = targets[len(links) - 1] if links else None
        ways = _ways_to(target, before, harp, links, overbends=overbends)
        if not ways:
            break
        links.append(ways)
    return links


def _ways_to(
    target: Target, before: Target | None, harp: Harp, links: list[dict[Reed, list[_Way]]], *,
    overbends: bool,
) -> dict[Reed, list[_Way]]:  # fmt: skip
    """Return the best ways to *target* by its reed; home alone where one leads there."""
    if target.home and (found := _best_ways(target.home, target, before, harp, links)):
        return {target.home: found}
    own = target_reeds(harp, target, overbends=overbends)
    ways = {reed: _best_ways(reed, target, before, harp, links) for reed in own}
    return {reed: found for reed, found in ways.items() if found}


def _best_ways(
    reed: Reed, target: Target, before: Target | None, harp: Harp,
    links: list[dict[Reed, list[_Way]]],
) -> list[_Way]:  # fmt: skip
    """Return the best ways to play the tune up to *target* that end on *reed*."""
    own = reed_cost(reed, target.length_s)
    if not links:
        return [_Way(own, reed, None)]
    joins = _joins(harp, reed, target, before)
    ways = [
        _Way(way.cost + own + (0 if target.after_rest else move_cost(here, reed)), reed, way)
        for here, found in links[-1].items()
        if joins(here)
        for way in found
    ]
    return nsmallest(_WAYS_KEPT, ways)


def _joins(harp: Harp, reed: Reed, target: Target, before: Target | None) -> Callable[[Reed], bool]:
    """Return whether *target* on *reed* can follow a reed of the note *before* it as written."""
    if not target.joined or before is None:
        return lambda _: True
    if not target.beside and not before.beside:
        return lambda here: can_slide(here, reed)
    there = _breath_on(harp, reed, target)
    return lambda here: can_join(_breath_on(harp, here, before), there)


def _breath_on(harp: Harp, reed: Reed, target: Target) -> tuple[Reed, ...]:
    """Return the reeds of the breath of *target*, its highest note on *reed*."""
    return (*(beside_reeds(harp, reed, target.beside) or ()), reed)
