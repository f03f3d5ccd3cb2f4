"""Chord symbols of a chart: the root large, its kind smaller, with real signs."""

from __future__ import annotations

import math

from reedmill.sheet.markup import lilypond_string, resized

# Widths and height of the bold sans letters in hundredths of their size, by the metrics that
# Adobe publishes for Helvetica-Bold (Core 14 AFM files), which LilyPond's Nimbus Sans keeps.
_WIDTHS = {
    "E": 67, "F": 61, "G": 78, "m": 89, "j": 28, "i": 28, "s": 56, "a": 56,
    "-": 33, "'": 24, " ": 28,
}  # fmt: skip
_CAPITAL, _OTHER, _DIGIT = 72, 61, 56
_CAP = 0.72
_SIGN = {"b": 30, "#": 38}  # of Emmentaler, measured with the space before it
_SIGN_SMALLER = -5.0
_SIZE_0 = 2.2  # staff spaces: 11 points of text beside a staff of 20
_KIND_SMALLER = -2.85
_KIND = 2 ** (_KIND_SMALLER / 6)


def size_of(capital: float) -> float:
    """Return the font size (in LilyPond's steps) of capitals *capital* staff spaces high."""
    return 6 * math.log2(capital / (_CAP * _SIZE_0))


def capital_of(size: float) -> float:
    """Return the height of capitals at a font size, in staff spaces: inverse of ``size_of``."""
    return _CAP * _SIZE_0 * float(2 ** (size / 6))


def symbol_width(root: str, kind: str) -> float:
    """Return the width of the symbol for capitals one staff space high."""
    return (_letters(root) + _KIND * _letters(kind)) / 100 / _CAP


def tab_width(tab: str, size: float) -> float:
    """Return the width of *tab* in bold sans at a font size, in staff spaces."""
    return _letters(tab) / 100 * _SIZE_0 * float(2 ** (size / 6))


def _letters(text: str) -> float:
    return sum(_letter(each) for each in text)


def _letter(each: str) -> float:
    if each in _SIGN:
        return _SIGN[each]
    usual = _DIGIT if each.isdigit() else _CAPITAL if each.isupper() else _OTHER
    return _WIDTHS.get(each, usual)


def symbol_markup(root: str, kind: str, capital: float) -> str:
    """Return the symbol in bold sans with capitals *capital* staff spaces high."""
    size = size_of(capital)
    parts = [*_parts(root, size), *_parts(kind, size + _KIND_SMALLER)]
    return f"\\sans \\bold \\concat {{ {' '.join(parts)} }}"


def numeral_markup(name: str, size: float) -> str:
    """Return a Roman numeral in plain sans at a font size."""
    return f"\\sans \\concat {{ {' '.join(_parts(name, size))} }}"


def _parts(text: str, size: float) -> list[str]:
    """Return *text* with its flats and sharps as signs as high as the letters."""
    signs = {"b": "\\flat", "#": "\\sharp"}
    scale = float(2 ** (size / 6))
    before, raised = f"\\hspace #{0.12 * scale:.3f}", f"\\raise #{0.62 * scale:.3f}"
    return [
        f"{before} {raised} {resized(size + _SIGN_SMALLER, signs[each])}"
        if each in signs
        else resized(size, lilypond_string(each))
        for each in text
    ]
