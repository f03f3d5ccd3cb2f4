"""The notes of a chart's chords on the harp, printed under the chart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.harp import Harp
from reedmill.harp.chord_roles import chord_role
from reedmill.sheet.chart_grid import within
from reedmill.sheet.chart_symbols import capital_of, symbol_markup, tab_width
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    accidental,
    at,
    coloured,
    lilypond_string,
    resized,
    rule,
)
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key, Position

HEADING = 3.6
"""Height of the heading over the rows, in staff spaces."""

# Staff spaces, set by eye on finished pages: the column of chord names, the gap between tones.
_CHORD_COLUMN, _APART = 13.0, 1.5
_LABEL, _TAB, _NAME = -1.5, 1.0, 2.0  # font sizes
_TAB_LINE = 3.0  # height of a line of tab
_FIRST, _LABELS, _BELOW = 1.0, 2.2, 1.1  # heights over a row, of its labels, and under it
_SPOKEN = {"1": "root"}
_NONE = "overbends only"


@dataclass(frozen=True, slots=True)
class NoteRow:
    """A chord, and for each of its tones the lines of tab."""

    chord: Chord
    tones: tuple[tuple[str, tuple[str, ...]], ...]

    def height(self, scale: float) -> float:
        """Return the height of the row at *scale*, in staff spaces."""
        lines = max(len(lines) for _, lines in self.tones)
        return scale * (_FIRST + _LABELS + lines * _TAB_LINE + _BELOW)


def where_its_tones_are(chord: Chord, harp: Harp, position: Position) -> dict[str, list[str]]:
    """Return the tab of every reed, without overbends, that sounds each tone of *chord*.

    >>> where_its_tones_are(Chord.parse("IV7"), Harp("C"), Position(2))["b7"]
    ["-3'", "10''"]
    """
    found: dict[str, list[str]] = {tone: [] for tone, _ in chord.tones}
    for reed in harp.reeds(overbends=False):
        tone = chord_role(harp, position, reed, chord).tone
        if tone is not None:
            found[tone].append(reed.tab)
    return found


def note_rows(
    chords: Sequence[Chord], harp: Harp, position: Position, look: Look, scale: float
) -> list[NoteRow]:
    """Return a row for each of *chords*, its tabs in lines that fit at *scale*."""
    rows = []
    for chord in chords:
        found = where_its_tones_are(chord, harp, position)
        room = (look.width / scale - _CHORD_COLUMN) / len(found) - _APART
        tones = ((tone, tuple(_lines(tabs, room))) for tone, tabs in found.items())
        rows.append(NoteRow(chord, tuple(tones)))
    return rows


def _lines(tabs: Sequence[str], room: float) -> list[str]:
    """Break *tabs*, with spaces between, into lines of at most *room* staff spaces."""
    lines: list[str] = []
    for tab in tabs:
        if lines and tab_width(f"{lines[-1]} {tab}", _TAB) <= room:
            lines[-1] += f" {tab}"
        else:
            lines.append(tab)
    return lines or [_NONE]


def row_markup(row: NoteRow, key: Key, look: Look, scale: float) -> list[str]:
    """Return the parts of *row* at *scale*; its top is 0."""
    wide = look.width / scale
    step = (wide - _CHORD_COLUMN) / len(row.tones)
    more, base = 6 * math.log2(scale), _FIRST + _LABELS
    name = symbol_markup(*row.chord.symbol_parts(key), capital_of(_NAME) * scale)
    drawn = [
        rule(look.width),
        at(0, -(base + _TAB_LINE - 0.6) * scale,
           coloured(INK, within((_CHORD_COLUMN - _APART) * scale, name))),
    ]  # fmt: skip
    for n, (tone, lines) in enumerate(row.tones):
        x = (_CHORD_COLUMN + n * step) * scale
        spoken = _SPOKEN.get(tone)
        label = lilypond_string(spoken) if spoken else accidental(tone)
        drawn.append(
            at(x, -base * scale, coloured(FAINT, f"\\sans {resized(_LABEL + more, label)}"))
        )
        for number, line in enumerate(lines, start=1):
            y = -(base + number * _TAB_LINE - 0.6) * scale
            drawn.append(at(x, y, _tabs(line, more, (step - _APART) * scale)))
    return drawn


def _tabs(line: str, more: float, room: float) -> str:
    if line == _NONE:
        return coloured(
            FAINT, within(room, f"\\sans {resized(_LABEL + more, lilypond_string(line))}")
        )
    return coloured(
        ACCENT, within(room, f"\\sans \\bold {resized(_TAB + more, lilypond_string(line))}")
    )
