"""Foreign text made safe to print: what a stranger's pattern may put on a page."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cache
from typing import Literal, NewType

# Cc control, Cf invisible formatting (a right-to-left override among them), Cs lone
# surrogate, Co private use, Cn unassigned: none of them is something to read.
# Zl, Zp: the separators of lines and paragraphs, at which some terminals begin a line.
_UNREADABLE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


ForeignText = NewType("ForeignText", str)
"""A stranger's text that is fit to be read, and nothing more: one line that ``printable`` made.

It is not fit to stand in LilyPond input, XML or HTML: it goes there only through what escapes it
(``sheet.markup``, ElementTree, ``html.escape``).  ``tests/house/test_foreign_text.py`` looks at
every place where one is put into other text.
"""


def readable(c: str) -> bool:
    """Tell whether *c* is a visible character: neither control, nor invisible, nor unassigned."""
    return unicodedata.category(c) not in _UNREADABLE


# Two invisible signs that are letters' business: Persian and the scripts of India write with
# ZERO WIDTH (NON-)JOINER inside words (Unicode Annex 31, 2.3), and a picture may be several
# joined.  Anywhere else they could only make two names look alike.
_JOINING = (
    "\u0620-\u06d3\u06fa-\u06ff\u0710-\u08c9\u0900-\u0dff\u1000-\u109f\u1780-\u17d3\u1820-\u18aa"
)
_PICTURES = "\u2190-\u2bff\ufe0f\U0001f000-\U0001faff"


@cache
def _joiners() -> re.Pattern[str]:
    """Compile the pattern of joiners on first use: sets this large take milliseconds."""
    return re.compile(
        f"(?<=[{_JOINING}])[\u200c\u200d](?=[{_JOINING}])|(?<=[{_PICTURES}])\u200d(?=[{_PICTURES}])"
    )


_MOST_ACCENTS = 30


MOST_DIGITS = 9
"""Of a number in a stranger's text: far more than any tempo, length or seed needs."""


def whole_number(digits: str) -> int | None:
    """Return the number *digits* writes; ``None`` for more than ``MOST_DIGITS`` of them.

    A number is never cut to be read: zeros in front count as digits.

    >>> whole_number("10"), whole_number("0000000010")
    (10, None)
    """
    return int(digits) if len(digits) <= MOST_DIGITS else None


def printable(text: str) -> ForeignText:
    r"""Return *text* on one line in NFC, with every unreadable character named instead.

    Nothing is dropped: a NUL becomes ``[U+0000]``, so that the reader sees it was there.

    >>> printable("Home\tand\u202eaway")
    'Home and[U+202E]away'

    A joiner inside a word of a script that needs it is a letter like others.

    >>> printable("\u0645\u06cc\u200c\u062e"), printable("a\u200cb")
    ('\u0645\u06cc\u200c\u062e', 'a[U+200C]b')
    """
    one_line = re.sub(r"[\t\n\v\f\r\x85\u2028\u2029]+", " ", _normalized("NFC", text))
    if one_line.isascii() and one_line.isprintable():
        return ForeignText(one_line)
    joiners = set[int]()
    if "\u200c" in one_line or "\u200d" in one_line:
        joiners = {found.start() for found in _joiners().finditer(one_line)}
    return ForeignText(
        "".join(
            c if at in joiners or readable(c) else f"[U+{ord(c):04X}]"
            for at, c in enumerate(one_line)
        )
    )


NO_TEXT = ForeignText("")
"""Where a stranger says nothing."""


