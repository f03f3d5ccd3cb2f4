"""The air that a score takes, counted from the data of its notes: from what is heard of it.

A tab with a minus is drawn, any other is blown; half a second of silence is a breath.  Nothing of
the project counts here but the times of the notes.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

BREATH_S = Fraction(1, 2)  # common practice, no published source


@dataclass(frozen=True)
class Air:
    """The longest stretches of a drill without a breath, in seconds."""

    one_way_s: Fraction  # drawn, or blown, without a turn
    net_s: Fraction  # from the lowest to the highest the air gets to


def air_of(drill: dict[str, Any]) -> Air:
    """Count the air of one drill of ``expand --json``."""
    over, under = map(int, drill["meter"].split("/"))
    pulse = 3 if under == 8 and over % 3 == 0 and over > 3 else 1
    beat_s = Fraction(60, drill["tempo"] * pulse)
    one_way = net = air = low = high = run = Fraction(0)
    drawn_before, silent_from = None, None
    for note in drill["notes"]:
        start = Fraction(note["sounding_start"]) * beat_s
        lasts = Fraction(note["sounding_length"]) * beat_s
        draws = note["tab"].startswith("-")
        if silent_from is not None and start - silent_from >= BREATH_S:
            run = air = low = high = Fraction(0)
        run = lasts + (run if draws is drawn_before else 0)
        air += lasts if draws else -lasts
        low, high = min(low, air), max(high, air)
        one_way, net = max(one_way, run), max(net, high - low)
        drawn_before, silent_from = draws, start + lasts
    return Air(one_way, net)
