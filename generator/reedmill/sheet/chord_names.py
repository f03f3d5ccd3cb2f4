"""Chords on a sheet: symbols and bar numbers over the staff, chord tones below."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from reedmill.score.arrangement import Arrangement
from reedmill.score.repeats import PrintedBar
from reedmill.score.score import Note, Score
from reedmill.score.targets import chord_tone, is_target
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    accidental,
    at,
    coloured,
    lilypond_string,
    resized,
)
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key


def chord_row(score: Score, shown: Sequence[PrintedBar]) -> str:
    """Return the row over the staff: at each bar its number in the form, and every new chord.

    Empty where nothing plays under the score.  A chord that goes on is not written again,
    but at the first bar, and where an ending or a repeat begins.
    """
    band = score.band
    if band is None:
        return ""
    syllables = [
        f"\\markup {mark} {_length(stop - start, score.meter.unit)}"
        for bar in shown
        for start, stop, mark in _marks(bar, band, score.key)
    ]
    body = "\n".join(syllables)
    return f"""\\new Lyrics \\with {{
  \\override VerticalAxisGroup.staff-affinity = #DOWN
  \\override VerticalAxisGroup.nonstaff-relatedstaff-spacing =
    #'((basic-distance . 5) (minimum-distance . 4) (padding . 1.2))
  \\override LyricText.X-offset = #0
  \\override LyricText.self-alignment-X = #LEFT
}} \\lyricmode {{
{body}
}}
"""


def _length(beats: Fraction, unit: int) -> str:
    length = beats / unit
    return f"1*{length.numerator}/{length.denominator}"


def _marks(bar: PrintedBar, band: Arrangement, key: Key) -> list[tuple[Fraction, Fraction, str]]:
    """Return start, length and mark of each stretch of *bar* under one chord."""
    changes = [start for start, _ in band.changing(bar.start, bar.end) if start > bar.start]
    again = bar.start == 0 or bar.opens or bar.ending
    new = again or band.changes_at(bar.start)
    found = []
    for start, stop in pairwise([bar.start, *changes, bar.end]):
        first = start == bar.start
        symbol = _symbol(band.chord_at(start), key) if new or not first else "\\null"
        found.append((start, stop, _numbered(bar, band, symbol) if first else symbol))
    return found


def _numbered(bar: PrintedBar, band: Arrangement, symbol: str) -> str:
    number = str(int(bar.start // band.meter.beats) % band.bars_a_chorus + 1)
    small = coloured(FAINT, f"\\sans {resized(-4, lilypond_string(number))}")
    return f"\\concat {{ {at(0, 0.9, small)} \\hspace #0.7 {symbol} }}"


def _symbol(chord: Chord, key: Key) -> str:
    return coloured(INK, f"\\sans \\bold {resized(0, accidental(chord.symbol(key)))}")


def tone_mark(score: Score, note: Note) -> str:
    """Return the chord tone of *note*: targets bold in the accent colour, a dot for none."""
    tone = chord_tone(score, note)
    if tone is None:
        return coloured(FAINT, f"\\sans \\center-align {resized(-1, lilypond_string('·'))}")
    text = accidental("R" if tone == "1" else tone)
    if is_target(score, note):
        return coloured(ACCENT, f"\\sans \\bold \\center-align {resized(-0.5, text)}")
    return coloured(INK, f"\\sans \\center-align {resized(-1.5, text)}")
