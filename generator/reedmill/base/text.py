"""Foreign text made harmless to print: what a stranger's pattern may put on a page."""

from __future__ import annotations

import re
import unicodedata
from typing import Literal

# Cc control, Cf invisible formatting (a right-to-left override among them), Cs lone
# surrogate, Co private use, Cn unassigned: none of them is something to read.
# Zl, Zp: the separators of lines and paragraphs, at which some terminals begin a line.
_UNREADABLE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def readable(c: str) -> bool:
    """Whether the character *c* is one to read: neither obeyed, nor invisible, nor unassigned."""
    return unicodedata.category(c) not in _UNREADABLE


_MOST_ACCENTS = 30


MOST_DIGITS = 9
"""Of a number in a stranger's text: far more than any tempo, length or seed needs."""


def whole(digits: str) -> int | None:
    """The number that *digits* write, or ``None`` for more than ``MOST_DIGITS`` of them.

    A number is never cut to be read: zeros in front count as digits.

    >>> whole("10"), whole("0000000010")
    (10, None)
    """
    return int(digits) if len(digits) <= MOST_DIGITS else None


def printable(text: str) -> str:
    r"""*text* on one line, in NFC, with every unreadable character named instead of sent on.

    Nothing is dropped: a NUL becomes ``[U+0000]``, so that the reader sees it was there.

    >>> printable("Home\tand\u202eaway")
    'Home and[U+202E]away'
    """
    one_line = re.sub(r"[\t\n\v\f\r\x85\u2028\u2029]+", " ", _normalized("NFC", text))
    return "".join(c if readable(c) else f"[U+{ord(c):04X}]" for c in one_line)


def _normalized(form: Literal["NFC", "NFKD"], text: str) -> str:
    """*text* in a normal form; more than 30 accents on one letter are sorted 30 at a time.

    To sort the accents of one letter takes the square of their number, and a text may be
    nothing else.  30 are more than any language has: Unicode Annex 15, Stream-Safe Text
    Format.
    """
    if text.isascii():
        return unicodedata.normalize(form, text)
    pieces, begin, accents = [], 0, 0
    for at, sign in enumerate(text):
        accents = accents + 1 if unicodedata.combining(sign) else 0
        if accents > _MOST_ACCENTS:
            pieces.append(text[begin:at])
            begin, accents = at, 1
    return "".join(unicodedata.normalize(form, piece) for piece in (*pieces, text[begin:]))


def slug(text: str) -> str:
    """A file name for *text*: lower-case ASCII letters, digits and hyphens, 1 to 60 long.

    Text with nothing of that kind in it is named by its code points, so that two
    titles in another script do not share a file.

    >>> slug("../../x"), slug("Home from every rung!")
    ('x', 'home-from-every-rung')
    """
    plain = _normalized("NFKD", text).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain.replace("'", "")).strip("-")[:60].strip("-")
    return words or ("drill-" + "-".join(f"{ord(c):x}" for c in text[:8]))[:60]
