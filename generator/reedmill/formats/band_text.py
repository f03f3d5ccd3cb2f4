"""A chord chart of an Arrangement as plain text."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from reedmill.base.text import printable
from reedmill.score.arrangement import Arrangement
from reedmill.score.score import Score

_BARS_A_LINE = 4


def backing_text(arrangement: Arrangement) -> str:
    """Return the chord symbols, four bars a line: the repeated chorus, then the last one.

    A chord that goes on is written again in each bar, so that every bar says what holds.
    """
    count = arrangement.choruses
    tempo = f"{arrangement.tempo_bpm} beats a minute"
    head = [
        printable(f"{arrangement.form}, {arrangement.feel}"),
        f"Key of {arrangement.key_words}, {arrangement.meter.name}, {tempo}, "
        f"{count} chorus{'es' if count > 1 else ''}",
        *([arrangement.road] if arrangement.road else []),
    ]
    parts = ["\n".join(head)]
    if count > 1:
        parts.append("\n".join(_lines(arrangement, 0)))
    title = ["Last chorus"] if count > 1 else []
    parts.append("\n".join([*title, *_lines(arrangement, count - 1)]))
    return "\n\n".join(parts) + "\n"


def band_text(score: Score) -> str:
    """Return the chords under *score* as ``backing_text`` does; ``ValueError`` without a band."""
    if score.band is None:
        raise ValueError("no band plays under this score")
    return backing_text(score.band)


def _lines(arrangement: Arrangement, chorus: int) -> Iterator[str]:
    first, beats = arrangement.chorus_start(chorus), arrangement.meter.beats
    bars = [_bar(arrangement, first + at * beats) for at in range(arrangement.bars_of(chorus))]
    width = max(map(len, bars))
    for at in range(0, len(bars), _BARS_A_LINE):
        row = bars[at : at + _BARS_A_LINE]
        yield "| " + " | ".join(f"{bar:{width}}" for bar in row) + " |"


def _bar(arrangement: Arrangement, start: Fraction) -> str:
    end = start + arrangement.meter.beats
    inside = [chord for at, chord in arrangement.changing(start, end) if at > start]
    chords = [arrangement.chord_at(start), *inside]
    return " ".join(chord.symbol(arrangement.key) for chord in chords)
