"""The quotes word processors write, where a file needs straight ones."""

from __future__ import annotations

import re

_CURLY = "\u201c\u201d\u201e\u201f\u00ab\u00bb\u2018\u201a\u2039\u203a"
# A text in straight quotes may hold curly ones.
_STRAIGHT = re.compile(r'"(\\.|[^"\\])*+"')
# After a digit or a tick it is a tick of tab; a single one inside a word is an apostrophe.
_TICK = "0-9'\u2019\u2032\u00b4\u2033\u201d"
_QUOTE = re.compile(rf"(?<![{_TICK}])[{_CURLY}]|(?<![\w{_TICK}])\u2019(?=\w)")


def curly_quote(line: str) -> int:
    """Return the column of the first curly quote where a straight one belongs; 0 for none.

    >>> curly_quote("title = \u201cHome\u201d"), curly_quote('about "the \u201chome\u201d note"')
    (9, 0)
    >>> curly_quote("play -3\u2019 -3\u201d -2"), curly_quote('drill "Home\u201d')
    (0, 12)
    """
    outside = _STRAIGHT.sub(lambda text: " " * len(text[0]), line.partition(" # ")[0])
    found = _QUOTE.search(outside)
    return found.start() + 1 if found else 0
