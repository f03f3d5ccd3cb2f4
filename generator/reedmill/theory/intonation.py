"""How the degrees are tuned against the root: equal temperament or just ratios."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from reedmill.errors import InputError, close_match
from reedmill.theory.pitch import equal_hz


@dataclass(frozen=True, slots=True)
class Intonation:
    """Twelve intervals over the root, one for each semitone.

    ``ratios`` is empty for equal temperament.
    """

    name: str
    words: str
    ratios: tuple[Fraction, ...] = ()

    def cents(self, semitones: int) -> float:
        """Cents above the root of the note *semitones* above it (any octave, either way).

        >>> round(JUST_5.cents(4), 3), round(JUST_5.cents(-8), 3)
        (386.314, -813.686)
        """
        if not self.ratios:
            return 100.0 * semitones
        octaves, step = divmod(semitones, 12)
        return 1200.0 * (octaves + math.log2(self.ratios[step]))

    def hz(self, midi: int, root_class: int, reference_hz: float) -> float:
        """Frequency in Hz of *midi* where the root has pitch class *root_class*.

        The root itself stays at its equal-tempered place for *reference_hz*.
        """
        above = (midi - root_class) % 12
        return equal_hz(midi - above, reference_hz) * math.exp2(self.cents(above) / 1200)


def _ratios(text: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(word) for word in text.split())


EQUAL = Intonation("equal", "equal temperament")
# Thirds, fourths, fifths, sixths, 9/5 and 15/8: Ellis in Helmholtz, "On the Sensations
# of Tone", pp. 17 and 466-468.  16/15 and 45/32 complete the row (the diatonic semitone
# and the third over the major second).
JUST_5 = Intonation(
    "just5", "5-limit just intonation",
    _ratios("1 16/15 9/8 6/5 5/4 4/3 45/32 3/2 8/5 5/3 9/5 15/8"),
)  # fmt: skip
# The natural seventh 7/4 is in Ellis's table too; 7/6 and 7/5 are its fifth and its
# third below, the septimal minor third and flat five.
JUST_7 = Intonation(
    "just7", "7-limit just intonation",
    _ratios("1 16/15 9/8 7/6 5/4 4/3 7/5 3/2 8/5 5/3 7/4 15/8"),
)  # fmt: skip

INTONATIONS = {each.name: each for each in (EQUAL, JUST_5, JUST_7)}


def intonation_named(name: str) -> Intonation:
    """The intonation called *name*; ``InputError`` with the list when there is none."""
    try:
        return INTONATIONS[name]
    except KeyError:
        raise InputError(
            f'there is no intonation "{name}".{close_match(name, INTONATIONS)} '
            f"Choose from: {', '.join(INTONATIONS)}."
        ) from None
