"""The ways in which a rung is practised, each told from the notes of a score alone.

This is the one home of these definitions.  Common practice, no published source: a teacher has a
note placed against a fixed one, stepped to, slid to, started on its own, turned to from the other
breath, played in time, behind the tongue, in music and by ear.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from reedmill.harp import Reed
from reedmill.score.score import LipShape, Note, Score

LEAST_TIMES = 2
"""How often a drill asks for a note in some way before it is said to practise that."""

RIFF_REEDS = 4
"""The reeds that music has at least, to be called a riff or a scale and not an exercise."""


class PlacedNote(NamedTuple):
    """One note of a score, with the notes before and after it."""

    score: Score
    before: Note | None
    note: Note
    after: Note | None


@dataclass(frozen=True, slots=True)
class RungWay:
    """One way to practise a rung: its name, a head for columns, its meaning, and its test."""

    name: str
    head: str
    meaning: str  # what goes after "the rung ..."
    holds: Callable[[PlacedNote], bool]


def _from_anchor_and_back(at: PlacedNote) -> bool:
    before, after = at.before, at.after
    if before is None or after is None or at.note.joined or after.joined:
        return False
    home = frozenset(at.score.anchor_holes)
    return frozenset(before.reeds) == home == frozenset(after.reeds)


def _from_next_rung(at: PlacedNote) -> bool:
    before = at.before
    if before is None or before.beside or at.note.joined or not _at_once(before, at.note):
        return False
    here, there = at.note.reed, before.reed
    one_rung = abs(here.bend - there.bend) == 1 and not (here.quarter or there.quarter)
    return here.natural == there.natural and (one_rung or here.over != there.over)


def _slid_to(at: PlacedNote) -> bool:
    return at.note.joined and at.before is not None and at.before.reed != at.note.reed


def _started(at: PlacedNote) -> bool:
    if at.note.joined:
        return False
    before = at.before
    return (
        before is None
        or not _at_once(before, at.note)
        or at.note.reed.hole not in {reed.hole for reed in before.reeds}
    )


def _turned_to(at: PlacedNote) -> bool:
    before = at.before
    return (
        before is not None
        and _at_once(before, at.note)
        and before.reed.breath is not at.note.reed.breath
    )


def _at_once(before: Note, note: Note) -> bool:
    """Return True where no rest is written between the two."""
    return before.end == note.start


def _part_of_beat(parts: int) -> Callable[[PlacedNote], bool]:
    def holds(at: PlacedNote) -> bool:
        return not at.note.joined and at.note.length / at.score.meter.pulse == Fraction(1, parts)

    return holds


def _held_by(hold: LipShape) -> Callable[[PlacedNote], bool]:
    return lambda at: at.note.embouchure is hold


def _in_a_riff(at: PlacedNote) -> bool:
    score = at.score
    plain = not score.anchor_holes and not score.rung_holes
    reeds = {note.reed for note in score.notes if not note.beside}
    return plain and len(reeds) >= RIFF_REEDS and score.notes[-1].degree.name == "1"


def _to_be_answered(at: PlacedNote) -> bool:
    """Return True in a call, which is as long as the echo after it."""
    return any(2 * start - end <= at.note.start < start for start, end in at.score.echoes)


WAYS = (
    RungWay("anchor", "anchor", "comes from the anchor and goes back to it", _from_anchor_and_back),
    RungWay("step", "step", "comes from the rung beside it with a new attack", _from_next_rung),
    RungWay("slide", "slide", "is slid to", _slid_to),
    RungWay("start", "start", "starts after a rest or from another hole", _started),
    RungWay("turn", "turn", "follows the other breath without a rest", _turned_to),
    RungWay("eighths", "8th", "lasts half a beat", _part_of_beat(2)),
    RungWay("triplets", "trip", "lasts a third of a beat", _part_of_beat(3)),
    RungWay("sixteenths", "16th", "lasts a quarter of a beat", _part_of_beat(4)),
    RungWay("tongue left", "left", "has the tongue to its left", _held_by(LipShape.TONGUE_LEFT)),
    RungWay(
        "tongue right", "right", "has the tongue to its right", _held_by(LipShape.TONGUE_RIGHT)
    ),
    RungWay("riff", "riff", "is part of a riff or scale that ends on the root", _in_a_riff),
    RungWay("ear", "ear", "is heard and then played back", _to_be_answered),
)
"""All ways, in the order in which they are usually met."""


def ways_practised(score: Score) -> dict[Reed, frozenset[str]]:
    """Return the names of the ways in which *score* practises each of its reeds.

    Each way it practises it asks for ``LEAST_TIMES`` at least.  Several holes at once count
    nowhere: there the mouth is not on one hole.
    """
    found = Counter(
        (at.note.reed, way.name)
        for at in _placed_notes(score)
        if not at.note.beside
        for way in WAYS
        if way.holds(at)
    )
    names: dict[Reed, set[str]] = {}
    for (reed, name), times in found.items():
        if times >= LEAST_TIMES:
            names.setdefault(reed, set()).add(name)
    return {reed: frozenset(each) for reed, each in names.items()}


def _placed_notes(score: Score) -> list[PlacedNote]:
    around = [None, *score.notes, None]
    return [
        PlacedNote(score, before, note, after)
        for (before, note), (_, after) in pairwise(pairwise(around))
        if note is not None
    ]
