"""What sounds in a band, read without our own tables: chords by music21, places without swing."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache

import music21


@cache
def tones_of(symbol: str) -> tuple[frozenset[int], int]:
    """The pitch classes of a chord symbol and that of its root, by music21."""
    root = re.match("[A-G][b#]?", symbol)
    assert root
    name = root[0].replace("b", "-") + symbol[root.end() :]
    chord = music21.harmony.ChordSymbol(name)
    return frozenset(pitch.pitchClass for pitch in chord.pitches), chord.root().pitchClass


@cache
def written_place(heard: Fraction, swing: Fraction) -> Fraction:
    """The written place of an exactly played stroke: swing undone."""
    beat, inside = divmod(heard, 1)
    first = swing / (swing + 1)
    share = inside / first if inside <= first else 1 + (inside - first) / (1 - first)
    return beat + share / 2
