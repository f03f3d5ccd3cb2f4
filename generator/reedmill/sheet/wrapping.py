"""Line breaks and widths of text in every script, without input or output.

Pango shapes each piece and puts its letters in order; in which order pieces stand, and where
they may be parted, is said here.  After Unicode Annexes 9 (direction), 11 (East Asian width)
and 14 (line breaking), of which this is the small part that a title and a text need.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cache
from itertools import accumulate, groupby
from textwrap import shorten

from reedmill.base.text import FROM_RIGHT, from_right

LONGEST_WORD = 30
"""Letters of a word after which it may be parted anywhere."""

_LONGEST_GROUP = 40  # letters of words that run against the line and must stay in one piece
# Written without spaces: a line may end after any sign (Annex 14: ID, CJ, NS)...
_SIGN = "\u2e80-\u312f\u3190-\u4dbf\u4e00-\ua4cf\uf900-\ufaff\uff01-\uff9f\U00020000-\U0003ffff"
# ...or between words that only a dictionary knows: Thai, Lao, Myanmar, Khmer and their kin.
_WITHOUT_SPACES = "\u0e01-\u0eff\u1000-\u109f\u1780-\u17ff\u1950-\u19df\u1a20-\u1aad"
# What begins no line (closing marks, small kana, marks of repetition)...
_NO_START = (
    "\u3001\u3002\u3005\u3009\u300b\u300d\u300f\u3011\u3015\u3017\u3041\u3043\u3045\u3047"
    "\u3049\u3063\u3083\u3085\u3087\u308e\u309d\u309e\u30a1\u30a3\u30a5\u30a7\u30a9\u30c3"
    "\u30e3\u30e5\u30e7\u30ee\u30f5\u30f6\u30fb\u30fc\u30fd\u30fe\uff01\uff09\uff0c\uff0e"
    "\uff1a\uff1b\uff1f\uff3d\uff5d"
)
# ...and what ends none: opening marks.
_NO_END = "\u3008\u300a\u300c\u300e\u3010\u3014\u3016\uff08\uff3b\uff5b"


_FIRST_SIGN = min(_SIGN[0], _WITHOUT_SPACES[0])


# Sets of so many letters take milliseconds to compile, and most sheets have none of them.
@cache
def _signs() -> re.Pattern[str]:
    return re.compile(f"[{_SIGN}]")


@cache
def _unspaced() -> re.Pattern[str]:
    return re.compile(f"[{_SIGN}{_WITHOUT_SPACES}]")


def unspaced(text: str) -> bool:
    """Tell whether any of *text* is in a script that puts no spaces between words."""
    return max(text, default="") >= _FIRST_SIGN and _unspaced().search(text) is not None


def wide_letters(text: str) -> int:
    """Return the width of *text* in usual letters: East Asian ones count double.

    >>> wide_letters("Home"), wide_letters("日本"), wide_letters("กำ")
    (4, 4, 2)
    """
    if text.isascii():
        return len(text)
    return sum(_width(letter) for letter in text)


def shortened(text: str, most: int) -> str:
    """Return *text* within *most* letters on one line; dots show where some are left out.

    >>> shortened("Home from every rung", 12), shortened("日本語の歌", 7)
    ('Home from…', '日本語…')
    """
    if not unspaced(text):
        return shorten(text, most, placeholder="…")
    line = " ".join(text.split())
    if wide_letters(line) <= most:
        return line
    room = accumulate(map(_width, line), initial=1)  # for the dots
    end = sum(taken <= most for taken in room) - 1
    while end > 0 and _leans(line[end]):
        end -= 1
    return line[:end].rstrip() + "…"


def _width(letter: str) -> int:
    if letter >= "\u0590" and unicodedata.category(letter) in ("Mn", "Me", "Cf"):
        return 0  # the accents of Latin, Greek and Cyrillic are counted: so they always were
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


def words(text: str) -> list[str]:
    """Return the words of *text*, those that run against its direction joined to one.

    >>> words("Blues in G"), words("Ada: שלום עולם")
    (['Blues', 'in', 'G'], ['Ada:', 'שלום עולם'])
    """
    return grouped(text.split(), right_to_left=from_right(text))


def grouped(parts: list[str], *, right_to_left: bool) -> list[str]:
    """Return *parts* of a text, with neighbours that run the other way joined to one.

    Pango orders what is in one piece; of two pieces the second stands further on.
    """
    if all(map(str.isascii, parts)) or not any(map(_has_from_right, parts)):
        return parts
    against = "L" if right_to_left else "R"
    joined: list[str] = []
    is_open = False
    for part in parts:
        way = _way(part)
        fits = is_open and len(joined[-1]) + len(part) < _LONGEST_GROUP
        if part and fits and way in (against, ""):
            joined[-1] += f" {part}"
        else:
            joined.append(part)
            is_open = False
        is_open = bool(part) and (way == against or (is_open and way == ""))
    return joined


def _has_from_right(text: str) -> bool:
    return any(unicodedata.bidirectional(letter) in FROM_RIGHT for letter in text)


def _way(word: str) -> str:
    """Return R or L for the way *word* runs, nothing for digits and signs alone."""
    ways = [unicodedata.bidirectional(letter) for letter in word]
    strong = [way for way in ways if way in FROM_RIGHT or way == "L"]
    return "" if not strong else "R" if strong[0] in FROM_RIGHT else "L"


def word_pieces(word: str) -> list[str]:
    """Cut *word* into the pieces between which a line may end, none of them very long.

    >>> word_pieces("「日本」の歌"), word_pieces("word")
    (['「日', '本」', 'の', '歌'], ['word'])
    >>> [len(each) for each in word_pieces("x" * 70)]
    [30, 30, 10]
    """
    return [part for piece in whole_pieces(word) for part in _cut(piece)]


def whole_pieces(word: str) -> list[str]:
    """Cut *word* into the pieces between which a line may end, however long they are.

    >>> whole_pieces("「日本」の歌"), [len(each) for each in whole_pieces("x" * 70)]
    (['「日', '本」', 'の', '歌'], [70])
    """
    if max(word, default="") < _FIRST_SIGN or not _signs().search(word):
        return [word] if word else []
    parts: list[str] = []
    for is_sign, letters in groupby(word, key=lambda letter: bool(_signs().match(letter))):
        stretch = "".join(letters)
        parts += stretch if is_sign else [stretch]
    return list(_kept_together(parts))


def never_parted(word: str) -> list[int]:
    """Return the places in *word* before which no line may begin, because what follows leans.

    >>> never_parted("e\u0301t"), never_parted("\u0e40\u0e01")
    ([1], [1])
    """
    return [
        place
        for place in range(1, len(word))
        if _leans(word[place]) or word[place - 1] in _BEFORE_ITS_LETTER
    ]


def _cut(word: str) -> Iterator[str]:
    """Yield *word* in stretches of 30 letters; no accent is separated from its letter."""
    start = 0
    while len(word) - start > LONGEST_WORD:
        end = start + LONGEST_WORD
        while (
            end < len(word)
            and end - start < 2 * LONGEST_WORD
            and (_leans(word[end]) or word[end - 1] in _BEFORE_ITS_LETTER)
        ):
            end += 1
        yield word[start:end]
        start = end
    if word[start:]:
        yield word[start:]


# Vowels of Thai and Lao that are written before the consonant they follow.
_BEFORE_ITS_LETTER = "\u0e40\u0e41\u0e42\u0e43\u0e44\u0ec0\u0ec1\u0ec2\u0ec3\u0ec4"


def _leans(letter: str) -> bool:
    """Tell whether *letter* combines with the one before it."""
    return unicodedata.category(letter)[0] == "M" or letter in "\u200c\u200d\u0e33\u0eb3"


def _kept_together(parts: list[str]) -> Iterator[str]:
    held = ""
    for part in parts:
        glued = held and (part[0] in _NO_START or _leans(part[0]) or held[-1] in _NO_END)
        if held and (not glued or len(held) > LONGEST_WORD):
            yield held
            held = ""
        held += part
    if held:
        yield held
