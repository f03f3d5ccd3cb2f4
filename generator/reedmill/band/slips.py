"""Small slips in a line whose correction is certain and can be written out."""

from __future__ import annotations

import re
from typing import NamedTuple

from reedmill.base.errors import InputError
from reedmill.theory.chords import ROMAN, Chord


class BackingReason(NamedTuple):
    """The mistake that keeps a line of a form or feel from being read."""

    key: str  # of the row in ``backing_mistakes``
    column: int  # of the spot, from 1
    width: int  # of the spot, in signs
    values: dict[str, object]  # for the templates of that row


_CHORD_LINES = ("bars", "turnaround", "ending")
_BEAT_LINES = ("bass", "comp", "drums", "fill", "stops", "accents", "ending")
_NUMBERED = re.compile(r"(?<![^\s|])([1-7])([^\s|:%,]*)", re.ASCII)
_BEAT = r"\(?\d+[ea&+]?!?(?::[\d/]+)?\)?(?![^\s,|])"
_BEATS = re.compile(rf"{_BEAT}(?:[\s,]+{_BEAT})*", re.ASCII)
_MOST_NAMED = 4  # degrees in one message


def slip(line: str, at: int, word: str, block: str) -> BackingReason | None:
    """Explain a slip at column *at* of a line that starts with *word*, if its meaning is plain."""
    line = re.split(r"#(?!i|v)", line, maxsplit=1, flags=re.IGNORECASE)[0].rstrip()
    if block == "form" and word in _CHORD_LINES:
        return _bars_by_comma(line, at) or _times_apart(line, at) or _degrees(line, at)
    if block == "feel" and word in _BEAT_LINES:
        return _beats_by_comma(line, at)
    return None


def _bars_by_comma(line: str, at: int) -> BackingReason | None:
    if line[at - 1 : at] != ",":
        return None
    mended = re.sub(r"\s*,\s*", " | ", line.strip(" \t,"))
    return BackingReason("comma-between-bars", at, 1, {"mended": mended})


def _times_apart(line: str, at: int) -> BackingReason | None:
    """Explain ``x 4``: the x is read as a chord, and the number has no meaning."""
    number = re.match(r"\d+", line[at - 1 :], re.ASCII)
    before = line[: at - 1].rstrip()
    if number is None or before[-2:] not in (" x", "|x", "\tx"):
        return None
    start = len(before)
    found = line[start - 1 : at - 1 + number.end()]
    return BackingReason(
        "times-apart", start, len(found), {"found": found, "times": f"x{number[0]:.9}"}
    )


def _degrees(line: str, at: int) -> BackingReason | None:
    here = _NUMBERED.match(line, at - 1)
    if here is None or not _numeral(here):
        return None
    named = {each[0]: _numeral(each) for each in _NUMBERED.finditer(line)}
    said = [f"{numeral} for {number}" for number, numeral in named.items() if numeral]
    said = said[:_MOST_NAMED]
    numerals = " and ".join(filter(None, (", ".join(said[:-1]), said[-1])))
    return BackingReason(
        "degree-by-number", at, len(here[0]), {"found": here[0], "numerals": numerals}
    )


def _numeral(number: re.Match[str]) -> str:
    """Return the chord that ``4`` or ``17`` means; nothing where it means none."""
    try:
        return Chord.parse(ROMAN[int(number[1]) - 1] + number[2]).name
    except InputError:
        return ""


def _beats_by_comma(line: str, at: int) -> BackingReason | None:
    before = line[: at - 1].rstrip()
    after = line[at - 1 :].lstrip(" \t,")
    beats = _BEATS.match(after)
    comma = at if line[at - 1 : at] == "," else len(before)
    if beats is None or line[comma - 1 : comma] != ",":
        return None
    said = re.split("[,|]", before.rstrip(" \t,"))[-1].strip()
    mended = " ".join([said, *re.split(r"[\s,]+", beats[0])])
    return BackingReason("comma-between-beats", comma, 1, {"mended": mended})
