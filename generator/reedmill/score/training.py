"""The training content of a score: practised reeds, their approaches, and techniques.

A drill that stands on draw 2 all the time does not practise draw 2.  What it practises are its
rungs.  Music without rungs practises its bends and overbends, and where it has none the reeds
it plays most often.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from reedmill.harp import Reed, ReedKind
from reedmill.score.score import Feel, LipShape, Score

TECHNIQUES = (
    "single notes", "draw bend", "blow bend", "overbend", "slide", "tongue block", "triplets",
    "shuffle", "echo",
)  # fmt: skip


def practised(score: Score) -> tuple[Reed, ...]:
    """Return the reeds *score* practises, each once, in the order of its rungs or of its notes."""
    if score.rungs:
        return tuple(dict.fromkeys(score.rungs))
    played = Counter(note.reed for note in score.notes)
    bent = tuple(reed for reed in played if reed.kind is not ReedKind.NATURAL)
    most = max(played.values(), default=0)
    return bent or tuple(reed for reed, times in played.items() if times == most)


def approaches(score: Score) -> tuple[tuple[Reed, Reed], ...]:
    """Return each note before a practised reed, with that reed, each pair once, in order.

    A rest between the two changes nothing: the mouth is still where it was.
    """
    reeds = frozenset(practised(score))
    pairs = ((before.reed, note.reed) for before, note in pairwise(score.notes))
    return tuple(dict.fromkeys(pair for pair in pairs if pair[1] in reeds))


def techniques(*scores: Score) -> tuple[str, ...]:
    """Return the techniques that *scores* need, in the order they are usually learnt."""
    needed = frozenset[str]().union(*map(_needed, scores))
    return tuple(name for name in TECHNIQUES if name in needed) or TECHNIQUES[:1]


def _needed(score: Score) -> set[str]:
    notes = score.notes
    needed = {
        "draw bend": any(_bends(note.reed, "draw") for note in notes),
        "blow bend": any(_bends(note.reed, "blow") for note in notes),
        "overbend": any(note.reed.over for note in notes),
        "slide": any(note.joined for note in notes),
        "tongue block": any(note.embouchure not in (None, LipShape.LIPS) for note in notes),
        "triplets": bool(score.triplet_beats),
        "shuffle": score.feel is Feel.SHUFFLE,
        "echo": bool(score.echoes),
    }
    return {name for name, is_needed in needed.items() if is_needed}


def _bends(reed: Reed, breath: str) -> bool:
    return reed.kind is ReedKind.BEND and reed.breath.value == breath
