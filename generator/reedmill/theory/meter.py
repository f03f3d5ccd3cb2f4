"""Time signatures and the pulse they are counted in."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature.

    >>> Meter(4, 4).name, Meter(12, 8).pulse
    ('4/4', Fraction(3, 1))
    """

    beats: int  # in a bar
    unit: int  # 2, 4 or 8: the note value of one beat

    @property
    def name(self) -> str:
        """The signature as players write it: ``4/4``."""
        return f"{self.beats}/{self.unit}"

    @property
    def compound(self) -> bool:
        """True for 6/8, 9/8 and 12/8, which are counted in threes."""
        return self.unit == 8 and self.beats % 3 == 0 and self.beats > 3

    @property
    def pulse(self) -> Fraction:
        """The beats in one tap of the foot, which the tempo counts."""
        return Fraction(3 if self.compound else 1)
