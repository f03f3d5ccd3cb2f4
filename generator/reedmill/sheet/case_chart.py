"""The chart of a case of harps: in which position each of them plays each of the twelve keys.

A position that is ready for songs stands on a filled ground, one to take with care in a frame,
and one whose home or fifth is a bend stands bare, so that nothing is told by colour alone.  Keys
are read at 2 m as the chords of a chord chart are (8 mm, see ``chart_grid``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.base.errors import InputError
from reedmill.harp import RICHTER, Harp
from reedmill.harp.harp_choices import CaseKey, keys_of_case, left_out_words
from reedmill.harp.harp_places import HarpPlace, SongFit
from reedmill.sheet.blocks import foot_of, titled
from reedmill.sheet.chart_grid import WITHIN, within
from reedmill.sheet.chart_symbols import capital_of, size_of, symbol_markup, symbol_width, tab_width
from reedmill.sheet.frame import block, preamble
from reedmill.sheet.heads import foot_height, titled_height
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
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
    wrapped,
)
from reedmill.sheet.wrapping import wide_letters
from reedmill.theory.pitch import with_signs

MOST_HARPS = 12
"""Harps that a chart has room for."""

TITLE = "Which key on which harp"
_ABOUT = "Find the key of the song: its row says in which position each harp plays it."

# Staff spaces, but for what is a share of a row or a capital.
_LABELS = 13.0  # width of the column of keys
_WIDEST = 20.0  # of a column of positions
_HEADING = 1.1  # height of the heading, in rows
_CAPITAL, _ORDINAL, _MOST_CAPITAL_MM = 0.6, 0.36, 9.0  # height of letters, in rows
_HARP, _OTHER = 0.8, 0.55  # of a capital: a harp's name in the heading, a key's other name
_BESIDE, _GAP = 1.3, 0.3  # room in a cell beside the position, and around its ground
_APART = 1.0  # between the two names of a key
_WORD_SIZE = -1.5  # font size of the third under a position
_NOTE_SIZE, _NOTE_LINE, _NOTES_ABOVE = 0.0, 2.9, 3.4  # of the notes below, and the room over them
_NOTE_LETTER = 0.95  # mean width of a letter of them, measured and rounded up


def case_chart(harps: Sequence[Harp], look: Look) -> str:
    """Return LilyPond input for the chart of *harps*, as ``sheet-0``.

    ``InputError`` for more harps than a page has room for.
    """
    if not 1 <= len(harps) <= MOST_HARPS:
        raise InputError(f"a chart has room for 1 to {MOST_HARPS} harps; these are {len(harps)}.")
    table = _Table(tuple(harps), keys_of_case(harps), look, titled_height(TITLE, _ABOUT, look))
    name = f"{TITLE} · {_of_harps(harps)}"
    return preamble(look) + "\n".join(
        [
            WITHIN,
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {named(TITLE)} subject = {named(_ABOUT)} }}",
            "\\paper {",
            "  oddHeaderMarkup = ##f evenHeaderMarkup = ##f",
            f"  oddFooterMarkup = \\markup {foot_of(name, look.width)}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *titled(TITLE, _ABOUT, look.width)),
            f"\\markup {overlay(at(0, 0, chr(92) + 'null'), *table.parts())}",
            "}",
        ]
    )


def _of_harps(harps: Sequence[Harp]) -> str:
    return with_signs(", ".join(each.full_name for each in harps))


def _notes(keys: Sequence[CaseKey]) -> tuple[str, ...]:
    """Return what stands under the chart: its signs, and the keys that are not in the case."""
    signs = (
        "Filled: ready for most songs. Framed: with care, because one note of its scale is foreign "
        "to most songs. Bare: home or its fifth is a bend."
    )
    return signs, *map(with_signs, left_out_words(keys))


@dataclass(frozen=True, slots=True)
class _Table:
    """The chart of a case, as large as its page lets it be; its top is 0."""

    harps: tuple[Harp, ...]
    keys: tuple[CaseKey, ...]
    look: Look
    head: float  # height of what stands above, in staff spaces

    @property
    def row(self) -> float:
        """The height of a row."""
        below = _NOTES_ABOVE + sum(map(self._note_height, _notes(self.keys)))
        room = self.look.height - self.head - foot_height(self.look) - below
        return room / (len(self.keys) + _HEADING)

    @property
    def capital(self) -> float:
        """The height of the capitals of keys."""
        return min(_CAPITAL * self.row, _MOST_CAPITAL_MM / self.look.space_mm)

    @property
    def column(self) -> float:
        """The width of a harp's column."""
        return min(_WIDEST, (self.look.width - _LABELS) / len(self.harps))

    @property
    def left(self) -> float:
        """The left side of the columns of the harps."""
        return _LABELS

    @property
    def width(self) -> float:
        """The width of the whole, which few harps do not fill."""
        return _LABELS + self.column * len(self.harps)

    @property
    def ordinal(self) -> float:
        """The font size of the positions, which is the same in all cells."""
        fits = 6 * math.log2((self.column - _BESIDE) / tab_width("10th", 0))
        return min(size_of(_ORDINAL * self.row), fits)

    def parts(self) -> Iterator[str]:
        """Draw the whole chart."""
        yield from self._heading()
        y = -_HEADING * self.row
        for key in self.keys:
            y -= self.row
            yield from self._key(key, y)
        y -= _NOTES_ABOVE
        # one under the other as LilyPond breaks them, into fewer lines than are counted
        notes = (resized(_NOTE_SIZE, wrapped(each, self.look.width)) for each in _notes(self.keys))
        yield at(0, y, coloured(INK, f"\\sans \\column {{ {' '.join(notes)} }}"))

    def _note_height(self, note: str) -> float:
        """Return the height of a note below the chart, of one line or several."""
        letter = _NOTE_LETTER * self.look.grown(_NOTE_SIZE)
        return _NOTE_LINE * math.ceil(wide_letters(note) * letter / self.look.width)

    def _heading(self) -> Iterator[str]:
        """Return the names of the harps, and what the first column is."""
        foot = -_HEADING * self.row
        yield at(0, foot, rule(self.width))
        yield at(0, foot + 1.1, small("key of the song"))
        for n, harp in enumerate(self.harps):
            other = harp.layout != RICHTER
            fitted = f"\\center-align {within(self.column - _GAP, self._name(harp))}"
            yield at(self._middle(n), foot + (3.2 if other else 1.9), coloured(ACCENT, fitted))
            if other:
                words = within(self.column - _GAP, small(harp.layout.words))
                yield at(self._middle(n), foot + 1.1, f"\\center-align {words}")

    def _name(self, harp: Harp) -> str:
        """Return register and key of *harp* in bold, with signs as high as the letters."""
        capital = _HARP * self.capital
        key = symbol_markup(harp.key, "", capital)
        if not harp.register:
            return key
        words = resized(size_of(capital), lilypond_string(f"{harp.register} "))
        return f"\\concat {{ \\sans \\bold {words} {key} }}"

    def _key(self, key: CaseKey, y: float) -> Iterator[str]:
        first, *others = key.names
        base = y + (self.row - self.capital) / 2
        yield at(0, base, coloured(INK, symbol_markup(first, "", self.capital)))
        for name in others:
            beside = coloured(FAINT, symbol_markup(name, "", _OTHER * self.capital))
            yield at(symbol_width(first, "") * self.capital + _APART, base, beside)
        yield at(0, y, rule(self.width))
        for n, place in enumerate(key.places):
            yield self._cell(n, y, place)

    def _cell(self, n: int, y: float, place: HarpPlace) -> str:
        """Return a position centred in its column, with its third under it."""
        third = place.third if place.fit is not SongFit.HARD else ""
        filled = place.fit is SongFit.GOOD
        paint = PAPER if filled else FAINT if place.fit is SongFit.HARD else INK
        high, word = capital_of(self.ordinal), capital_of(self._word_size)
        gap = 0.5 * word
        low = y + (self.row - high - (word + gap if third else 0)) / 2
        text = resized(self.ordinal, lilypond_string(place.position.ordinal))
        weight = "" if place.fit is SongFit.HARD else "\\bold "
        parts = [at(self._middle(n), low + (word + gap if third else 0),
                    coloured(paint, f"\\center-align \\sans {weight}{text}"))]  # fmt: skip
        if third:
            said = f"\\sans {resized(self._word_size, lilypond_string(third))}"
            fitted = within(self.column - 2 * _GAP - 0.4, said)
            parts.append(at(self._middle(n), low, coloured(paint, f"\\center-align {fitted}")))
            parts.insert(0, self._ground(n, y, filled=filled))
        return overlay(*parts)

    @property
    def _word_size(self) -> float:
        return min(_WORD_SIZE, self.ordinal - 1) + 6 * math.log2(self.look.grown(_WORD_SIZE))

    def _ground(self, n: int, y: float, *, filled: bool) -> str:
        """Return the ground of a position that is ready, or the frame of one with care."""
        wide, tall = self.column - 2 * _GAP, self.row - 2 * _GAP
        drawn = box(self._middle(n) - wide / 2, y + _GAP, wide, tall, filled=filled,
                    line=0.05 if filled else 0.16)  # fmt: skip
        return coloured(ACCENT if filled else LINE, drawn)

    def _middle(self, n: int) -> float:
        return self.left + (n + 0.5) * self.column
