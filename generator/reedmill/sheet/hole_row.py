"""The marks of a note in the rows under the staff: its holes with their breath, and its degrees.

Several holes stand beside one another as they do in the mouth, the lowest at the left, with a
filled square for each hole that the tongue covers between them, over one arrow for the breath.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reedmill.harp import Reed
from reedmill.score.score import Note
from reedmill.sheet.markup import (
    ACCENT,
    INK,
    LINE,
    NOTHING,
    accidental,
    at,
    box,
    breath_arrow,
    coloured,
    lilypond_string,
    overlay,
    resized,
    slab,
)

DIGIT = 1.55
"""Width of one digit of a hole number in the tab row, in staff spaces as all here."""

TICK = 1.0
"""From one tick of a bend to the next: 1.2 mm of white, some 3 minutes of arc at 1.2 m."""

USUAL_TAB, LARGE_TAB = 1.0, 2.3
"""Sizes of hole numbers in steps over that of a row: 13.8 and 16 points on a staff of 20."""

BOX_WIDTHS, BOX_HEIGHT = (5.4, 4.4, 3.6, 2.8, 2.0), 4.8
"""An empty box to write tab in: 9.5 by 8.4 mm on a staff of 20 points, a line of a writing book;
narrower where a beat has very many notes."""

QUARTER_SIGN = "q"
"""What follows the ticks of a hole that is played a quarter tone lower, as in plain tab."""

_OVER, _QUARTER = 1.62, 1.15  # width of the sign of an overbend, and of a quarter tone's
_HOLES_APART, _BESIDE = 0.55, 0.8  # inside and around the holes of one breath
_SQUARE, _SQUARES_APART = 1.0, 0.35  # of the tongue
_SMALLER = 2.5  # steps that the sign of a quarter tone is smaller than a hole number
_DEGREE, _SIGN = 1.15, 1.05  # width of a degree's figure, and of a sign before or after it
_DEGREES_APART, _DEGREES_BESIDE = 0.75, 0.5


def tab_growth(size: float) -> float:
    """Return how much wider than usual a hole number of this *size* is.

    >>> tab_growth(USUAL_TAB)
    1.0
    """
    return float(2 ** ((size - USUAL_TAB) / 6))


@dataclass(frozen=True, slots=True)
class _Placed:
    """A hole, or a square of the tongue, with its left edge from that of the lowest hole."""

    x: float
    width: float  # of its number, or of the square
    reed: Reed | None  # None: the tongue

    @property
    def end(self) -> float:
        """The right edge with its ticks."""
        return self.x + self.width + (_signs_width(self.reed) if self.reed else 0.0)


def _signs_width(reed: Reed) -> float:
    return (_OVER if reed.over else TICK * reed.bend) + (_QUARTER if reed.quarter else 0.0)


def _placed(note: Note) -> list[_Placed]:
    """Return the holes of *note* and the squares between them, from left to right."""
    found: list[_Placed] = []
    covered = note.tongue_on
    for reed in note.reeds:
        x = found[-1].end + _HOLES_APART if found else 0.0
        if covered and found and covered[0] in range(_hole(found[-1]), reed.hole):
            for _ in covered:
                found.append(_Placed(x, _SQUARE, None))
                x += _SQUARE + _SQUARES_APART
            x += _HOLES_APART - _SQUARES_APART
        found.append(_Placed(x, DIGIT * len(str(reed.hole)), reed))
    return found


def _hole(placed: _Placed) -> int:
    return placed.reed.hole if placed.reed else 0


def tab_extent(note: Note) -> tuple[float, float]:
    """Return how far the holes of *note* reach to the left and right of its notehead's middle.

    The middle is that of the numbers: ticks hang over at the right.
    """
    placed = _placed(note)
    middle = (placed[-1].x + placed[-1].width) / 2
    beside = _BESIDE if note.beside else 0.0  # so that two breaths are not read as one
    return middle + beside, placed[-1].end - middle + beside


def degrees_width(note: Note) -> float:
    """Return the width of the degrees of *note*."""
    widths = [
        _DEGREE + _SIGN * (bool(each.degree.alter) + each.degree.quarter) for each in note.sounded
    ]
    around = 2 * _DEGREES_BESIDE if note.beside else 0.0
    return sum(widths) + _DEGREES_APART * (len(widths) - 1) + around


def tab_mark(size: float, scale: float, tick: float, note: Note) -> str:
    """Draw hole numbers with their ticks over an arrow for the breath; the numbers are the middle.

    The page's layout puts the zero of every mark under the middle of its notehead: LilyPond
    by itself would take the flag for a part of the head.  Each tick stands by itself, well
    apart, because two and three are two different notes.
    """
    grown = tab_growth(size) * scale
    placed = _placed(note)
    middle = (placed[-1].x + placed[-1].width) / 2
    layers = [
        layer
        for each in placed
        for layer in _drawn(each, (each.x - middle) * grown, size, grown, tick)
    ]
    if note.beside:
        left, right = tab_extent(note)
        layers += [at(-left * grown, 0, NOTHING), at(right * grown, 0, NOTHING)]
    layers.append(breath_arrow(note.reed, 0, -2.1 * scale, scale))
    return f"\\sans {coloured(ACCENT, overlay(*layers))}"


def _drawn(placed: _Placed, x: float, size: float, grown: float, tick: float) -> Iterator[str]:
    """Yield the layers of a hole or a square whose left edge is at *x*."""
    reed = placed.reed
    if reed is None:
        side = placed.width * grown
        yield slab(x, 0.12 * grown, side, side * 1.25)
        return
    number = f"\\center-align \\bold {resized(size, lilypond_string(str(reed.hole)))}"
    middle = x + placed.width / 2 * grown
    yield at(middle, 0, number) if middle else number
    right = x + placed.width * grown
    signs = "^" if reed.over else "'" * reed.bend
    for place, sign in enumerate(signs):
        yield at(right + place * tick * grown, 0, f"\\bold {resized(size, lilypond_string(sign))}")
    if reed.quarter:
        after = right + (tick * reed.bend + 0.15) * grown
        yield at(after, 0, f"\\bold {resized(size - _SMALLER, lilypond_string(QUARTER_SIGN))}")


def degree_mark(scale: float, note: Note) -> str:
    """Return the degrees of all holes of *note*, in the order of the holes."""
    raised = 0.45 * scale
    names = [accidental(each.degree.name, raised=raised) for each in note.sounded]
    apart = f" \\hspace #{_DEGREES_APART * scale:g} "
    beside = f"\\hspace #{_DEGREES_BESIDE * scale:g}"
    several = f"\\concat {{ {beside} {apart.join(names)} {beside} }}"
    shown = several if note.beside else names[0]
    return coloured(INK, f"\\sans \\center-align {resized(-1, shown)}")


def box_mark(width: float, scale: float, _note: Note) -> str:
    """Draw the same empty box for every note: its middle is under the notehead."""
    wide, high = width * scale, BOX_HEIGHT * scale
    return coloured(LINE, box(-wide / 2, -high / 2, wide, high, filled=False, line=0.14 * scale))
