"""Checks that a score can be written in each format, before anything is made."""

from __future__ import annotations

from collections.abc import Collection

from reedmill.formats.table import DRILL_FORMATS
from reedmill.score.notation import bars, check_drawn
from reedmill.score.score import Score

MUSICXML_SHORTEST = 256
"""Parts of a whole note: the shortest value that we write to MusicXML, see its table of types."""

_DRAWN = {row.name for row in DRILL_FORMATS.values() if row.drawn}


def check_writable(score: Score, formats: Collection[str]) -> None:
    """Raise ``PatternError`` for a value of *score* that one of *formats* cannot show."""
    if not _DRAWN.isdisjoint(formats):
        check_drawn(score)
    elif "musicxml" in formats:
        check_drawn(score, MUSICXML_SHORTEST, "written in MusicXML")
    elif "tab" in formats:
        bars(score)
