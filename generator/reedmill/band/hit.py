"""A stroke as written, in beats, before swing and looseness."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from reedmill.band.feel import FeelStroke, Pattern
from reedmill.band.harmony import PHRASE, PlayedBar
from reedmill.band.moods import Way, chance
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


def strokes_of(pattern: Pattern, bar: PlayedBar) -> tuple[FeelStroke, ...]:
    """Return the strokes of *pattern* for *bar*; it starts again with each chorus."""
    return pattern[bar.number % len(pattern)] if pattern else ()


_ANSWERED = 0.5  # of the phrases: their last bar is played in another way


def way_for(ways: tuple[Way, ...], bar: PlayedBar, seed: int, player: str) -> Way:
    """Return the one of *ways* that *player* has for *bar*.

    Each phrase has another one than the phrase before, no chorus has those of the chorus before,
    and the last bar of a phrase is often answered in another way.
    """
    way = _turns(len(ways), bar.chorus, seed, player)[bar.phrase % _PHRASES]
    draw = chance(seed, player, "answer", bar.chorus, bar.phrase)
    if bar.number % PHRASE == PHRASE - 1 and draw.random() < _ANSWERED:
        way += draw.randrange(len(ways))
    return ways[way % len(ways)]


_PHRASES = 8  # of the longest chorus that goes on without coming back


@cache
def _turns(count: int, chorus: int, seed: int, player: str) -> tuple[int, ...]:
    """Return the number of the way for each phrase of a chorus."""
    draw = chance(seed, player, chorus)
    turns = [draw.randrange(count)]
    while len(turns) < _PHRASES:
        turns.append((turns[-1] + draw.randrange(1, max(count, 2))) % count)
    shift = draw.randrange(1, max(count, 2))
    before = _turns(count, chorus - 1, seed, player) if chorus > 0 else ()
    return tuple((turn + shift) % count if before[:1] == (turns[0],) else turn for turn in turns)


def starts_in(bar: PlayedBar) -> tuple[Fraction, ...]:
    """Return where in *bar* each of its chords starts, in beats from the bar line."""
    return tuple(each.start - bar.start for each in bar.stretches)
