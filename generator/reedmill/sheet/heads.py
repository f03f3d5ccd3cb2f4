"""The head of a chart: how high it is, and its facts in as many rows as they need.

No two facts are printed over one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import Harp
from reedmill.sheet.blocks import (
    ABOUT_LETTER,
    CAUTION,
    TITLE_AIR,
    TITLE_LINE,
    harp_heading,
    harp_markup,
    title_size,
)
from reedmill.sheet.look import Look
from reedmill.sheet.markup import INK, at, coloured, lilypond_string, overlay, resized, rule, small
from reedmill.sheet.wrapping import wide_letters
from reedmill.theory.positions import Position

FACT_ROW = 6.4
"""Height of a row of facts, in staff spaces."""

_LETTER, _LABEL_LETTER = 1.3, 0.85  # widths in staff spaces of the bold value and its label
_APART = 2.0
# Of a chart's head and foot, measured on finished pages and rounded up.
_SUBTITLE, _RULE, _GAP = 3.4, 2.6, 2.2
_FOOT, _FOOT_LINE, _FOOT_LETTER = 6.2, 2.0, 0.78


def titled_height(name: str, about: str, look: Look) -> float:
    """Return how high ``titled`` is with the gap below it, in staff spaces."""
    size, letter = title_size(name, look.width)
    lines = -(-wide_letters(name) * letter // look.width)
    title = lines * TITLE_LINE * 2 ** (size / 6)
    below = -(-wide_letters(about) * ABOUT_LETTER // look.width)
    air = TITLE_AIR * (lines > 1) + TITLE_AIR * (below > 1)
    return float(title + below * _SUBTITLE + air + _RULE + _GAP)


def foot_height(look: Look, caution: str = CAUTION) -> float:
    """Return how high the foot of a chart with this *caution* is, in staff spaces."""
    return _FOOT + _FOOT_LINE * int(len(caution) * _FOOT_LETTER // look.width)


@dataclass(frozen=True, slots=True)
class HeadFact:
    """A fact in a page's head: a label and its value."""

    label: str
    value: str  # markup
    letters: int  # of the value, as printed

    @property
    def room(self) -> float:
        """The width of the fact with the gap to the next, in staff spaces."""
        return max(self.letters * _LETTER, len(self.label) * _LABEL_LETTER) + _APART


NAME_LINE = 5.4
"""Height of the line for a name, in staff spaces."""


def name_line(width: float) -> list[str]:
    """Return a line on which the student writes a name and the date."""
    return ["\\vspace #0.9", rule(width), small("name, date")]


def harp_facts(harp: Harp, position: Position) -> list[HeadFact]:
    """Return the harp and the position that a page is for."""
    place = position.label.replace(" position", "")
    return [
        HeadFact(harp_heading(harp), harp_markup(harp), len(harp.label)),
        HeadFact("position", lilypond_string(place), len(place)),
    ]


def fact_rows(facts: Sequence[HeadFact], width: float) -> list[list[HeadFact]]:
    """Pack *facts* into the fewest rows no wider than *width*, evenly but for the last."""
    for many in range(len(facts), 0, -1):
        rows = [list(facts[start : start + many]) for start in range(0, len(facts), many)]
        if many == 1 or all(sum(each.room for each in row) <= width + _APART for row in rows):
            return rows
    return []


def facts_markup(facts: Sequence[HeadFact], width: float) -> str:
    """Return *facts* with their labels above, as one markup ``FACT_ROW`` high for each row."""
    layers = [at(0, 2.9, "\\null")]
    for number, row in enumerate(fact_rows(facts, width)):
        y = -number * FACT_ROW
        spare = max(0.0, width - sum(each.room for each in row)) / len(row)
        x = 0.0
        for fact in row:
            value = coloured(INK, f"\\sans \\bold {resized(0.5, fact.value)}")
            layers += [at(x, y, value), at(x, y + 2.9, small(fact.label))]
            x += fact.room + spare
    return overlay(*layers)
