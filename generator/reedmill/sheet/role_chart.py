"""The role chart: each reed in each of the twelve positions, on a page of its own.

It also says what each reed is over the chords of a key, I, IV and V of cross harp unless
others are asked for; the notes of a chord are filled, because they are the ones to land on.
The tables fill the page: keys, and degrees of up to about ten reeds, are read at 2 m as the chords
of a chord chart are (8 mm, see ``chart_grid``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.harp.chord_roles import BLUES, chord_role
from reedmill.sheet.blocks import foot_of, on_harp, titled
from reedmill.sheet.chart_grid import WITHIN, within
from reedmill.sheet.chart_symbols import (
    capital_of,
    numeral_markup,
    size_of,
    symbol_markup,
    tab_width,
)
from reedmill.sheet.frame import block, preamble
from reedmill.sheet.heads import foot_height, titled_height
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    PAPER,
    at,
    box,
    coloured,
    lilypond_string,
    named,
    overlay,
    resized,
    rule,
    small,
)
from reedmill.theory.chords import Chord
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

MOST_REEDS = 16
CROSS_HARP = Position(2)
POSITIONS = tuple(Position(number) for number in range(1, 13))

# Staff spaces, but for what is a share of a row or a capital.
_LABELS, _KEYS = 13.0, 10.0  # width of these columns
_WIDEST = 20.0  # of a column of degrees
_SAID, _OVER_SAID = 1.6, 3.0  # between the two tables: the line's foot, and the room over it
_HEADING = 1.25  # height of the heading, in rows
_CAPITAL, _ORDINAL, _MOST_CAPITAL_MM = 0.68, 0.4, 11.0  # height of letters, in rows
_DEGREE, _BESIDE = 1.36, 0.5  # width of a degree with its sign for a capital of 1, and room
_GROUND = 3.4  # width of the ground of a degree that stands out, at the most, in capitals
_TAB_SHARE, _NAME_SHARE = 0.62, 0.4  # of a capital: a reed's tab and note in the heading


def role_chart(
    harp: Harp,
    reeds: Sequence[Reed],
    look: Look,
    chords: Sequence[Chord] = BLUES,
    position: Position = CROSS_HARP,
) -> str:
    """Return LilyPond input for the chart of *reeds* on *harp*, as ``sheet-0``.

    The *chords* are those of the key it plays in *position*.  Raises ``InputError`` for more
    reeds than a page has room for.
    """
    if not 1 <= len(reeds) <= MOST_REEDS:
        raise InputError(
            f"a role chart has room for 1 to {MOST_REEDS} reeds; these are {len(reeds)}."
        )
    title = f"Roles on the {with_signs(harp.label)}"
    about = "The same reed is another degree in another key."
    table = _Table(
        harp, tuple(reeds), look, tuple(chords), position, titled_height(title, about, look)
    )
    name = f"{title} · {on_harp(harp, position)}"
    return preamble(look) + "\n".join(
        [
            WITHIN,
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {named(title)} subject = {named(about)} }}",
            "\\paper {",
            "  oddHeaderMarkup = ##f evenHeaderMarkup = ##f",
            f"  oddFooterMarkup = \\markup {foot_of(name, look.width)}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *titled(title, about, look.width)),
            f"\\markup {overlay(at(0, 0, chr(92) + 'null'), *table.parts())}",
            "}",
        ]
    )


@dataclass(frozen=True, slots=True)
class _Table:
    """Both tables of a chart, as large as its page lets them be; their top is 0."""

    harp: Harp
    reeds: tuple[Reed, ...]
    look: Look
    chords: tuple[Chord, ...]
    position: Position  # of the key the chords belong to
    head: float  # height of what stands above, in staff spaces

    @property
    def row(self) -> float:
        """The height of a row."""
        room = self.look.height - self.head - foot_height(self.look) - _OVER_SAID - _SAID
        return room / (len(POSITIONS) + _HEADING + len(self.chords))

    @property
    def capital(self) -> float:
        """The height of the capitals of keys."""
        return min(_CAPITAL * self.row, _MOST_CAPITAL_MM / self.look.space_mm)

    @property
    def column(self) -> float:
        """The width of a reed's column."""
        return min(_WIDEST, (self.look.width - _LABELS - _KEYS) / len(self.reeds))

    @property
    def left(self) -> float:
        """The left side of the columns of the reeds, which end at the right margin."""
        return self.look.width - self.column * len(self.reeds)

    def parts(self) -> Iterator[str]:
        """Draw the whole chart."""
        yield from self._heading()
        y = -_HEADING * self.row
        for place in POSITIONS:
            y -= self.row
            yield from self._position(place, y)
        y -= _OVER_SAID
        words = (
            f"{self.position.label}: what a reed is over each chord (filled: a note of the chord)"
        )
        yield at(0, y, small(words))
        y -= _SAID
        yield at(0, y, rule(self.look.width))
        for chord in self.chords:
            y -= self.row
            yield from self._chord(chord, y)

    def _heading(self) -> Iterator[str]:
        """Return every reed with its note, and what the other columns are."""
        foot = -_HEADING * self.row
        yield at(0, foot, rule(self.look.width))
        yield at(0, foot + 1.1, small("position"))
        yield at(self.left - _KEYS, foot + 1.1, small("key"))
        widest = max(tab_width(reed.tab, 0) for reed in self.reeds)
        tabs = min(
            size_of(_TAB_SHARE * self.capital), 6 * math.log2((self.column - _BESIDE) / widest)
        )
        names = min(size_of(_NAME_SHARE * self.capital), tabs - 1)
        for n, reed in enumerate(self.reeds):
            tab = f"\\center-align \\sans \\bold {resized(tabs, lilypond_string(reed.tab))}"
            name = f"\\center-align {numeral_markup(self.harp.own_name(reed).note, names)}"
            yield at(self._middle(n), foot + 1.1 + 1.5 * capital_of(names), coloured(ACCENT, tab))
            yield at(self._middle(n), foot + 1.1, coloured(FAINT, name))

    def _position(self, place: Position, y: float) -> Iterator[str]:
        ordinal, _, nickname = place.label.partition(" position")
        size = size_of(_ORDINAL * self.row)
        base = y + (self.row - _ORDINAL * self.row) / 2 + (0.9 if nickname else 0.0)
        yield at(0, base, _text(INK, resized(size, lilypond_string(ordinal))))
        if nickname:
            yield at(0, y + 1.0, small(nickname.strip(" ()")))
        key = symbol_markup(self.harp.key_in(place).name, "", self.capital)
        yield from self._row(y, key)
        for n, reed in enumerate(self.reeds):
            degree = note_on_harp(self.harp, place, reed).degree.name
            yield self._cell(n, y, degree, filled=degree == "1")

    def _chord(self, chord: Chord, y: float) -> Iterator[str]:
        numeral = numeral_markup(chord.name, size_of(_ORDINAL * self.row))
        room = self.left - _KEYS - 1
        yield at(0, self._base(y, _ORDINAL * self.row), coloured(INK, within(room, numeral)))
        key = self.harp.key_in(self.position)
        yield from self._row(y, symbol_markup(*chord.symbol_parts(key), self.capital))
        for n, reed in enumerate(self.reeds):
            role = chord_role(self.harp, self.position, reed, chord)
            yield self._cell(n, y, role.tone or role.name, filled=role.tone is not None)

    def _row(self, y: float, name: str) -> Iterator[str]:
        """Return the *name* of a key or a chord, and the rule under its row."""
        fitted = coloured(INK, within(_KEYS - 1, name))
        yield at(self.left - _KEYS, self._base(y, self.capital), fitted)
        yield at(0, y, rule(self.look.width))

    def _cell(self, n: int, y: float, degree: str, *, filled: bool) -> str:
        """Return a degree centred in its column, on a filled ground where it stands out."""
        high = min(self.capital, (self.column - _BESIDE) / _DEGREE)
        text = f"\\center-align {numeral_markup(degree, size_of(high))}"
        name = at(self._middle(n), self._base(y, high), coloured(PAPER if filled else INK, text))
        if not filled:
            return name
        wide = min(self.column - 2 * min(0.4, self.column / 10), _GROUND * high)
        tall = min(self.row - 0.7, 1.9 * high)
        left, low = self._middle(n) - wide / 2, y + (self.row - tall) / 2
        return overlay(coloured(ACCENT, box(left, low, wide, tall, filled=True, line=0.05)), name)

    def _middle(self, n: int) -> float:
        return self.left + (n + 0.5) * self.column

    def _base(self, y: float, high: float) -> float:
        """Return the baseline of letters *high* staff spaces amid a row whose foot is *y*."""
        return y + (self.row - high) / 2


def _text(colour: str, markup: str) -> str:
    return coloured(colour, f"\\sans {markup}")
