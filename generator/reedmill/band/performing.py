"""From written strokes to performed ones: swing, loudness and, where asked for, looseness."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

from reedmill.band.feel import BandFeel
from reedmill.band.hit import Hit
from reedmill.score.arrangement import Part, Struck, swung

MOST_OFF = Fraction(1, 32)
"""The most a loose stroke is off in beats, so that neighbours never change places."""

_ORDER = {part: place for place, part in enumerate(Part)}
_UNMOVED = (Fraction(0), 0)
_TENTHS = 10  # offsets are whole tenths of a millisecond


def performed(
    hits: list[Hit],
    feel: BandFeel,
    tempo_bpm: int,
    seed: int,
    downbeats: frozenset[Fraction],
    length: Fraction,
) -> tuple[Struck, ...]:
    """Return the strokes as performed, in time order; none sounds after *length* beats.

    Seed 0 is exact.  Any other moves each stroke by at most the feel's timing either way
    and makes it louder or softer by at most its velocity; equal seeds move alike.  What a
    player strikes together stays together, and the first beat of a chorus (*downbeats*)
    is never early.
    """
    hits = sorted(hits, key=lambda hit: (hit.start, _ORDER[hit.part], hit.key))
    shifts = _shifts(hits, feel, tempo_bpm, seed, downbeats)
    straight = feel.swing == 1
    heard: list[Struck] = []
    for hit in hits:
        start, end = hit.start, hit.end
        if not straight:
            start, end = swung(start, feel.swing), swung(end, feel.swing)
        later, louder = shifts.get((hit.part, hit.start), _UNMOVED) if seed else _UNMOVED
        if later:
            start, end = start + later, end + later
        velocity = min(127, max(1, feel.loud(hit.part) + hit.louder + louder))
        heard.append(Struck(hit.part, start, min(end, length) - start, hit.key, velocity))
    return tuple(_apart(sorted(heard, key=_time_order) if seed else heard))


def _time_order(note: Struck) -> tuple[Fraction, int, int]:
    return note.start, _ORDER[note.part], note.key


def _shifts(
    hits: list[Hit], feel: BandFeel, tempo_bpm: int, seed: int, downbeats: frozenset[Fraction]
) -> dict[tuple[Part, Fraction], tuple[Fraction, int]]:
    """Return how much later (in beats) and louder each stroke is than written."""
    if not seed:
        return {}
    chance = random.Random(seed)  # noqa: S311  a musician's looseness, no secret
    beats_per_ms = tempo_bpm * feel.meter.pulse / 60_000
    found: dict[tuple[Part, Fraction], tuple[Fraction, int]] = {}
    for hit in hits:
        if (hit.part, hit.start) in found:
            continue
        most = feel.timing_ms * _TENTHS
        off = Fraction(chance.randint(-most, most), _TENTHS) * beats_per_ms
        off = max(-MOST_OFF, min(MOST_OFF, off))
        off = abs(off) if hit.start in downbeats else off
        found[hit.part, hit.start] = off, chance.randint(-feel.velocity, feel.velocity)
    return found


def _apart(notes: list[Struck]) -> list[Struck]:
    """Release each key of a player before it is struck again."""
    following: dict[tuple[Part, int], Fraction] = {}
    found: list[Struck] = []
    for note in reversed(notes):
        again = following.get((note.part, note.key))
        if again is not None and note.start + note.length > again > note.start:
            note = replace(note, length=again - note.start)
        following[note.part, note.key] = note.start
        found.append(note)
    return found[::-1]
