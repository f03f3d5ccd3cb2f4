"""The ladders of a practice page: the reeds that take care to place, and every note of the harp."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from reedmill.harp import Reed, ReedKind, bend_depth, bending_breath, hole_rungs, note_on_harp
from reedmill.score.score import Score
from reedmill.theory.pitch import equal_hz, with_signs

_MOST = 3
"""Ladders on a page: more are smaller than a phone can show."""
_FURTHEST = 12  # semitones from a rung to the anchor


@dataclass(frozen=True, slots=True)
class PageRung:
    """One rung of a reed's ladder: a note and its pitch."""

    tab: str
    name: str  # of the note, with the signs of music
    degree: str  # with the signs of music
    hz: float
    used: bool  # by the drill
    anchor: bool


@dataclass(frozen=True, slots=True)
class PageLadder:
    """One hole in one breath, its rungs from high to low."""

    words: str  # "hole 3 draw"
    rungs: tuple[PageRung, ...]


def ladders(score: Score) -> tuple[PageLadder, ...]:
    """Return a ladder for each hole that *score* bends or overbends, the most played first.

    A drill without either has those of its natural notes that can bend: too much breath pulls
    them flat (a beginner's draw 2 and 3 first of all), and the ladder shows how far (common
    practice).  Notes that cannot bend hold their pitch, and have no ladder.
    """
    reeds = [note.reed for note in score.notes if not note.beside]  # what the ladder can follow
    asked = Counter(reed.natural for reed in reeds if reed.kind is not ReedKind.NATURAL)
    rows = asked or Counter(reed.natural for reed in reeds if _bends(score, reed))
    first = sorted(rows, key=lambda row: (-rows[row], row.hole, row.breath.value))
    return tuple(_ladder(score, row) for row in first[:_MOST])


def _bends(score: Score, reed: Reed) -> bool:
    layout = score.harp.layout
    return bending_breath(layout, reed.hole) is reed.breath and bend_depth(layout, reed.hole) > 0


def _ladder(score: Score, natural: Reed) -> PageLadder:
    reeds = list(hole_rungs(score.harp.layout, natural))
    reeds += [reed for reed in _between_rungs(score) if reed.natural == natural]
    reeds += _anchor_near(score, reeds)
    rungs = sorted((_rung(score, each) for each in dict.fromkeys(reeds)), key=lambda one: -one.hz)
    return PageLadder(f"hole {natural.hole} {natural.breath.value}", tuple(rungs))


def _anchor_near(score: Score, reeds: list[Reed]) -> list[Reed]:
    """Return the anchor, unless it is so far from *reeds* that it would squeeze their rungs."""
    if score.anchor is None:
        return []
    home = score.harp.midi(score.anchor)
    far = min(abs(score.harp.midi(each) - home) for each in reeds)
    return [score.anchor] if far <= _FURTHEST else []


def _between_rungs(score: Score) -> list[Reed]:
    """Return the quarter tones of *score*, which lie between the rungs of every harp."""
    reeds = (note.reed for note in score.notes if note.reed.quarter and not note.beside)
    return list(dict.fromkeys(reeds))


def _rung(score: Score, reed: Reed) -> PageRung:
    heard = note_on_harp(score.harp, score.position, reed)
    # In the drill a note has the intonation's pitch; one that it leaves out has the harp's own.
    played = next((note.hz for note in score.notes if note.reed == reed and not note.beside), None)
    return PageRung(
        tab=reed.tab,
        name=with_signs(heard.pitch.note),
        degree=heard.degree.printed,
        hz=round(_own_hz(score, reed) if played is None else played, 4),
        used=played is not None,
        anchor=reed == score.anchor,
    )


def _own_hz(score: Score, reed: Reed) -> float:
    """Return the Hz of *reed* of the player's own harp in equal temperament."""
    return score.harp.tuned(reed, equal_hz(score.harp.midi(reed), score.reference_hz))


def every_note(score: Score) -> tuple[tuple[str, float], ...]:
    """Return tab and Hz of every reed, bend and overbend of the harp, one for each pitch."""
    found: dict[int, Reed] = {}
    for reed in sorted(score.harp.reeds(), key=lambda reed: abs(reed.bend)):
        found.setdefault(score.harp.midi(reed), reed)
    alone = [note for note in score.notes if not note.beside]
    played = {
        score.harp.midi(note.reed): (note.reed.tab, note.hz) for note in alone
        if not note.reed.quarter
    }  # fmt: skip
    notes = {midi: (reed.tab, _own_hz(score, reed)) for midi, reed in found.items()}
    between = {(note.reed.tab, note.hz) for note in alone if note.reed.quarter}
    every = sorted([*(notes | played).values(), *between], key=lambda each: each[1])
    return tuple((tab, round(hz, 4)) for tab, hz in every)
