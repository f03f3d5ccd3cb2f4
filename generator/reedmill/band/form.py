"""A form: the chords of a chorus as degrees, its turnaround and its ending."""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.base.source import Span
from reedmill.base.text import NO_TEXT, ForeignText
from reedmill.theory.chords import Chord


@dataclass(frozen=True, slots=True)
class Slice:
    """A chord and its share of a bar, relative to the other chords of that bar."""

    chord: Chord
    share: int = 1


FormBar = tuple[Slice, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """Bars of chords without key or meter: it plays in every key, with every feel."""

    span: Span
    title: ForeignText
    bars: tuple[FormBar, ...]  # a chorus as it is written
    turnaround: tuple[FormBar, ...] = ()  # replaces the last bars of each chorus but the last
    ending: tuple[FormBar, ...] = ()  # replaces the last bars of the last chorus
    about: ForeignText = NO_TEXT
    positions: tuple[int, ...] = ()  # those it is meant for; empty: all
    stops: range = range(0)  # bars from 0 in which the band strikes its stops alone
    breaks: range = range(0)  # bars in which it is silent but for the first beat

    def chorus(self, *, last: bool) -> tuple[FormBar, ...]:
        """Return the bars of one chorus, with the turnaround or, in the *last*, the ending."""
        tail = self.ending if last else self.turnaround
        return self.bars[: len(self.bars) - len(tail)] + tail


def chorus_text(bars: tuple[FormBar, ...]) -> str:
    """Format the bars as a form writes them: ``I7 | IV7:3 V7 | I7``."""
    return " | ".join(
        " ".join(each.chord.name + (f":{each.share}" if each.share > 1 else "") for each in bar)
        for bar in bars
    )


def bars_text(bars: range) -> str:
    """Format a stretch of bars as a form writes it, from 1; nothing for none.

    >>> bars_text(range(4)), bars_text(range(10, 11)), bars_text(range(0))
    ('1 to 4', '11', '')
    """
    if not bars:
        return ""
    first, last = bars[0] + 1, bars[-1] + 1
    return f"{first}" if first == last else f"{first} to {last}"
