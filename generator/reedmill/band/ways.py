"""The way a player plays each bar: another from phrase to phrase and from chorus to chorus."""

from __future__ import annotations

from functools import cache

from reedmill.band.feel import FeelStroke, Pattern
from reedmill.band.harmony import PHRASE, PlayedBar
from reedmill.band.moods import Way, chance

_ANSWERED = 0.5  # of the phrases: their last bar is played in another way
_PHRASES = 8  # of the longest chorus that goes on without coming back


def strokes_of(pattern: Pattern, bar: PlayedBar) -> tuple[FeelStroke, ...]:
    """Return the strokes of *pattern* for *bar*; it starts again with each chorus."""
    return pattern[bar.number % len(pattern)] if pattern else ()


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
