"""The harps a take may have been played on, where it is not known or not believed."""

from __future__ import annotations

from reedmill.harp import HARP_KEYS, Breath, Harp, Reed

ANY_HARP_HZ = (80.0, 6000.0)
"""The lowest and highest pitch of every harp there is."""

_REGISTERS = ("", "low", "high")  # the common ones first


def harps_like(harp: Harp) -> list[Harp]:
    """Return every harp with the layout of *harp*: itself, then common ones, then low and high."""
    others = [Harp(key, register, harp.layout, harp.own) for register in _REGISTERS
              for key in HARP_KEYS]  # fmt: skip
    return [harp, *(each for each in others if each != harp)]


def lowest_key(harp: Harp) -> int:
    """Return the MIDI key of hole 1 blow."""
    return harp.midi(Reed(1, Breath.BLOW))


def cents_above(other: Harp, harp: Harp) -> float:
    """Return how many cents *other* sounds above *harp*, in equal temperament."""
    return 100.0 * (lowest_key(other) - lowest_key(harp))
