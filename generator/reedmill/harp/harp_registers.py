"""Registers of harps: high, middle and low ones, whose reeds bend differently."""

from __future__ import annotations

from reedmill.harp.harp import Harp
from reedmill.harp.reeds import Reed

REGISTERS = ("high", "middle", "low")

# Key numbers of hole 1 blow: from E (E4, 64) up is high, from B (B3, 59) to Eb middle, and
# from Bb down, with every "low" harp, low.  Common practice, no published source.
_HIGH_FROM, _MIDDLE_FROM = 64, 59
_HOLE_1 = Reed.parse("1")


def register(harp: Harp) -> str:
    """Return the register of *harp*, by the pitch of its hole 1 blow.

    >>> [register(Harp.parse(name)) for name in ("F", "C", "A", "low F")]
    ['high', 'middle', 'low', 'low']
    """
    lowest = harp.midi(_HOLE_1)
    if lowest >= _HIGH_FROM:
        return "high"
    return "middle" if lowest >= _MIDDLE_FROM else "low"