def _normalized(form: Literal["NFC", "NFKD"], text: str) -> str:
    """Normalize *text*; more than 30 accents on one letter are sorted 30 at a time.

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


FROM_RIGHT = {"R", "AL"}
"""The directions of letters that run from right to left, by Unicode Annex 9."""


def from_right(text: str) -> bool:
    """Tell whether *text* runs from right to left, by its first letter (Annex 9, P2 and P3).

    >>> from_right("3. שלום Ada"), from_right("Ada שלום")
    (True, False)
    """
    ways = (unicodedata.bidirectional(letter) for letter in text)
    return next((way in FROM_RIGHT for way in ways if way in FROM_RIGHT or way == "L"), False)


def columns(text: str) -> int:
    """Return how many columns of a terminal *text* takes.

    Two for a wide letter (Unicode Annex 11), none for a mark on another, else one.

    >>> columns("Home"), columns("回家"), columns("กำลัง")
    (4, 4, 4)
    """
    return len(text) if text.isascii() else sum(map(_columns, text))


def _columns(letter: str) -> int:
    if unicodedata.category(letter) in {"Mn", "Me", "Cf"}:
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


_LONGEST_NAME = 60  # letters
_MOST_BYTES = 120  # in UTF-8: a file name has 255, and more than the title goes into it
# Letters and marks that show nothing, so that two names could look alike: those of Unicode's
# Default_Ignorable_Code_Point (DerivedCoreProperties.txt, from memory) that are letters or marks.
_APOSTROPHES = re.compile("['\N{RIGHT SINGLE QUOTATION MARK}]")
_INVISIBLE = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)


def file_slug(text: str) -> str:
    """Return *text* as part of a file name: lower-case letters of any script, digits, hyphens.

    At most 60 letters and 120 bytes of UTF-8, in NFC, so that it is the same name on every
    system.  Two texts may share one: see ``made_files``, which keeps their files apart.

    >>> file_slug("../Straße nach Hause!"), file_slug("Дом"), file_slug("???")
    ('straße-nach-hause', 'дом', 'drill-3f-3f-3f')
    """
    lower = _normalized("NFC", _normalized("NFC", text).lower())
    named = "".join(_named(_INVISIBLE.sub("", _APOSTROPHES.sub("", lower))))
    words = _cut(_normalized("NFC", named))
    return words or ("drill-" + "-".join(f"{ord(c):x}" for c in text[:8]))[:60]


_MOST_JOINED = 200  # bytes of a name in UTF-8; file systems have 255, and an ending is to come


def joined(*words: str) -> str:
    """Join slugs to one file name, shortened with a digest when too long for a disk.

    >>> joined("home", "", "c", "2nd")
    'home-c-2nd'
    """
    name = "-".join(filter(None, words))
    if len(name.encode()) <= _MOST_JOINED:
        return name
    import hashlib  # starts OpenSSL, for the rare name that is too long

    digest = hashlib.sha256(name.encode()).hexdigest()[:8]
    kept = name.encode()[: _MOST_JOINED - len(digest) - 1].decode("utf-8", "ignore")
    return f"{kept.rstrip('-')}-{digest}"


def same_title(text: str) -> str:
    """Return *text* folded to compare titles: without case, accents or signs.

    Accents are those of Latin, Greek and Cyrillic letters; in other scripts a mark is part of
    the word.  A title is found by its file name too.

    >>> same_title("Home, from every RUNG!") == same_title("home-from-every-rung")
    True
    >>> same_title("Дом") == same_title("Дым"), same_title("Höhe") == "hohe"
    (False, True)
    """
    signs: list[str] = []
    european = False
    # not casefold: to it "Straße" and "Strasse" are one, and they may be two titles of a file
    for sign in _normalized("NFKD", text.lower()).lower().replace(_FINAL_SIGMA, "\u03c3"):
        if unicodedata.category(sign)[0] != "M":
            european = unicodedata.name(sign, "").startswith(_EUROPEAN)
            signs.append(sign)
        elif not european:
            signs.append(sign)
    plain = _normalized("NFC", "".join(signs))
    words = "".join(_named(_INVISIBLE.sub("", _APOSTROPHES.sub("", plain)))).strip("-")
    return words or _normalized("NFC", text)


def is_name(text: str, also: str = "") -> bool:
    """Tell whether *text* can name a file: letters, digits, their marks and the signs of *also*.

    It begins with a letter or a digit, is in NFC, so that it is one name on every system, and
    fits 255 bytes.  Nothing in it is invisible, turns the direction of writing or ends a folder.

    >>> is_name("дом-2"), is_name("a.b", also="."), is_name("../a", also="."), is_name("-a")
    (True, True, False, False)
    """
    if text.isascii():  # nearly always, and quick
        signs = set(text) - set(also) - set("-")
        return text[:1].isalnum() and all(map(str.isalnum, signs)) and len(text) <= _LONGEST_FILE
    kinds = [unicodedata.category(sign)[0] for sign in text]
    right = all(kind in "LNM" or sign in also + "-" for kind, sign in zip(kinds, text, strict=True))
    plain = kinds[0] in "LN" and right and not _INVISIBLE.search(text)
    return plain and len(text.encode()) <= _LONGEST_FILE and _normalized("NFC", text) == text


_LONGEST_FILE = 255  # bytes
_FINAL_SIGMA = "\u03c2"
_EUROPEAN = ("LATIN ", "GREEK ", "CYRILLIC ")


def _named(text: str) -> Iterator[str]:
    """Yield the letters, marks and digits of *text*, with a hyphen for whatever is between them.

    A mark that stands on nothing is left out: it would join the sign before the name.
    """
    before = "-"
    for c in text:
        kind = unicodedata.category(c)[0]
        kept = c if kind in "LN" or (kind == "M" and before != "-") else "-"
        if (kept, before) != ("-", "-"):
            yield kept
        before = kept


def _cut(words: str) -> str:
    words = words[:_LONGEST_NAME]
    while len(words.encode("utf-8", "replace")) > _MOST_BYTES:
        words = words[:-1]
    return words.strip("-")
