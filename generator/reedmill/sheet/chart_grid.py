"""The grid of a chord chart: bars as boxes, how many to a line, and the size of chords.

A chart stands on a music stand and is read while playing.  Letters are read with ease where
they are a two hundredth of the distance high, and just so at a two hundred and fiftieth
(common practice of sign makers and of slides for lecture rooms).  Two metres from the stand
that is 10 and 8 mm: no root of a chord is printed lower than 8 mm.  Where four bars to a line
are too narrow for that, there are two to a line, or one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedmill.score.arrangement import Arrangement
from reedmill.sheet.chart_symbols import numeral_markup, size_of, symbol_markup, symbol_width
from reedmill.sheet.look import Look
from reedmill.sheet.markup import FAINT, INK, LINE, at, box, coloured, lilypond_string, resized
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key

READ_AT_MM = 2000.0  # from the eye to the music stand
LEAST_CAPITAL_MM = READ_AT_MM / 250
_MOST_CAPITAL_MM = 20.0  # larger is no easier to read, and crowds its box; chosen by eye

# The rows of a box from the top, in staff spaces: its number, the chord, the numeral.
_NUMBER, _NUMERAL, _AIR = 2.1, 3.5, 1.2
_BETWEEN = 0.6  # boxes, along and down
_SIDE, _GAP = 0.7, 1.2  # inside a box, and between two chords of one
_NUMERAL_SIZE = 0.5  # font size in steps, the least: secondary to the chord
_PER_LINE = (4, 2, 1)  # bars: phrases of most forms are four bars, and halve evenly
_EVEN = 1.5  # the largest chord of a chart to the smallest: a page of one voice


class ChordRoom(NamedTuple):
    """The room of one chord in the box of its bar, in parts of the bar."""

    start: Fraction  # 0 to 1
    share: Fraction
    chord: Chord


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar of the form: its number from 1, and its chords with their share of it."""

    number: int
    chords: tuple[tuple[Fraction, Chord], ...]  # where in the bar each starts, 0 to 1
    word: str = ""  # what the band does in it, where it does not play on

    def rooms(self) -> Iterator[ChordRoom]:
        """Yield the room of each chord, from left to right."""
        ends = [*(share for share, _ in self.chords[1:]), Fraction(1)]
        for (share, chord), end in zip(self.chords, ends, strict=True):
            yield ChordRoom(share, end - share, chord)


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A line of bars side by side, at most *columns* of them."""

    bars: tuple[ChartBar, ...]
    columns: int
    label: str = ""  # small, above them


def chart_bars(band: Arrangement, chorus: int) -> list[ChartBar]:
    """Return the bars of a *chorus* of *band*, counted from 0."""
    beats = band.meter.beats
    found = []
    for at_bar in range(band.bars_of(chorus)):
        start = band.chorus_start(chorus) + at_bar * beats
        inside = [(begin, each) for begin, each in band.chords if start < begin < start + beats]
        chords = [(start, band.chord_at(start)), *inside]
        shares = tuple(((begin - start) / beats, chord) for begin, chord in chords)
        found.append(ChartBar(at_bar + 1, shares, _word(band, chorus, at_bar)))
    return found


def _word(band: Arrangement, chorus: int, bar: int) -> str:
    """Return what the band does in *bar* of *chorus*; nothing where it closes the music."""
    closing = chorus == band.choruses - 1 and bar == band.bars_of(chorus) - 1
    words = {"stop": bar in band.stops, "break": bar in band.breaks}
    return "" if closing else next((word for word, here in words.items() if here), "")


def chart_lines(
    bars: Sequence[ChartBar], key: Key, look: Look, most: int, label: str = ""
) -> Iterator[ChartLine]:
    """Yield lines of at most *most* (4, 2 or 1) *bars*, fewer where letters would be too small."""
    first = (bars[0].number - 1) // most * most
    for start in range(first, bars[-1].number, most):
        line = [bar for bar in bars if start < bar.number <= start + most]
        columns = _columns(line, key, look, most)
        for inner in range(start, start + most, columns):
            part = tuple(bar for bar in line if inner < bar.number <= inner + columns)
            if part:
                yield ChartLine(part, columns, label)
                label = ""


def _columns(line: Sequence[ChartBar], key: Key, look: Look, most: int) -> int:
    """Return how many bars to a line keep all chords of *line* large enough."""
    least = LEAST_CAPITAL_MM / look.space_mm
    for columns in _PER_LINE:
        if columns <= most and all(_widest(bar, key, look, columns) >= least for bar in line):
            return columns
    return _PER_LINE[-1]


def _box_width(look: Look, columns: int) -> float:
    return (look.width + _BETWEEN) / columns - _BETWEEN


def _room(look: Look, columns: int, share: Fraction) -> float:
    """Return the width for a chord with this *share* of its bar, in staff spaces."""
    return float(share) * (_box_width(look, columns) - 2 * _SIDE + _GAP) - _GAP


def _widest(bar: ChartBar, key: Key, look: Look, columns: int) -> float:
    """Return how high capitals may be in *bar*, by the width its chords have."""
    return min(
        _room(look, columns, share) / symbol_width(*chord.symbol_parts(key))
        for _, share, chord in bar.rooms()
    )


def largest_capital(lines: Sequence[ChartLine], key: Key, look: Look) -> float:
    """Return the greatest capital height for the chords of a chart, in staff spaces."""
    smallest = min(_widest(bar, key, look, line.columns) for line in lines for bar in line.bars)
    return min(_MOST_CAPITAL_MM / look.space_mm, _EVEN * smallest)


def least_line_height(look: Look) -> float:
    """Return the least height of a line, in staff spaces, with the gap to the next."""
    return LEAST_CAPITAL_MM / look.space_mm + _NUMBER + _NUMERAL + _AIR + _BETWEEN


def line_markup(line: ChartLine, key: Key, look: Look, height: float, largest: float) -> list[str]:
    """Return the parts of *line*, *height* staff spaces high with the gap below; its top is 0.

    No capital is higher than *largest*.
    """
    width = _box_width(look, line.columns)
    return [
        part
        for n, bar in enumerate(line.bars)
        for part in _cell(bar, n * (width + _BETWEEN), key, look, line, height, largest)
    ]


def _cell(
    bar: ChartBar, x: float, key: Key, look: Look, line: ChartLine, height: float, largest: float
) -> Iterator[str]:
    tall, wide = height - _BETWEEN, _box_width(look, line.columns)
    yield coloured(LINE, box(x, -tall, wide, tall, filled=False, line=0.12))
    number = coloured(FAINT, f"\\sans {resized(-2.5, lilypond_string(str(bar.number)))}")
    word = coloured(INK, f"\\sans \\bold {resized(-1.0, lilypond_string(bar.word))}")
    yield at(x + 0.7, -1.9, f"\\concat {{ {number} \\hspace #1 {word} }}" if bar.word else number)
    high = min(
        tall - _NUMBER - _NUMERAL - _AIR,
        largest,
        _widest(bar, key, look, line.columns),
    )
    space = tall - _NUMBER - _NUMERAL - high
    base = -_NUMBER - high - space / 3
    for start, share, chord in bar.rooms():
        left = x + _SIDE + float(start) * (wide - 2 * _SIDE + _GAP)
        room = _room(look, line.columns, share)
        symbol = symbol_markup(*chord.symbol_parts(key), high)
        yield at(left, base, coloured(INK, within(room, symbol)))
        numeral = numeral_markup(chord.name, _numeral_size(high))
        yield at(left, -tall + 1.2, coloured(FAINT, within(room, numeral)))


def _numeral_size(high: float) -> float:
    """Return the size of numerals, which grow a little with the chords."""
    return min(2.5, max(_NUMERAL_SIZE, size_of(high) - 7.5))


def within(room: float, markup: str) -> str:
    r"""Shrink *markup* where it is wider than *room*, see ``WITHIN``."""
    return f"\\within #{room:.3f} {markup}"


WITHIN = r"""#(define-markup-command (within layout props room arg) (number? markup?)
  (let* ((stencil (interpret-markup layout props arg))
         (wide (interval-length (ly:stencil-extent stencil X))))
    (if (> wide room) (ly:stencil-scale stencil (/ room wide) (/ room wide)) stencil)))
"""
"""The markup command that ``within`` writes; it stands once in a chart's input."""
