"""Which letters the sheet's own fonts have a sign for.

LilyPond brings the fonts C059, Nimbus Sans and Nimbus Mono PS, whose character maps agree. What
they lack is taken from the fonts of the system, if one there has it, so that this says what
may be missing and not what must be.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator

# First and last character of each run that the fonts have, read from their character maps
# (LilyPond 2.24.3); rare signs after U+2200 are left out.
_HAS = (
    (0x20, 0x7E), (0xA0, 0x17F), (0x192, 0x192), (0x1FA, 0x1FF), (0x218, 0x21B), (0x2C6, 0x2C7),
    (0x2C9, 0x2C9), (0x2D8, 0x2DD), (0x384, 0x38A), (0x38C, 0x38C), (0x38E, 0x3A1),
    (0x3A3, 0x3CE), (0x3D1, 0x3D1), (0x3D5, 0x3D6), (0x400, 0x45F), (0x462, 0x463),
    (0x472, 0x475), (0x490, 0x493), (0x496, 0x49D), (0x4A0, 0x4A3), (0x4AA, 0x4AB),
    (0x4AE, 0x4B3), (0x4B6, 0x4BB), (0x4C0, 0x4C0), (0x4CB, 0x4CC), (0x4CF, 0x4CF),
    (0x4D8, 0x4D9), (0x4E2, 0x4E3), (0x4E8, 0x4E9), (0x4EE, 0x4EF), (0x1E80, 0x1E85),
    (0x1EF2, 0x1EF3), (0x2002, 0x2002), (0x2013, 0x2015), (0x2017, 0x201E), (0x2020, 0x2022),
    (0x2026, 0x2026), (0x2030, 0x2030), (0x2032, 0x2033), (0x2039, 0x203A), (0x203C, 0x203C),
    (0x203E, 0x203E), (0x2044, 0x2044), (0x2070, 0x2070), (0x2074, 0x2079), (0x207F, 0x207F),
    (0x20A3, 0x20A4), (0x20A7, 0x20A7), (0x20AC, 0x20AC), (0x20AF, 0x20AF), (0x2116, 0x2116),
    (0x2122, 0x2122), (0x2126, 0x2126), (0x215B, 0x215E), (0x2190, 0x2199),
)  # fmt: skip
_STARTS = [first for first, _ in _HAS]


def has_sign(letter: str) -> bool:
    """True for a letter that the sheet's own fonts can draw."""
    at = bisect_right(_STARTS, ord(letter)) - 1
    return at >= 0 and ord(letter) <= _HAS[at][1]


def without_sign(text: str) -> Iterator[tuple[int, str]]:
    r"""The letters of one line of *text* that may have no sign, with their columns from 0.

    Of letters in a row, which are a word of another script, the first is named for all.

    >>> [(at, len(word)) for at, word in without_sign("Home \u0430 \u6f22\u5b57")]
    [(7, 2)]
    """
    begun, run = 0, ""
    for at, letter in enumerate(f"{text}\0"):
        if letter >= " " and not has_sign(letter):
            begun, run = (begun if run else at), run + letter
        elif run:
            yield begun, run
            run = ""
