"""The training content of a score: practised reeds, their approaches, and techniques.

A drill that stands on draw 2 all the time does not practise draw 2.  What it practises are its
rungs, those of several holes where it has no other.  Music without rungs practises its bends and
overbends, and where it has none the reeds it plays most often.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from reedmill.harp import Reed, ReedKind
from reedmill.score.score import Feel, LipShape, Note, Score
from reedmill.score.style import Mark

TECHNIQUES = (
    "single notes", "draw bend", "blow bend", "overbend", "quarter tone", "slide", "slow slide",
    "scoop", "fall", "vibrato", "hand mute", "double stop", "chord", "shake", "tongue block",
    "lift", "octave split", "slap", "pull", "triplets", "shuffle", "echo",
)  # fmt: skip

_OF_STYLE = {
    "scoop": Mark.SCOOP, "fall": Mark.FALL, "vibrato": Mark.VIBRATO, "hand mute": Mark.MUTE,
    "shake": Mark.SHAKE, "slap": Mark.SLAP, "pull": Mark.PULL,
}  # fmt: skip


def practised(score: Score) -> tuple[Reed, ...]:
    """Return the reeds *score* practises, each once, in the order of its rungs or of its notes.

    What sounds by itself is practised; the holes of chords are where nothing else is played, or
    where the drill has no other rungs.
    """
    if score.rung_holes:
        together = (reed for holes in score.rung_holes for reed in holes)
        return tuple(dict.fromkeys(score.rungs or together))
    alone = [note.reed for note in score.notes if not note.beside]
    played = Counter(alone or [reed for note in score.notes for reed in note.reeds])
    bent = tuple(reed for reed in played if reed.kind is not ReedKind.NATURAL)
    most = max(played.values(), default=0)
    return bent or tuple(reed for reed, times in played.items() if times == most)


def approaches(score: Score) -> tuple[tuple[Reed, Reed], ...]:
    """Return each note before a practised reed, with that reed, each pair once, in order.

    A rest between the two changes nothing: the mouth is still where it was.  Several holes at
    once are no approach and have none: there the mouth is not on one hole.
    """
    reeds = frozenset(practised(score))
    pairs = (
        (before.reed, note.reed)
        for before, note in pairwise(score.notes)
        if not before.beside and not note.beside
    )
    return tuple(dict.fromkeys(pair for pair in pairs if pair[1] in reeds))


def techniques(*scores: Score) -> tuple[str, ...]:
    """Return the techniques that *scores* need, in the order they are usually learnt."""
    needed = frozenset[str]().union(*map(_needed, scores))
    return tuple(name for name in TECHNIQUES if name in needed) or TECHNIQUES[:1]


def _needed(score: Score) -> set[str]:
    notes = score.notes
    needed = {
        "draw bend": any(_bends(reed, "draw") for note in notes for reed in note.reeds),
        "blow bend": any(_bends(reed, "blow") for note in notes for reed in note.reeds),
        "overbend": any(note.reed.over for note in notes),
        "quarter tone": any(reed.quarter for note in notes for reed in note.reeds),
        "slide": any(note.joined and not score.held_over(note) for note in notes),
        "slow slide": any(note.slide_beats is not None for note in notes),
        "double stop": any(len(note.beside) == 1 and _struck(note) for note in notes),
        "chord": any(len(note.beside) > 1 and _struck(note) for note in notes),
        "tongue block": any(map(_tongue_blocked, notes)),
        "lift": any(map(score.held_over, notes)),
        "octave split": any(note.tongue_on for note in notes),
        "triplets": bool(score.triplet_beats),
        "shuffle": score.feel is Feel.SHUFFLE,
        "echo": bool(score.echoes),
    }
    needed |= {name: any(mark in note.style for note in notes) for name, mark in _OF_STYLE.items()}
    return {name for name, is_needed in needed.items() if is_needed}


def _struck(note: Note) -> bool:
    """Return True for neighbouring holes that sound together, not to and fro."""
    return not note.tongue_on and Mark.SHAKE not in note.style


def _tongue_blocked(note: Note) -> bool:
    """Return True where the tongue covers holes: by the plan, in a split, or for a slap or pull."""
    by_plan = note.embouchure not in (None, LipShape.LIPS)
    return by_plan or bool(note.tongue_on) or Mark.SLAP in note.style or Mark.PULL in note.style


def _bends(reed: Reed, breath: str) -> bool:
    return reed.kind is ReedKind.BEND and reed.breath.value == breath
