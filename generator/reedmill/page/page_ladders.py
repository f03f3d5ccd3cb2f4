"""The ladders of a practice page: each bent reed of a drill, and every note of the harp."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from reedmill.harp import Reed, bend_depth, bending_breath, note_on_harp
from reedmill.score.score import Score
from reedmill.theory.pitch import equal_hz, with_signs

_MOST = 3
"""Ladders on a page: more are smaller than a phone can show."""


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
    """Return a ladder for each hole that *score* bends, the most played first."""
    bent = Counter(note.reed.hole for note in score.notes if note.reed.bend)
    holes = sorted(bent, key=lambda hole: (-bent[hole], hole))[:_MOST]
    return tuple(_ladder(score, hole) for hole in holes)


def _ladder(score: Score, hole: int) -> PageLadder:
    layout = score.harp.layout
    breath = bending_breath(layout, hole)
    rungs = [Reed(hole, breath, bend) for bend in range(bend_depth(layout, hole) + 1)]
    anchor = score.anchor
    shown = dict.fromkeys([*rungs, anchor] if anchor is not None else rungs)
    pitched = sorted((_rung(score, reed) for reed in shown), key=lambda each: -each.hz)
    return PageLadder(f"hole {hole} {breath.value}", tuple(pitched))


def _rung(score: Score, reed: Reed) -> PageRung:
    heard = note_on_harp(score.harp, score.position, reed)
    # In the drill a note has the intonation's pitch; one that it leaves out has the harp's own.
    played = next((note.hz for note in score.notes if note.reed == reed), None)
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
    played = {score.harp.midi(note.reed): (note.reed.tab, note.hz) for note in score.notes}
    notes = {midi: (reed.tab, _own_hz(score, reed)) for midi, reed in found.items()}
    return tuple((tab, round(hz, 4)) for _, (tab, hz) in sorted((notes | played).items()))
