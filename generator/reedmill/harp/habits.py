"""Other ways to write harmonica tab, translated into ours.

Common practice, no published source: a flat for each semitone of a bend, an o for an overblow,
letters or arrows for the breath.
"""

from __future__ import annotations

import re

from reedmill.harp.layouts import HOLES, RICHTER
from reedmill.harp.reeds import Breath, Reed, bending_breath

OTHER_TAB = (
    r"[-+\u2212\u2013\u2014]?\d{1,2}['\u2019\u2032]*"
    r"(?:b{1,4}|[oO][bBdD]?|\u00b0|[dDB]['\u2019\u2032]*|[\u2191\u2193]['\u2019\u2032]*)(?![\w^'])"
    r"|[dDB\u2191\u2193]\d{1,2}['\u2019\u2032]*(?![\w^'])"
)
"""What a reed looks like in another way of writing tab; the grammar of drills has it too."""

_DRAWS, _BLOWS = "-\u2212\u2013\u2014dD\u2193", "+B\u2191"


def in_our_tab(word: str) -> tuple[Reed, ...]:
    """Return the reeds that *word* may mean in other notations; none when it fits none.

    >>> [reed.tab for word in ("-3bb", "6o", "D3", "4B", "3b") for reed in in_our_tab(word)]
    ["-3''", '6^', '-3', '4', "-3'", '3']
    """
    if re.fullmatch(OTHER_TAB, word) is None:
        return ()
    hole = int(re.sub(r"\D", "", word))
    said = _breath(word)
    if hole not in HOLES:
        return (Reed(hole, said or Breath.BLOW),)
    bending = bending_breath(RICHTER, hole)
    if re.search("[oO\u00b0]", word):
        drawn = said or (Breath.DRAW if word[-1] in "dD" else bending.other)
        return (Reed(hole, drawn, over=True),)
    flats = word.count("b")
    bend = flats + sum(map(word.count, "'\u2019\u2032"))
    bent = Reed(hole, said or bending, bend)
    # a small b alone may be short for blow
    return (bent, Reed(hole, Breath.BLOW)) if not said and bend == flats == 1 else (bent,)


def tab_suggestion(word: str) -> str:
    """Suggest our tab (``Write -3' for draw 3 bent a semitone.``), or an empty string."""
    ways = [f"{reed.tab} for {reed.words}" for reed in in_our_tab(word) if reed.hole in HOLES]
    return f"Write {', or '.join(ways)}." if ways else ""


def _breath(word: str) -> Breath | None:
    signs = re.sub(r"[oO\u00b0][bBdD]?$", "", word)
    if any(sign in signs for sign in _DRAWS):
        return Breath.DRAW
    return Breath.BLOW if any(sign in signs for sign in _BLOWS) else None
