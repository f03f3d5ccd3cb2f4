"""Homing: where a phrase of a tune comes to rest, and which reed of the root is home.

A root that two natural reeds give has a home reed: the one that lies in its chord, with the third
or the fifth of the key beside it in the same breath.  In cross harp on a Richter harp draw 2 and
blow 3 are one note, and draw 2 is home: draw 1, 3 and 4 belong to its chord, blow 2 and 4 do not.
An anchor on that note says otherwise.  Common practice, no published source.

A phrase comes to rest before a rest, at the end of its tune, and on a note that is longer than
the next and no shorter than the one before it: a simple form of grouping by proximity (Lerdahl
and Jackendoff, "A Generative Theory of Tonal Music", 1983, grouping preference rule 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from reedmill.harp import HOLES, Harp, Reed, note_on_harp
from reedmill.theory.positions import Position

_CHORD = frozenset({0, 3, 4, 7})  # semitones over the root: either third, and the fifth


class TuneStep(NamedTuple):
    """A note or rest of a tune, as far as it tells where a phrase comes to rest."""

    length: Fraction  # beats
    rest: bool
    joined: bool  # slides in from the note before


def phrase_ends(steps: Sequence[TuneStep]) -> frozenset[int]:
    """Return the places in *steps* of the notes on which a phrase comes to rest.

    >>> half, whole = TuneStep(Fraction(1, 2), False, False), TuneStep(Fraction(1), False, False)
    >>> sorted(phrase_ends([half, whole, half, half]))
    [1, 3]
    """
    return frozenset(at for at, step in enumerate(steps) if not step.rest and _ends(steps, at))


def _ends(steps: Sequence[TuneStep], at: int) -> bool:
    if at + 1 == len(steps) or steps[at + 1].rest:
        return True
    before, here, after = steps[at - 1] if at else None, steps[at], steps[at + 1]
    if before is None or before.rest or after.joined:
        return False
    return before.length <= here.length > after.length


def home_reed(harp: Harp, position: Position, midi: int, anchor: Reed | None) -> Reed | None:
    """Return the reed of the root *midi* on which a phrase ends; ``None`` where all are alike.

    >>> cross = Harp("C"), Position(2), 67  # G4
    >>> home_reed(*cross, None).tab, home_reed(*cross, Reed.parse("3")).tab
    ('-2', '3')
    """
    if anchor is not None and harp.midi(anchor) == midi:
        return anchor
    naturals = [
        reed for reed in harp.reeds(overbends=False) if not reed.bend and harp.midi(reed) == midi
    ]
    beside = {reed: _of_the_chord(harp, position, reed) for reed in naturals}
    best = [reed for reed in naturals if beside[reed] == max(beside.values())]
    return best[0] if len(naturals) > len(best) == 1 else None


def _of_the_chord(harp: Harp, position: Position, reed: Reed) -> int:
    """Return how many neighbours of *reed* with the same breath belong to the home chord."""
    neighbours = (
        Reed(hole, reed.breath) for hole in (reed.hole - 1, reed.hole + 1) if hole in HOLES
    )
    found = (note_on_harp(harp, position, each).degree.semitones for each in neighbours)
    return sum(semitones in _CHORD for semitones in found)
