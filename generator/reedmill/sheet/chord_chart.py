"""The chord chart: a form on one page, and where the notes of its chords are on the harp."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from reedmill.formats.band_text import key_in_words
from reedmill.harp import Harp
from reedmill.harp.chord_roles import chord_role
from reedmill.score.arrangement import Arrangement
from reedmill.sheet.blocks import harp_heading, harp_markup
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    LINE,
    accidental,
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
from reedmill.theory.chords import Chord
from reedmill.theory.positions import Key, Position

_BARS_A_LINE = 4
_ROW, _SYMBOL_Y, _ROMAN_Y = 8.4, 3.3, 1.0  # staff spaces
_CHORD_COLUMN, _TAB_LETTER, _TAB_LINE = 12.0, 0.95, 2.4
_NUMBER = 2.8  # staff spaces kept for the number of a bar
_LARGEST, _LETTER = 3.5, 1.75  # size of a chord, and the width of its letters at size 0
_SPOKEN = {"1": "root"}


@dataclass(frozen=True, slots=True)
class ChartBar:
    """A bar of the form: its number from 1, and its chords with their share of it."""

    number: int
    chords: tuple[tuple[Fraction, Chord], ...]  # where in the bar each starts, 0 to 1


def chart_bars(band: Arrangement, chorus: int) -> list[ChartBar]:
    """The bars of a *chorus* of *band*, counted from 0."""
    beats = band.meter.beats
    found = []
    for at_bar in range(band.bars_a_chorus):
        start = Fraction((chorus * band.bars_a_chorus + at_bar) * beats)
        inside = [(begin, each) for begin, each in band.chords if start < begin < start + beats]
        chords = [(start, band.chord_at(start)), *inside]
        shares = tuple(((begin - start) / beats, chord) for begin, chord in chords)
        found.append(ChartBar(at_bar + 1, shares))
    return found


def chord_chart(band: Arrangement, harp: Harp, position: Position, look: Look) -> str:
    """LilyPond input for the chart of *band*, for *harp* in *position*; it is ``sheet-0``."""
    from reedmill.sheet.blocks import foot_of
    from reedmill.sheet.page import block, preamble

    first, last = chart_bars(band, 0), chart_bars(band, band.choruses - 1)
    title = named(band.form)
    head = [
        f"\\bold {coloured(INK, resized(7, wrapped(band.form, look.width)))}",
        coloured(FAINT, resized(0.5, wrapped(_subtitle(band), look.width))),
        "\\vspace #0.1",
        rule(look.width, INK),
        "\\vspace #0.3",
        _facts(band, harp, position, look),
    ]
    other = [bar for bar, before in zip(last, first, strict=True) if bar != before]
    lines = [*_lines(first, band.key, look)]
    if other:
        ending = [bar for bar in last if bar.number >= other[0].number]
        lines += [small("the last time"), *_lines(ending, band.key, look)]
    rows = list(_where(band, harp, position, look))
    words = f"{band.form} · {harp.label}, {position.ordinal} position"
    return preamble(look) + "\n".join(
        [
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {title} }}",
            "\\paper { oddHeaderMarkup = ##f",
            f"  oddFooterMarkup = \\markup {foot_of(words, look.width)}",
            "  evenFooterMarkup = \\oddFooterMarkup }",
            block(3.4, *head),
            *(block(0, line) for line in lines),
            block(2.6, "\\vspace #1", small(f"where their notes are on the {harp.label}")),
            *rows,
            "}",
        ]
    )


def _subtitle(band: Arrangement) -> str:
    many = "one chorus" if band.choruses == 1 else f"{band.choruses} choruses"
    return f"{band.feel}, {many} of {band.bars_a_chorus} bars"


def _facts(band: Arrangement, harp: Harp, position: Position, look: Look) -> str:
    swing = f", swing {band.swing.numerator} to {band.swing.denominator}" if band.swing > 1 else ""
    entries = (
        (harp_heading(harp), harp_markup(harp)),
        ("position", lilypond_string(position.label.replace(" position", ""))),
        ("key of the music", _key(band)),
        ("meter", lilypond_string(band.meter.name + swing)),
        ("tempo", lilypond_string(str(band.tempo_bpm))),
    )
    step = look.width / len(entries)
    return overlay(
        at(0, 2.9, "\\null"),
        *(
            overlay(
                at(n * step, 0, coloured(INK, f"\\sans \\bold {resized(0.5, value)}")),
                at(n * step, 2.9, small(label)),
            )
            for n, (label, value) in enumerate(entries)
        ),
    )


def _key(band: Arrangement) -> str:
    name, *mode = key_in_words(band).split(" ")
    return f"\\concat {{ {accidental(name)} {lilypond_string(' '.join(['', *mode]))} }}"


# --- the grid ----------------------------------------------------------------------------


def _lines(bars: Sequence[ChartBar], key: Key, look: Look) -> Iterator[str]:
    """The bars in lines of four, each under its place of the form."""
    width = look.width / _BARS_A_LINE
    first = (bars[0].number - 1) // _BARS_A_LINE * _BARS_A_LINE
    for start in range(first, bars[-1].number, _BARS_A_LINE):
        line = [bar for bar in bars if start < bar.number <= start + _BARS_A_LINE]
        cells = [_cell(bar, (bar.number - 1 - start) * width, width, key) for bar in line]
        yield overlay(*(part for cell in cells for part in cell))


def _cell(bar: ChartBar, x: float, width: float, key: Key) -> list[str]:
    frame = coloured(LINE, box(x, 0, width - 0.5, _ROW - 0.8, filled=False, line=0.12))
    number = coloured(FAINT, f"\\sans {resized(-4, lilypond_string(str(bar.number)))}")
    parts = [frame, at(x + 0.7, _ROW - 2.4, number)]
    ends = [*(share for share, _ in bar.chords[1:]), Fraction(1)]
    for (share, chord), end in zip(bar.chords, ends, strict=True):
        left = x + _NUMBER + float(share) * (width - _NUMBER)
        name = chord.symbol(key)
        size = _size(name, float(end - share) * (width - _NUMBER))
        symbol = f"\\sans \\bold {resized(size, accidental(name, 0.9))}"
        roman = f"\\sans {resized(-2.5, accidental(chord.name))}"
        parts += [
            at(left, _SYMBOL_Y, coloured(INK, symbol)),
            at(left, _ROMAN_Y, coloured(FAINT, roman)),
        ]
    return parts


def _size(name: str, room: float) -> float:
    """The size at which *name* has room, large where it can be."""
    return min(_LARGEST, 6 * math.log2(room / (_LETTER * len(name))))


# --- where the notes are -------------------------------------------------------------------


def _where(band: Arrangement, harp: Harp, position: Position, look: Look) -> Iterator[str]:
    """For each chord, the reeds that sound each of its tones."""
    chords = list(dict.fromkeys(chord for _, chord in band.chords))
    for chord in chords:
        yield f"\\markup {_chord_row(chord, band.key, harp, position, look)}"


def where_its_tones_are(chord: Chord, harp: Harp, position: Position) -> dict[str, list[str]]:
    """The tab of every reed, overbends left out, that sounds each tone of *chord*.

    >>> where_its_tones_are(Chord.parse("IV7"), Harp("C"), Position(2))["b7"]
    ["-3'", "10''"]
    """
    found: dict[str, list[str]] = {tone: [] for tone, _ in chord.tones}
    for reed in harp.reeds(overbends=False):
        tone = chord_role(harp, position, reed, chord).tone
        if tone is not None:
            found[tone].append(reed.tab)
    return found


def _chord_row(chord: Chord, key: Key, harp: Harp, position: Position, look: Look) -> str:
    found = where_its_tones_are(chord, harp, position)
    step = (look.width - _CHORD_COLUMN) / len(found)
    symbol = f"\\sans \\bold {resized(0.5, accidental(chord.symbol(key)))}"
    cells = [at(0, -_TAB_LINE, coloured(INK, symbol))]
    deepest = 1
    for n, (tone, tabs) in enumerate(found.items()):
        x = _CHORD_COLUMN + n * step
        text = " ".join(tabs) or "none without an overbend"
        deepest = max(deepest, -(-int(len(text) * _TAB_LETTER) // int(step - 1)))
        label = _SPOKEN.get(tone)
        name = lilypond_string(label) if label else accidental(tone)
        cells += [
            at(x, 0, coloured(FAINT, f"\\sans {resized(-3, name)}")),
            at(x, -_TAB_LINE, coloured(ACCENT, _tabs(text, step - 1))),
        ]
    room = at(0, -_TAB_LINE * (deepest + 1), "\\null")
    return overlay(rule(look.width), at(0, -2.2, overlay(*cells, room)))


def _tabs(text: str, width: float) -> str:
    return f"\\sans \\bold \\override #'(baseline-skip . 2.2) {resized(-2, wrapped(text, width))}"
