"""The role chart: what each reed is in each of the twelve positions, as a page of its own.

It also says what each reed is over the chords of a key, I, IV and V of cross harp unless
others are asked for; the notes of a chord are filled, because they are the ones to land on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reedmill.base.errors import InputError
from reedmill.harp import Harp, Reed, note_on_harp
from reedmill.harp.chord_roles import BLUES, chord_role
from reedmill.sheet.blocks import foot_of, on_harp, titled
from reedmill.sheet.look import Look
from reedmill.sheet.markup import (
    ACCENT,
    FAINT,
    INK,
    PAPER,
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
)
from reedmill.sheet.page import block, preamble
from reedmill.theory.chords import Chord
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

MOST_REEDS = 16
_ROW, _LABELS, _KEYS = 3.5, 27.0, 7.0
_WIDEST = 9.0
_DIGIT, _APART = 1.23, 0.7  # of a tab in the heading, and room to the next
_WIDTHS = {"-": 0.74, "'": 0.53, "^": 1.29}  # of its signs
CROSS_HARP = Position(2)


def role_chart(
    harp: Harp,
    reeds: Sequence[Reed],
    look: Look,
    chords: Sequence[Chord] = BLUES,
    position: Position = CROSS_HARP,
) -> str:
    """LilyPond input for the chart of *reeds* on *harp*; comes out as ``sheet-0``.

    The *chords* are those of the key it plays in *position*.  Raises ``InputError`` for more
    reeds than a page has room for.
    """
    if not 1 <= len(reeds) <= MOST_REEDS:
        raise InputError(
            f"a role chart has room for 1 to {MOST_REEDS} reeds; these are {len(reeds)}."
        )
    title = f"Roles on the {with_signs(harp.label)}"
    about = "The same reed is another degree in another key."
    head = titled(title, about, look.width)
    where = on_harp(harp, position)
    said = f"{position.label}: what a reed is over each chord (filled: a note of the chord)"
    below = [small(said), "\\vspace #0.4", _chords(harp, reeds, look, chords, position)]
    return preamble(look) + "\n".join(
        [
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {named(title)} subject = {named(about)} }}",
            "\\paper {",
            "  oddHeaderMarkup = ##f evenHeaderMarkup = ##f",
            f"  oddFooterMarkup = \\markup {foot_of(f'{title} · {where}', look.width)}",
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *head),
            block(3.4, "\\vspace #0.6", _positions(harp, reeds, look)),
            block(3.4, "\\vspace #0.8", *below),
            "}",
        ]
    )


def _column(reeds: Sequence[Reed], look: Look) -> float:
    return min(_WIDEST, (look.width - _LABELS - _KEYS) / len(reeds))


def _positions(harp: Harp, reeds: Sequence[Reed], look: Look) -> str:
    rows = [_heading(harp, reeds, look)]
    for place, number in enumerate(range(1, 13), start=1):
        position, y = Position(number), -place * _ROW
        key = harp.key_in(position)
        rows += [
            at(0, y, _text(INK, resized(-0.5, lilypond_string(position.label)))),
            at(_LABELS, y, _text(INK, f"\\bold {accidental(key.name)}")),
            at(0, y - 1.0, rule(look.width)),
        ]
        for n, reed in enumerate(reeds):
            degree = note_on_harp(harp, position, reed).degree.name
            rows.append(_cell(n, y, degree, degree == "1", reeds, look))
    return overlay(at(0, 2, "\\null"), *rows)


def _heading(harp: Harp, reeds: Sequence[Reed], look: Look) -> str:
    cells = [at(_LABELS, 0, small("key"))]
    width = _column(reeds, look)
    widest = _APART + max(sum(_WIDTHS.get(c, _DIGIT) for c in reed.tab) for reed in reeds)
    size = min(0.0, 6 * math.log2(width / widest))  # smaller where columns are narrow
    for n, reed in enumerate(reeds):
        middle = _LABELS + _KEYS + (n + 0.5) * width
        tab = f"\\center-align \\sans \\bold {resized(size, lilypond_string(reed.tab))}"
        name = accidental(harp.own_name(reed).note)
        cells += [
            at(middle, 1.6, coloured(ACCENT, tab)),
            at(middle, 0, coloured(FAINT, f"\\center-align \\sans {resized(-3, name)}")),
        ]
    return overlay(*cells)


def _chords(
    harp: Harp, reeds: Sequence[Reed], look: Look, chords: Sequence[Chord], position: Position
) -> str:
    rows = []
    key = harp.key_in(position)
    for place, chord in enumerate(chords):
        y = -place * _ROW
        rows += [
            at(0, y, _text(INK, f"\\bold {accidental(chord.name)}")),
            at(_LABELS, y, _text(INK, f"\\bold {accidental(chord.symbol(key))}")),
            at(0, y - 1.0, rule(look.width)),
        ]
        for n, reed in enumerate(reeds):
            role = chord_role(harp, position, reed, chord)
            name = role.tone or role.name
            rows.append(_cell(n, y, name, role.tone is not None, reeds, look))
    return overlay(*rows)


def _cell(n: int, y: float, degree: str, filled: bool, reeds: Sequence[Reed], look: Look) -> str:
    """A degree centred in its column, on a filled ground where it stands out."""
    width = _column(reeds, look)
    left = _LABELS + _KEYS + n * width
    edge = min(0.5, width / 10)
    ground = box(left + edge, y - 0.75, width - 2 * edge, _ROW - 0.6, filled=True, line=0.05)
    text = f"\\center-align {accidental(degree)}"
    name = at(left + width / 2, y, _text(PAPER if filled else INK, text))
    return overlay(coloured(ACCENT, ground), name) if filled else name


def _text(colour: str, markup: str) -> str:
    return coloured(colour, f"\\sans {markup}")
