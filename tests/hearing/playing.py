"""A student who plays a score, faults and all: what he truly did, note by note.

Nothing here makes sound and nothing here listens.  What each note was is drawn at random from
a seed, in the kinds of faults that teachers name: out of tune, another reed, left out, put in,
late after thinking, a pace that wanders, vibrato, scoops, and bends that sink to their place.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from reedmill.harp import Harp, ReedKind
from reedmill.score.score import Note, Score
from reedmill.theory.pitch import equal_hz


class Shape(Enum):
    """What the pitch does inside a note."""

    PLAIN = "plain"
    VIBRATO = "vibrato"
    SCOOP = "scoop"  # begins below and rises to its place
    SINK = "sink"  # begins on the natural note and sinks to the bend


@dataclass(frozen=True)
class Played:
    """One note as it was truly played."""

    index: int | None  # of the score's note; None for one that was put in
    start_s: float
    end_s: float
    hz: float  # where it came to rest
    from_hz: float  # where it began
    moving_s: float  # how long it took from there
    shape: Shape
    slid: bool  # no new attack: the breath went on from the note before
    level_db: float
    verdict: str  # what a teacher who knows all this must say


@dataclass(frozen=True)
class Habits:
    """How often what happens, as shares of all notes, and how the take is played."""

    off: float = 0.25
    near: float = 0.15
    other: float = 0.05
    missed: float = 0.04
    extra: float = 0.03
    hesitation: float = 0.04
    shaped: float = 0.3
    harp_cents: float = 0.0
    pace: float = 1.0  # over the score's own
    wander: float = 0.15  # how far the pace drifts from that, as a share


FAULTLESS = Habits(0, 0, 0, 0, 0, 0, 0, wander=0.0)


def cents(hz: float, against_hz: float) -> float:
    return float(1200 * np.log2(hz / against_hz))


def lifted(hz: float, by_cents: float) -> float:
    return float(hz * 2 ** (by_cents / 1200))


def play(
    score: Score, habits: Habits, rng: np.random.Generator, begin_s: float = 0.8
) -> list[Played]:
    """*score* once through, from *begin_s* on."""
    seconds = [float(score.performed_s(note.start)) for note in score.notes]
    ends = [float(score.performed_s(note.end)) for note in score.notes]
    total = max(ends)
    phase = rng.uniform(0, 2 * np.pi)
    late = 0.0
    found: list[Played] = []

    def at(score_s: float) -> float:
        # The pace is 1 + wander * sin: its integral is the time that has passed.
        turn = 2 * np.pi / max(total, 1.0)
        gone = score_s + habits.wander / turn * (np.cos(phase) - np.cos(turn * score_s + phase))
        return float(begin_s + gone * habits.pace)

    for index, note in enumerate(score.notes):
        after = score.notes[index + 1] if index + 1 < len(score.notes) else None
        kind = _kind(note, after, habits, rng)
        if kind == "missed" and not index:
            kind = "plain"  # that something should have come before the first sound, nothing tells
        if kind == "missed":
            continue
        if not note.joined and index and rng.random() < habits.hesitation:
            late += rng.uniform(0.4, 1.4)
        start, end = at(seconds[index]) + late, at(ends[index]) + late
        if found and start < found[-1].end_s + 0.03 and not note.joined:
            start = found[-1].end_s + 0.03
        goes_on = after is not None and after.joined and after.start == note.end
        length = end - start
        gap = 0.0 if goes_on else min(rng.uniform(0.04, 0.12), 0.3 * length)
        if kind == "extra" and length > 0.5:
            middle = start + 0.5 * length
            found.append(_one(score, note, index, "plain", start, middle - 0.06, habits, rng))
            wrong = _another(score.harp, note, rng) * _ratio(habits)
            found.append(
                Played(
                    None,
                    middle,
                    end - gap,
                    wrong,
                    wrong,
                    0.0,
                    Shape.PLAIN,
                    False,
                    rng.uniform(-2, 2),
                    "extra",
                )
            )
            continue
        slid = note.joined and bool(found) and found[-1].index == index - 1
        found.append(_one(score, note, index, kind, start, end - gap, habits, rng, slid))
    return found


def _kind(note: Note, after: Note | None, habits: Habits, rng: np.random.Generator) -> str:
    slides = note.joined or (after is not None and after.joined)
    edges = np.cumsum([habits.other, habits.missed, habits.extra])
    place = rng.random()
    if slides or place >= edges[2]:
        return "plain"
    return ("other", "missed", "extra")[int(np.searchsorted(edges, place, side="right"))]


def _one(
    score: Score,
    note: Note,
    index: int,
    kind: str,
    start: float,
    end: float,
    habits: Habits,
    rng: np.random.Generator,
    slid: bool = False,
) -> Played:
    level = rng.uniform(-2.5, 2.5)
    if kind == "other":
        hz = lifted(_another(score.harp, note, rng) * _ratio(habits), rng.uniform(-8, 8))
        return Played(index, start, end, hz, hz, 0, Shape.PLAIN, False, level, "another-note")
    bent = note.reed.kind is not ReedKind.NATURAL
    off, verdict = _off(habits, rng, bent)
    hz = lifted(note.hz * _ratio(habits), off)
    shape, from_hz, moving = Shape.PLAIN, hz, 0.0
    if slid:
        moving = min(rng.uniform(0.06, 0.16), 0.4 * (end - start))
    elif rng.random() < habits.shaped and end - start > 0.35:
        shape = Shape(rng.choice(["vibrato", "scoop", "sink"]))
        if shape is Shape.SINK and not bent:
            shape = Shape.SCOOP
        if shape is not Shape.VIBRATO:
            moving = min(rng.uniform(0.08, 0.2), 0.35 * (end - start))
            up = 100.0 * note.reed.bend if shape is Shape.SINK else -rng.uniform(40, 120)
            from_hz = lifted(hz, up)
    return Played(index, start, end, hz, from_hz, moving, shape, slid, level, verdict)


def _off(habits: Habits, rng: np.random.Generator, bent: bool) -> tuple[float, str]:
    """Cents from the target, well inside the bounds of the verdict that goes with them."""
    side, place = rng.choice([-1, 1]), rng.random()
    # A natural note is hardly ever far out, and most of them hold the harp's pitch.
    if place < habits.off * (1.0 if bent else 0.15):
        far = side * rng.uniform(30, 60)
        return far, "sharp" if far > 0 else "flat"
    if place < (habits.off + habits.near) * (1.0 if bent else 0.3):
        return side * rng.uniform(14, 21), "near"
    return rng.uniform(-5, 5), "on"


def _another(harp: Harp, note: Note, rng: np.random.Generator) -> float:
    """A natural note of the harp within a fifth of the right one, and not it."""
    keys = {harp.midi(reed) for reed in harp.reeds(overbends=False) if not reed.bend}
    near = sorted(k for k in keys if 1 < abs(k - note.pitch.midi) <= 7)
    return equal_hz(int(rng.choice(near)))


def _ratio(habits: Habits) -> float:
    return float(2 ** (habits.harp_cents / 1200))
