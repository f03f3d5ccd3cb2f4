"""The scales that the natural notes of a harp may give, by their names."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

MAJOR_SCALE = frozenset({0, 2, 4, 5, 7, 9, 11})
"""The natural notes of a harp tuned to a major scale, as a Richter harp is, in semitones."""

_IN_ORDER = ("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")

# The modes of the major scale are its notes from each of them, as every book of theory has it;
# the harmonic minor scale is the aeolian mode with a major seventh.
MODES = {
    name: frozenset((each - first) % 12 for each in MAJOR_SCALE)
    for name, first in zip(_IN_ORDER, sorted(MAJOR_SCALE), strict=True)
}
"""The seven modes, in semitones above the root."""

_SCALES = MODES | {"harmonic minor": (MODES["aeolian"] - {10}) | {11}}

MINOR_THIRD, MAJOR_THIRD, FIFTH = 3, 4, 7


class NamedScale(NamedTuple):
    """A scale by its name."""

    name: str
    steps: frozenset[int]  # semitones above the root


def scales_in(steps: Collection[int]) -> tuple[NamedScale, ...]:
    """Return every scale whose notes are all among *steps*, semitones above the root.

    >>> [each.name for each in scales_in(MAJOR_SCALE)]
    ['ionian']
    >>> [each.name for each in scales_in({*MAJOR_SCALE, 10})]
    ['ionian', 'mixolydian']
    """
    found = frozenset(steps)
    return tuple(NamedScale(name, scale) for name, scale in _SCALES.items() if scale <= found)
