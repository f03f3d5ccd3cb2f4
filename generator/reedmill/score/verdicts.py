"""Verdicts on heard notes, and the tolerances in cents that decide them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

from reedmill.base.errors import InputError

MOST_TOLERANCE_CENTS = 50
"""Half a semitone: what is further off is nearer to another note."""

_TOLERANCE = re.compile(r"(\d{1,3}(?:\.\d)?)(?:\s*[,/ ]\s*(\d{1,3}(?:\.\d)?))?", re.ASCII)


class Verdict(Enum):
    """The verdict on one note: in tune, flat, missed..."""

    ON = "on"
    NEAR = "near"
    SHARP = "sharp"
    FLAT = "flat"
    ANOTHER_NOTE = "another-note"
    MISSED = "missed"
    UNCLEAR = "unclear"  # the sound does not allow a verdict
    NOT_JUDGED = "not-judged"  # several holes at once, which are not told apart

    @property
    def in_place(self) -> bool:
        """True when the note was in tune, or nearly."""
        return self in (Verdict.ON, Verdict.NEAR)

    @property
    def measured(self) -> bool:
        """True when the verdict comes with cents from the target."""
        return self in (Verdict.ON, Verdict.NEAR, Verdict.SHARP, Verdict.FLAT)


@dataclass(frozen=True, slots=True)
class Tolerance:
    """The limits in cents between the verdicts."""

    on_cents: float = 10.0
    near_cents: float = 25.0

    def __post_init__(self) -> None:
        if not (1 <= self.on_cents <= self.near_cents <= MOST_TOLERANCE_CENTS):
            raise InputError(
                f"a tolerance of {self.on_cents:g} and {self.near_cents:g} cents cannot be used. "
                f"Write two numbers from 1 to {MOST_TOLERANCE_CENTS}, the smaller one first: 10,25"
            )

    @classmethod
    def parse(cls, text: str) -> Tolerance:
        """Parse a tolerance: ``10,25``, or ``10`` alone, which means ``10,25`` too.

        ``InputError`` for anything else.

        >>> Tolerance.parse("5"), Tolerance.parse("8, 20")
        (Tolerance(on_cents=5.0, near_cents=12.5), Tolerance(on_cents=8.0, near_cents=20.0))
        """
        match = _TOLERANCE.fullmatch(text.strip())
        if match is None:
            raise InputError(
                f'"{text:.40}" is not a tolerance. Write how many cents a note may be out to be in '
                "its place, then to be nearly so: 10,25"
            )
        on = float(match[1])
        # the strict pair has the same ratio: 10 and 25 cents
        return cls(on, float(match[2]) if match[2] else min(2.5 * on, MOST_TOLERANCE_CENTS))

    def verdict(self, cents: float) -> Verdict:
        """Return the verdict on a note *cents* from its target.

        >>> Tolerance().verdict(-31.0), Tolerance(on_cents=5).verdict(6.0)
        (<Verdict.FLAT: 'flat'>, <Verdict.NEAR: 'near'>)
        """
        if abs(cents) <= self.on_cents:
            return Verdict.ON
        if abs(cents) <= self.near_cents:
            return Verdict.NEAR
        return Verdict.SHARP if cents > 0 else Verdict.FLAT
