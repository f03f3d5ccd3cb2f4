"""A stroke as written, in beats, before swing and looseness."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from reedmill.band.harmony import PlayedBar
from reedmill.score.arrangement import Part


@dataclass(frozen=True, slots=True)
class Hit:
    """One stroke of one player, as it would be written."""

    part: Part
    start: Fraction  # beats from the start of the music
    end: Fraction
    key: int  # MIDI
    louder: int = 0  # velocity on top of the player's loudness
    spread_ms: int = 0  # later than what is struck with it: string after string
    steady: bool = False  # as hard as written: an organ knows no other


def starts_in(bar: PlayedBar) -> tuple[Fraction, ...]:
    """Return where in *bar* each of its chords starts, in beats from the bar line."""
    return tuple(each.start - bar.start for each in bar.stretches)
